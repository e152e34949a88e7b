"""Pitch contours of a whole recording, measured where notes are known to be: many frames in one go.

The same normalised square difference and the same partials that the live ear measures hop by hop (McLeod and Wyvill,
"A smarter way to find pitch", ICMC 2005), as products over all frames of a note.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import fft

from listener.ear.features import Floats
from listener.ear.frames import HOP, LONG_FRAME, LONGEST_LAG, RATE, SHORT_FRAME, SHORTEST_LAG, Signal

SIZE = 1024  # of the transform of a frame: frame and longest lag fit
REACH = 0.64  # longest lag as a share of the frame
MULTIPLES, SAME_PERIOD = 8, 0.01  # whole multiples of a period that it is measured over, and how well they must agree
SPECTRUM, PARTIALS, HIGHEST_HZ = 4096, 8, 5000.0
LEAST_SOUND, MOST_SOUND = 1102, 2048  # samples that partials are measured on


@dataclass(frozen=True, slots=True)
class Trace:
    """Frames of one note: the sample at their middle, float MIDI at A4 = 440 Hz (NaN where none), how well the frame
    repeats."""

    centre: npt.NDArray[np.int64]
    pitch: Signal
    clarity: Signal

    def within(self, first: float, end: float) -> Trace:
        """The frames whose middle lies from `first` up to `end`."""
        a, b = np.searchsorted(self.centre, (first, end))
        return self.chosen(np.arange(a, b))

    def chosen(self, which: npt.NDArray[np.int64] | npt.NDArray[np.bool_]) -> Trace:
        return Trace(self.centre[which], self.pitch[which], self.clarity[which])


class Tracer:
    """Of one recording: float64 at the ear's rate."""

    def __init__(self, sound: Signal) -> None:
        self._pad, self._length = LONG_FRAME, len(sound)
        # single precision: an error of 1e-6 in a square difference is a thousandth of a sample in its peak
        self._sound = np.concatenate([np.zeros(self._pad), sound, np.zeros(self._pad + MOST_SOUND)]).astype(np.float32)

    def trace(self, first: int, end: int, low: float, high: float, quick: bool = False) -> Trace:
        """Frames that lie wholly in [first, end), one a hop, 29 ms long or, where `quick`, as short as the pitch
        allows (from 16 ms); at least one frame, which
        may reach beyond. The pitch is the highest peak between `low` and `high` (MIDI)."""
        size = min(LONG_FRAME, max(SHORT_FRAME, round(_lag(low) / REACH))) if quick else LONG_FRAME
        count = max(1, (min(end, self._length) - first - size) // HOP + 1)
        starts = first + HOP * np.arange(count)
        frames = np.lib.stride_tricks.sliding_window_view(self._sound, size)[self._pad + starts]
        lag, clarity = periods(square_differences(frames), _lag(high), min(_lag(low), REACH * size))
        pitch = np.full(count, np.nan)
        found = lag > 0
        pitch[found] = 69.0 + 12.0 * np.log2(RATE / lag[found] / 440.0)
        return Trace(starts + size // 2, pitch, clarity)

    def partials(self, first: int, end: int, midi: float, reach: float) -> Trace:
        """The pitch within `reach` semitones of `midi` among other strings: in each frame the weighted median of what
        the lowest partials say, each the top of a parabola through log power. Clarity is not told (1)."""
        end = min(end, self._length)
        size = min(MOST_SOUND, max(LEAST_SOUND, end - first))
        count = max(1, (end - first - size) // (2 * HOP) + 1)
        starts = first + 2 * HOP * np.arange(count)
        frames = np.lib.stride_tricks.sliding_window_view(self._sound, size)[self._pad + starts]
        spectrum = fft.rfft(frames * np.hanning(size).astype(np.float32), SPECTRUM, axis=1)
        magnitude = np.abs(spectrum)
        pitch = _from_partials(magnitude, midi, reach)
        return Trace(starts + size // 2, pitch, np.ones(count))

    def level_db(self, sample: int) -> float:
        """The peak level within 60 ms after an onset, over stretches of two hops."""
        part = self._sound[self._pad + sample : self._pad + sample + 12 * HOP].reshape(6, 2 * HOP)
        return 10.0 * float(np.log10(np.mean(part * part, axis=1).max() + 1e-12))


def square_differences(frames: Floats | Signal) -> Signal:
    """n(lag) of each row for lags 0 to LONGEST_LAG + 1: 1 where the frame repeats itself exactly."""
    frames = frames - frames.mean(axis=1, keepdims=True)
    longest, size = LONGEST_LAG + 1, frames.shape[1]
    spectrum = fft.rfft(frames, SIZE, axis=1)
    r = fft.irfft(spectrum.real**2 + spectrum.imag**2, SIZE, axis=1)[:, : longest + 1]
    energy = np.zeros((len(frames), size + 1), frames.dtype)
    np.cumsum(frames * frames, axis=1, out=energy[:, 1:])
    both = energy[:, size - longest :][:, ::-1] - energy[:, : longest + 1] + energy[:, size:] + 1e-12
    return np.asarray(2.0 * r / both)


def periods(n: Signal, shortest: float, longest: float) -> tuple[Signal, Signal]:
    """The lag of each row's highest peak between two lags (0 where there is none), measured again at its whole
    multiples, where the same error of a peak is a smaller share; and the height of the peak."""
    first, last = max(2, SHORTEST_LAG - 2, int(shortest)), min(int(longest) + 1, LONGEST_LAG)
    if first >= last:
        return np.zeros(len(n)), np.zeros(len(n))
    part = n[:, first : last + 1]
    peak = (part >= n[:, first - 1 : last]) & (part > n[:, first + 1 : last + 2])
    heights = np.where(peak, part, -2.0)
    at = first + np.argmax(heights, axis=1)
    lag, height = _vertices(n, at)
    found = (heights.max(axis=1, initial=-2.0) > -1.5) & (lag >= shortest) & (lag <= longest)
    rows, alive = np.arange(len(n)), found.copy()
    for multiple in range(2, MULTIPLES + 1):
        guess = np.round(multiple * lag).astype(int)
        alive &= guess + 2 <= LONGEST_LAG
        guess = np.where(alive, guess, 4)
        near = guess[:, None] + np.array([-1, 0, 1])
        top = near[rows, np.argmax(n[rows[:, None], near], axis=1)]
        alive &= (n[rows, top - 1] < n[rows, top]) & (n[rows, top] >= n[rows, top + 1])
        better = _vertices(n, top)[0] / multiple
        alive &= np.abs(better / np.maximum(lag, 1.0) - 1.0) <= SAME_PERIOD
        lag = np.where(alive, better, lag)
        if not alive.any():
            break
    return np.where(found, lag, 0.0), np.where(found, np.clip(height, 0.0, 1.0), 0.0)


def _vertices(n: Signal, at: npt.NDArray[np.int64]) -> tuple[Signal, Signal]:
    """The top of the parabola through three neighbours in each row."""
    rows = np.arange(len(n))
    before, here, after = n[rows, at - 1], n[rows, at], n[rows, at + 1]
    bend = np.minimum(before - 2.0 * here + after, -1e-12)
    shift = np.clip(0.5 * (before - after) / bend, -1.0, 1.0)
    return at + shift, here - 0.25 * (before - after) * shift


def _from_partials(magnitude: Signal, midi: float, reach: float) -> Signal:
    log = np.log(magnitude + 1e-9)
    base = 440.0 * 2.0 ** ((midi - 69.0) / 12.0) * SPECTRUM / RATE
    width, rows = 2.0 ** (reach / 12.0) - 1.0, np.arange(len(log))
    said, weight = list[Signal](), list[Signal]()
    for k in range(1, min(PARTIALS, int(HIGHEST_HZ * SPECTRUM / RATE / base)) + 1):
        centre = k * base
        wide = max(1.5, centre * width)
        first, last = max(1, round(centre - wide)), min(round(centre + wide), log.shape[1] - 2)
        top = first + np.argmax(log[:, first : last + 1], axis=1)
        before, here, after = log[rows, top - 1], log[rows, top], log[rows, top + 1]
        shift = np.clip(0.5 * (before - after) / np.minimum(before - 2.0 * here + after, -1e-9), -1.0, 1.0)
        off = 12.0 * np.log2((top + shift) / centre)
        good = (before <= here) & (after <= here) & (np.abs(off) <= reach)
        said.append(np.where(good, midi + off, np.nan))
        weight.append(np.where(good, k * np.sqrt(magnitude[rows, top]), 0.0))
    if not said:
        return np.full(len(log), np.nan)
    pitches, weights = np.array(said), np.array(weight)
    order = np.argsort(pitches, axis=0)
    weights = np.take_along_axis(weights, order, axis=0).cumsum(axis=0)
    middle = np.argmax(weights >= 0.5 * weights[-1], axis=0)
    return np.asarray(np.take_along_axis(pitches, order, axis=0)[middle, rows])


def _lag(midi: float) -> float:
    return float(RATE / (440.0 * 2.0 ** ((midi - 69.0) / 12.0)))
