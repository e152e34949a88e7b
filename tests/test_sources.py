"""A recording is heard as it is, or refused in one sentence. Files are written by libsndfile and the `wave` module."""

from __future__ import annotations

import itertools
import struct
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import InputFileError
from listener.events import Block
from listener.level import SignalMeter
from listener.sources.arrays import ArraySource
from listener.sources.files import FileSource
from listener.sources.protocol import Source

RATE = 48000


def sine(hz: float, seconds: float, rate: int = RATE, level: float = 0.5) -> np.ndarray:
    return (level * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate)) / rate)).astype(np.float32)


def heard(source: Source) -> np.ndarray:
    """All samples of a source, after checking that each block starts where the one before ended."""
    blocks: list[Block] = list(source.blocks())
    for before, after in itertools.pairwise(blocks):
        assert after.start_sample == before.start_sample + len(before.samples)
    return np.concatenate([block.samples for block in blocks])


def written(path: Path, samples: np.ndarray, rate: int = RATE, **how: str) -> Path:
    soundfile.write(path, samples, rate, **how)
    return path


@pytest.mark.parametrize(
    ("name", "subtype", "rate", "within"),
    [
        ("8bit.wav", "PCM_U8", 22050, 2**-7),
        ("24bit.flac", "PCM_24", 192000, 2**-22),
        ("float.wav", "FLOAT", 44100, 0.0),
    ],
)
def test_every_width_and_rate_is_heard_as_written(
    tmp_path: Path, name: str, subtype: str, rate: int, within: float
) -> None:
    samples = sine(196.0, 0.5, rate)
    source = FileSource(written(tmp_path / name, samples, rate, subtype=subtype), block=777)
    assert source.rate == rate
    assert np.abs(heard(source) - samples).max() <= within


def test_the_loudest_channel_is_heard_unless_one_is_named(tmp_path: Path) -> None:
    quiet, loud = sine(110.0, 0.3, level=0.1), sine(220.0, 0.3, level=0.4)
    path = written(tmp_path / "stereo.wav", np.stack([quiet, loud], axis=1), subtype="FLOAT")
    assert np.array_equal(heard(FileSource(path)), loud)
    assert np.array_equal(heard(FileSource(path, channel=1)), quiet)
    with pytest.raises(InputFileError, match="no channel 3: it has 2"):
        FileSource(path, channel=3)


def test_latency_is_taken_off_the_index_and_off_nothing_else(tmp_path: Path) -> None:
    samples = sine(110.0, 0.2)
    path = written(tmp_path / "take.wav", samples, subtype="FLOAT")
    for source in (FileSource(path, latency_samples=960), ArraySource(samples, RATE, latency_samples=960)):
        assert next(iter(source.blocks())).start_sample == -960
        assert np.array_equal(heard(source), samples)


@given(block=st.integers(1, 5000))
def test_any_block_size_hands_out_the_same_samples(block: int) -> None:
    samples = sine(330.0, 0.1)
    assert np.array_equal(heard(ArraySource(samples, RATE, block=block)), samples)


def test_a_silent_and_a_clipped_recording_say_so(tmp_path: Path) -> None:
    silent = FileSource(written(tmp_path / "silent.wav", np.zeros(RATE, np.float32)))
    assert silent.signal.is_all_zero
    assert silent.signal.is_silent
    clipped = FileSource(written(tmp_path / "clipped.wav", np.clip(sine(110.0, 1.0, level=2.0), -1, 1)))
    # a sine of twice full scale lies beyond it for 2/3 of the time (arcsin 1/2 is 30 degrees)
    assert clipped.signal.clipped_share == pytest.approx(2 / 3, abs=0.02)
    clean = FileSource(written(tmp_path / "clean.wav", sine(110.0, 1.0, level=0.9)))
    assert clipped.signal.is_clipped
    assert not clean.signal.is_clipped
    # the RMS of a sine is its peak divided by the root of two
    assert clean.signal.peak_db - clean.signal.rms_db == pytest.approx(3.01, abs=0.02)


@given(cuts=st.lists(st.integers(1, 4000), max_size=6))
def test_the_summary_does_not_depend_on_the_blocks(cuts: list[int]) -> None:
    samples = np.clip(sine(82.4, 0.1, level=1.4), -1, 1)
    whole, parts = SignalMeter(), SignalMeter()
    whole.push(samples)
    for part in np.split(samples, sorted(cuts)):
        parts.push(part)
    assert parts.signal().clipped_share == whole.signal().clipped_share
    assert parts.signal().peak == whole.signal().peak
    assert parts.signal().rms == pytest.approx(whole.signal().rms)


def test_what_cannot_be_heard_is_refused_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "empty.wav").touch()
    (tmp_path / "text.wav").write_text("these are words\n")
    with wave.open(str(tmp_path / "none.wav"), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
    (tmp_path / "head.wav").write_bytes((tmp_path / "none.wav").read_bytes()[:30])
    written(tmp_path / "one.wav", np.ones(1, np.float32))
    broken = sine(110.0, 1.0)
    broken[RATE // 4] = np.nan
    written(tmp_path / "nan.wav", broken, subtype="FLOAT")
    broken[RATE // 4] = np.inf
    written(tmp_path / "inf.wav", broken, subtype="FLOAT")
    cases = {
        "missing.wav": "there is no file",
        ".": "is a folder",
        "empty.wav": "is empty: 0 bytes",
        "text.wav": "is no recording that can be read",
        "head.wav": "is no recording that can be read",
        "none.wav": "holds no sound",
        "one.wav": "too short: it holds one sample",
        "nan.wav": r"the sample at 0\.250 s is no number",
        "inf.wav": r"the sample at 0\.250 s is no number",
    }
    for name, sentence in cases.items():
        with pytest.raises(InputFileError, match=sentence) as refused:
            FileSource(tmp_path / name)
        assert "\n" not in str(refused.value)


def test_a_recording_that_is_cut_off_is_heard_to_its_end_and_then_said(tmp_path: Path) -> None:
    samples = sine(110.0, 2.0)
    for name in ("cut.wav", "cut.flac"):
        path = written(tmp_path / name, samples, subtype="PCM_16")
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
        source = FileSource(path)
        parts: list[np.ndarray] = []
        with pytest.raises(InputFileError, match=r"cut off: its header promises 2\.0 s"):
            parts.extend(block.samples for block in source.blocks())
        got = np.concatenate(parts)
        assert 0.3 * RATE < len(got) < 1.5 * RATE
        assert np.abs(got - samples[: len(got)]).max() <= 2**-14


def test_a_wav_of_unknown_length_is_heard_whole(tmp_path: Path) -> None:
    # streaming writers leave 0xFFFFFFFF as the size of the data: the file's own length counts
    path = written(tmp_path / "stream.wav", sine(110.0, 0.5), subtype="PCM_16")
    data = bytearray(path.read_bytes())
    place = data.index(b"data") + 4
    data[place : place + 4] = struct.pack("<I", 0xFFFFFFFF)
    path.write_bytes(data)
    assert len(heard(FileSource(path))) == RATE // 2


def test_an_array_of_another_shape_is_refused() -> None:
    with pytest.raises(InputFileError, match=r"shape \(2, 3\)"):
        ArraySource(np.zeros((2, 3)), RATE)
    with pytest.raises(InputFileError, match=r"no number at 0\.500 s"):
        ArraySource(np.array([0.0, np.nan]), 2)
