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
REACH = 0.64  # longest lag as a share of the frame: beyond it too little of the frame is compared


@dataclass(frozen=True, slots=True)
class Period:
    """The period of a frame in samples (0 where none was found) and how well the frame repeats, 0 to 1."""

    lag: float
    clarity: float


NONE = Period(0.0, 0.0)


def square_differences(frames: Sequence[Signal], longest: Sequence[int]) -> list[Signal]:
    """Of each frame n(lag) for lags 0 to its `longest`; the two together must fit FFT_SIZE. Two frames take hardly
    longer than one."""
    padded = np.zeros((len(frames), FFT_SIZE))
    for row, frame in zip(padded, frames, strict=True):
        np.subtract(frame, float(np.add.reduce(frame)) / len(frame), out=row[: len(frame)])
    spectra = fft.rfft(padded)
    n = fft.dct(spectra.real**2 + spectra.imag**2, type=1)[:, : max(longest) + 1]  # of an even spectrum: its transform
    n *= 2.0 / FFT_SIZE
    # the energy of what is compared: with every lag a sample less at either end
    padded *= padded
    lost = np.zeros((len(n), max(longest)))
    for out, squares, frame, last in zip(lost, padded, frames, longest, strict=True):
        np.add(squares[:last], squares[len(frame) - last : len(frame)][::-1], out=out[:last])
    energy = n[:, :1] + 1e-12
    n[:, :1] /= energy
    n[:, 1:] /= energy - np.cumsum(lost, axis=1)
    return [row[: last + 1] for row, last in zip(n, longest, strict=True)]


def _vertex(around: Sequence[float], at: int) -> tuple[float, float]:
    """The top of the parabola through three neighbours, the middle one at lag `at`."""
    before, here, after = around
    bend = before - 2.0 * here + after
    if bend >= 0.0:
        return float(at), here
    shift = 0.5 * (before - after) / bend
    return at + shift, here - 0.25 * (before - after) * shift


def _refined(n: Signal, lag: float, longest: int) -> float:
    """The lag measured again at its highest usable multiple, where the same error of a peak is a smaller share."""
    best = lag
    for multiple in range(2, 9):
        guess = round(multiple * best)
        if guess + 1 > longest:
            break
        part = n[guess - 2 : guess + 3].tolist()
        top = max((1, 2, 3), key=part.__getitem__)
        at = guess - 2 + top
        if at + 1 > longest or not part[top - 1] < part[top] >= part[top + 1]:
            break
        found, _ = _vertex(part[top - 1 : top + 2], at)
        if abs(found / multiple / best - 1.0) > 0.01:
            break
        best = found / multiple
    return best


def period_between(n: Signal, low: float, high: float, longest: int) -> Period | None:
    """The highest peak of a square difference `n` between two lags, refined as in `find_period`; None without one."""
    first, last = max(2, int(low)), min(int(high) + 1, longest - 1, len(n) - 2)
    part = n[first - 1 : last + 2].tolist()  # so few values are looked at that a list costs less than an array
    at, most = 0, -2.0
    for i in range(1, len(part) - 1):
        here = part[i]
        if here > most and part[i - 1] <= here > part[i + 1]:
            at, most = i, here
    if at == 0:
        return None
    lag, height = _vertex(part[at - 1 : at + 2], first - 1 + at)
    return Period(_refined(n, lag, longest), min(height, 1.0)) if low <= lag <= high else None
