"""The parts of the ear that are written for speed, against plain definitions, other libraries and physics."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from listener.ear import features as f
from listener.ear.f0 import square_differences
from listener.ear.frames import Tape
from listener.ear.resample import low_pass
from listener.ear.ringing import predictor

Sound = npt.NDArray[np.float64]


@given(st.lists(st.integers(200, 640), min_size=1, max_size=4), st.integers(0, 2**32 - 1))
def test_square_differences_follow_their_definition(sizes: list[int], seed: int) -> None:
    frames = [np.random.default_rng(seed + i).standard_normal(size).cumsum() for i, size in enumerate(sizes)]
    longest = [min(int(0.64 * size), 384) for size in sizes]  # at most 1024 samples together
    for n, frame, last in zip(square_differences(frames, longest), frames, longest, strict=True):
        x = frame - frame.mean()
        assert len(n) == last + 1
        for lag in (0, 1, last // 2, last):
            # McLeod and Wyvill, "A smarter way to find pitch", ICMC 2005, equations 5 to 9
            head, tail = x[: len(x) - lag], x[lag:]
            assert n[lag] == pytest.approx(2.0 * head @ tail / (head @ head + tail @ tail), abs=1e-9)


@pytest.mark.parametrize(
    ("cutoff", "window"), [(0.45, ("hamming", 31)), (0.45, ("kaiser", 49)), (0.003, ("kaiser", 7681))]
)
def test_low_passes_are_those_of_scipy(cutoff: float, window: tuple[str, int]) -> None:
    name, size = window
    values = np.hamming(size) if name == "hamming" else np.kaiser(size, 8.0)
    expected = signal.firwin(size, cutoff, window="hamming" if name == "hamming" else ("kaiser", 8.0))
    np.testing.assert_allclose(low_pass(cutoff, values), expected, atol=1e-12)


def test_strings_that_ring_on_are_foretold() -> None:
    at = np.arange(2500) / 11025.0
    strings = sum(
        np.exp(-at * 2.0 * k) * np.sin(2 * np.pi * hz * k * at) / k for hz in (110.0, 164.8) for k in range(1, 6)
    )
    assert isinstance(strings, np.ndarray)
    strings += 1e-5 * np.random.default_rng(1).standard_normal(len(at))
    model = predictor(strings[:900], 120)
    errors = np.convolve(strings, model, mode="valid")[900:]  # of what it was not made of
    assert np.sum(errors**2) < 1e-4 * np.sum(strings[1020:] ** 2)


@given(st.lists(st.integers(1, 200), min_size=1, max_size=80))
def test_a_view_of_the_tape_stays_what_it_was(hops: list[int]) -> None:
    tape, heard = Tape(256), np.zeros(256)
    taken: list[tuple[Sound, Sound]] = []
    for i, size in enumerate(hops):
        hop = np.random.default_rng(i).standard_normal(size)
        tape.push(hop)
        heard = np.concatenate([heard, hop])
        taken.append((tape.last(256), heard[-256:]))
    assert tape.end == sum(hops)
    assert all((view == kept).all() for view, kept in taken)


def test_features_are_those_of_each_frame_alone_in_double_precision() -> None:
    rng = np.random.default_rng(2)
    sound = 0.3 * np.sin(2 * np.pi * 196.0 / f.RATE * np.arange(f.LONG + f.HOP)) + 0.01 * rng.standard_normal(
        f.LONG + f.HOP
    )
    tapes = np.stack([sound[: f.LONG], sound[f.HOP :]]).astype(np.float32)
    seen = f.Features().see(tapes)
    grid, lags = f.grid_midi(), f.lag_midi()
    for tape, flat, bands in zip(tapes.astype(np.float64), seen.flat, seen.bands, strict=True):
        long, mid, short = (
            np.abs(np.fft.rfft(tape[-len(window) :] * window, size)) ** 2
            for window, size in (
                (f.asymmetric_window(f.LONG, f.LONG_BACK), f.LONG),
                (f.asymmetric_window(f.MID, f.MID_BACK), f.MID_FFT),
                (f.asymmetric_window(f.SHORT, f.SHORT // 2), f.SHORT),
            )
        )
        parts = [
            0.5 * np.log10(f.pitch_matrix(f.LONG, grid, 440.0) @ long + f.POWER_FLOOR) + 3.0,
            0.5 * np.log10(f.pitch_matrix(f.MID_FFT, grid, 440.0) @ mid + f.POWER_FLOOR) + 3.0,
        ]
        for power, size in ((long, f.LONG), (mid, f.MID_FFT)):
            repeats = np.fft.irfft((power + f.COMPRESSED_FLOOR) ** f.COMPRESSION * f.roll_off(size), size)
            parts.append(f.lag_matrix(size, lags, 440.0) @ repeats[: size // 2 + 1] * (f.LAG_SCALE / repeats[0]))
        np.testing.assert_allclose(flat, np.concatenate(parts), atol=1e-4)
        told = [f.band_matrix(f.SHORT, f.SHORT_BANDS) @ short, f.band_matrix(f.MID_FFT, f.BROAD_BANDS) @ mid]
        np.testing.assert_allclose(bands, 0.5 * np.log10(np.concatenate(told) + f.POWER_FLOOR) + 3.0, atol=1e-4)
