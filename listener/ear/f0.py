"""Fundamental frequency of one frame by the normalised square difference function.

McLeod and Wyvill, "A smarter way to find pitch", ICMC 2005: n(lag) = 2 r(lag) / m(lag), 1 where the frame repeats
itself exactly after `lag` samples; the first key maximum close to the highest one is the period.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import fft

Signal = npt.NDArray[np.float64]

FFT_SIZE = 1024
KEY_SHARE = 0.82  # the first peak at this share of the highest is the period: higher halves, lower doubles the pitch
REACH = 0.64  # longest lag as a share of the frame: beyond it too little of the frame is compared


@dataclass(frozen=True, slots=True)
class Period:
    """The period of a frame in samples (0 where none was found) and how well the frame repeats, 0 to 1."""

    lag: float
    clarity: float


NONE = Period(0.0, 0.0)


def square_difference(frame: Signal, longest: int) -> Signal:
    """n(lag) for lags 0 to `longest`; len(frame) + longest must fit FFT_SIZE."""
    spectrum = fft.rfft(frame, FFT_SIZE)
    power = spectrum.real**2 + spectrum.imag**2
    r = fft.irfft(power, FFT_SIZE)[: longest + 1]
    size = len(frame)
    energy = np.zeros(size + 1)
    np.cumsum(frame * frame, out=energy[1:])
    both = energy[size - longest :][::-1] - energy[: longest + 1]  # of the heads and the tails that are compared
    both += energy[size] + 1e-12
    r *= 2.0
    return np.asarray(r / both)


def find_period(frame: Signal, shortest: int, longest: int) -> Period:
    """The period between `shortest` and `longest` samples, refined over whole multiples that fit the frame."""
    size = len(frame)
    longest = min(longest, int(REACH * size))
    if longest <= shortest + 2:
        return NONE
    n = square_difference(frame - frame.mean(), longest + 1)
    below = np.flatnonzero(n[: longest + 1] <= 0.0)
    if len(below) == 0:
        return NONE
    start = max(int(below[0]), shortest)
    inner = n[start : longest + 1]
    peaks = np.flatnonzero((inner[1:-1] > inner[:-2]) & (inner[1:-1] >= inner[2:])) + 1 + start
    if len(peaks) == 0:
        return NONE
    before, here, after = n[peaks - 1], n[peaks], n[peaks + 1]
    # the top between samples: a short period falls beside them, and its double must not win by that alone
    heights = here + (before - after) ** 2 / (8.0 * np.maximum(2.0 * here - before - after, 1e-12))
    at = int(peaks[np.argmax(heights >= KEY_SHARE * heights.max())])
    values: list[float] = n.tolist()
    lag, height = _vertex(values, at)
    return Period(_refined(values, lag, longest), min(height, 1.0))


def _vertex(n: Sequence[float], at: int) -> tuple[float, float]:
    """The top of the parabola through three neighbours."""
    before, here, after = n[at - 1], n[at], n[at + 1]
    bend = before - 2.0 * here + after
    if bend >= 0.0:
        return float(at), here
    shift = 0.5 * (before - after) / bend
    return at + shift, here - 0.25 * (before - after) * shift


def _refined(n: Sequence[float], lag: float, longest: int) -> float:
    """The lag measured again at its highest usable multiple, where the same error of a peak is a smaller share."""
    multiple = 2
    best = lag
    while multiple <= 8 and round(multiple * best) + 1 <= longest:
        guess = round(multiple * best)
        at = max(range(guess - 1, guess + 2), key=n.__getitem__)
        if at + 1 > longest or not n[at - 1] < n[at] >= n[at + 1]:
            break
        top, _ = _vertex(n, at)
        if abs(top / multiple / best - 1.0) > 0.01:
            break
        best = top / multiple
        multiple += 1
    return best


def period_between(n: Sequence[float], low: float, high: float, longest: int) -> Period:
    """The highest peak of a square difference `n` between two lags, refined as in `find_period`; NONE without one.

    `n` is a plain list: so few values are looked at that an array would cost more than it saves.
    """
    first, last = max(2, int(low)), min(int(high) + 1, longest - 1, len(n) - 2)
    part = n[first - 1 : last + 2]
    at, most = 0, -2.0
    for i in range(1, len(part) - 1):
        here = part[i]
        if here > most and part[i - 1] <= here > part[i + 1]:
            at, most = first - 1 + i, here
    if at == 0:
        return NONE
    lag, height = _vertex(n, at)
    return Period(_refined(n, lag, longest), min(height, 1.0)) if low <= lag <= high else NONE
