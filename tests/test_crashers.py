"""What fuzzing found, replayed: every input is read or refused with a place, in reasonable time.

A file of `fuzz/crashers` is named TARGET-what-it-was. The seeds of the fuzzer are replayed too, shortened and cut, so
that every target is met here.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from fuzz.seeds import seeds
from fuzz.targets import TARGETS

CRASHERS = sorted((Path(__file__).parent / "fuzz" / "crashers").glob("*-*"))


def test_there_are_crashers_to_replay() -> None:
    assert CRASHERS


@pytest.mark.parametrize("crasher", CRASHERS, ids=lambda path: path.name)
def test_a_crasher_of_the_past_is_read_or_refused(crasher: Path) -> None:
    TARGETS[crasher.name.partition("-")[0]](crasher.read_bytes())


@pytest.mark.parametrize("target", TARGETS)
def test_sound_inputs_and_cut_ones_are_read_or_refused(target: str) -> None:
    for seed in seeds(target):
        step = max(1, len(seed) // 100)
        for end in range(0, len(seed) + 1, step):
            TARGETS[target](seed[:end])
            TARGETS[target](seed[:end] + seed[end + 1 :])
