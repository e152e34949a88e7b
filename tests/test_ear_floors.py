"""A small fixed part of tests/benchmark.py: short rendered lines, clean, in a room, under the band and driven hard.

The truth is exact because the lines are played with recorded single notes (bench.line); the pitches of the truth are
checked against librosa here. Notes are matched by mir_eval. The single notes are cut out of the shipped recordings;
where BLUETHIRD_DATA names the folder of outside recordings, a second guitar, `strat_notes`, is played as well.
"""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import librosa
import numpy as np
import pytest

from bench.bank import Instrument, from_folder, from_recordings
from bench.clip import GESTURE, Clip, TrueNote
from bench.hearers import HeardNote, ear
from bench.render import rendered
from bench.tally import Tally, measures, score_clip
from listener.ear.kinds import EARS

SEED, SECONDS, SOLOS = 11, 4.5, 2
GESTURES = ("bend", "repeat", "ring", "dead")
CONDITIONS = ("clean", "room", "bleed", "hard")
GRACE = 1.5  # points that a floor lies below what was measured
# What was measured, in per cent: note F1 and agreement of pitch class, a miss counting as wrong.
MEASURED = {
    ("live", "shipped"): {
        "clean": (100.0, 100.0),
        "room": (100.0, 100.0),
        "bleed": (100.0, 100.0),
        "hard": (98.3, 96.5),
    },
    ("live", "strat"): {"clean": (99.4, 100.0), "room": (98.3, 97.6), "bleed": (96.6, 97.6), "hard": (94.3, 94.1)},
    ("early", "shipped"): {
        "clean": (100.0, 100.0),
        "room": (100.0, 100.0),
        "bleed": (100.0, 100.0),
        "hard": (98.3, 96.5),
    },
    ("early", "strat"): {"clean": (100.0, 100.0), "room": (98.3, 97.6), "bleed": (96.6, 97.6), "hard": (94.3, 94.1)},
    ("review", "shipped"): {"clean": (98.3, 98.8), "room": (98.3, 98.8), "bleed": (98.3, 98.8), "hard": (98.9, 98.8)},
    ("review", "strat"): {"clean": (96.6, 96.5), "room": (98.3, 98.8), "bleed": (96.0, 96.5), "hard": (96.0, 96.5)},
}


@cache
def instrument(name: str) -> Instrument:
    if name == "shipped":
        return from_recordings("clean")
    data = os.environ.get("BLUETHIRD_DATA")
    if not data:
        pytest.skip("BLUETHIRD_DATA does not name the folder of outside recordings")
    return from_folder(Path(data) / "strat_notes", SEED)


@cache
def clips(name: str) -> tuple[Clip, ...]:
    return tuple(rendered(instrument(name), SEED, SECONDS, SOLOS, GESTURES, CONDITIONS))


def test_every_ear_has_its_floors() -> None:
    assert {name for name, _ in MEASURED} == set(EARS)


@pytest.mark.slow
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize(("name", "guitar"), MEASURED)
def test_rendered_lines_are_heard_above_their_floors(name: str, guitar: str, condition: str) -> None:
    listening, total = ear(name), Tally()
    for clip in clips(guitar):
        if clip.condition == condition:
            total.add(score_clip(clip, listening.listen(clip.samples, clip.rate)))
    row = measures(total)
    f1, agreement = row["f1"] or 0.0, row["agreement"] or 0.0
    print(f'{name}, {guitar}: "{condition}": ({f1:.1f}, {agreement:.1f}), of {row["notes"]} notes')
    least_f1, least_agreement = MEASURED[name, guitar][condition]
    assert f1 >= least_f1 - GRACE
    assert agreement >= least_agreement - GRACE


@pytest.mark.parametrize("guitar", ["shipped", "strat"])
def test_what_the_truth_says_is_what_sounds(guitar: str) -> None:
    """The pitch in the middle of a plain picked note, by librosa's yin (de Cheveigné and Kawahara, 2002)."""
    (clip,) = rendered(instrument(guitar), SEED, 8.0, 0, ("arpeggio",), ("clean",))
    off = []
    for note in clip.notes:
        assert note.midi is not None
        middle = clip.samples[round((note.onset_s + 0.03) * clip.rate) : round((note.offset_s - 0.02) * clip.rate)]
        if len(middle) >= 4096:
            hz = librosa.yin(middle, fmin=70, fmax=1400, sr=clip.rate, frame_length=2048, center=False)
            off.append(abs(100 * (librosa.hz_to_midi(float(np.median(hz))) - note.midi)))
    assert len(off) >= 15
    assert np.median(off) < 4.0  # yin's own error on a decaying string is a few cents
    assert np.quantile(off, 0.9) < 15.0


def test_short_and_dead_notes_count_as_the_rules_say() -> None:
    """By hand: a note under 40 ms is neither right nor wrong, a dead note that is told a pitch is extra."""
    notes = (
        TrueNote(0.50, 0.80, 60.0),
        TrueNote(1.00, 1.03, 61.0, "passed", True),
        TrueNote(1.03, 1.40, 62.0, "slide", True),
        TrueNote(2.00, 2.05, None, "dead"),
        TrueNote(3.00, 3.40, 64.0),
        TrueNote(4.00, 4.40, 65.0),
        TrueNote(5.00, 5.40, 67.0),
    )
    heard = [
        HeardNote(0.52, 0.80, 60.1),
        HeardNote(0.97, 1.02, 61.0),  # the fret passed: forgiven
        HeardNote(1.04, 1.40, 62.0),
        HeardNote(2.01, 2.10, 55.0),  # the dead note
        HeardNote(3.00, 3.40, 76.0),  # an octave above
        HeardNote(4.00, 4.40, 66.0),  # a wrong pitch
        HeardNote(5.60, 5.90, 67.0),  # a miss, and a note where there is none
    ]
    sound = np.zeros(6000, np.float32)
    row = measures(score_clip(Clip("line", f"{GESTURE}x", "clean", 1000, sound, notes, ((0.0, 6.0),)), heard))
    assert row["notes"] == 5
    assert row["f1"] == pytest.approx(100 * 2 * 2 / (5 + 6), abs=0.01)
    assert (row["agreement"], row["octave_errors"], row["wrong_pitches"]) == (60.0, 20.0, 20.0)
    assert row["extra_per_minute"] == 20.0  # two in six seconds
    assert row["dead_told_a_pitch"] == 100.0
