"""What a pitch contour says: its settled pitch, its net rise, its vibrato. Pure functions of points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor, log2

import numpy as np
from scipy import fft

from listener.ear.frames import HOP, RATE, Signal

PERIOD_S = 0.19  # a moving mean this long takes out movement of 5 to 6 Hz and dampens 3 to 9 Hz
STABLE_STEP = 0.12  # semitones within a frame's neighbourhood: what moves more is a glide
CLEAR, LEAST_CLEAR, LEAST_SHARE = 0.93, 4, 0.33
VIBRATO_HZ = (3.0, 9.0)
VIBRATO_CENTS = 8.0  # amplitude from which periodic movement is called vibrato
VIBRATO_LEAST_S = 0.30


@dataclass(frozen=True, slots=True)
class Point:
    """One voiced frame of a note: the centre it was measured on, float MIDI, how well it repeats, its level."""

    sample: int
    pitch: float
    clarity: float
    level_db: float


def clear(points: list[Point]) -> list[Point]:
    """The points that repeat well; all of them where too few do, as in another instrument's sound."""
    good = [p for p in points if p.clarity >= CLEAR]
    return good if len(good) >= max(LEAST_CLEAR, LEAST_SHARE * len(points)) else points


def pitches_of(points: list[Point]) -> Signal:
    return np.array([p.pitch for p in points])


def smoothed(pitches: Signal, seconds: float = PERIOD_S) -> Signal:
    """A centred moving mean whose window shrinks towards the ends."""
    width = max(1, round(seconds * RATE / HOP)) | 1
    half = min(width // 2, (len(pitches) - 1) // 2)
    if half < 1:
        return pitches
    total = np.zeros(len(pitches) + 1)
    np.cumsum(pitches, out=total[1:])
    at = np.arange(len(pitches))
    reach = np.minimum(np.minimum(at, len(pitches) - 1 - at), half)
    return np.asarray((total[at + reach + 1] - total[at - reach]) / (2 * reach + 1))


def median(values: Sequence[float]) -> float:
    """Of one value or more; of the few that a contour has, sorting a list is the cheapest way."""
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle])


def _middle(values: Signal) -> float:
    """The median of an array."""
    ordered = np.sort(values)
    middle = len(ordered) // 2
    return float(ordered[middle] if len(ordered) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle]))


@dataclass(frozen=True, slots=True)
class Shape:
    """What a contour says: settled pitch (float MIDI), net rise in cents, vibrato amplitude in cents."""

    pitch: float
    rise_cents: float
    vibrato_cents: float


def shape_of(points: list[Point]) -> Shape:
    """All at once, since they share the movement that must be taken out."""
    pitches = pitches_of(points)
    vibrato = vibrato_cents(pitches)
    calmed = smoothed(pitches) if vibrato >= VIBRATO_CENTS else pitches
    return Shape(_settled_pitch(pitches, calmed), _rise_cents(calmed), vibrato)


def _settled_pitch(pitches: Signal, calmed: Signal) -> float:
    """The median of the stable part of the contour, periodic movement removed."""
    if len(pitches) < 4:
        return _middle(pitches)
    steps = np.zeros(len(pitches) + 1)
    np.abs(pitches[1:] - pitches[:-1], out=steps[1:-1])
    calm = np.maximum(steps[:-1], steps[1:]) < STABLE_STEP
    chosen = calmed if len(pitches) > 40 else pitches
    return _middle(chosen[calm] if int(np.count_nonzero(calm)) >= 4 else chosen)


def _rise_cents(calmed: Signal) -> float:
    """Median of the last third minus that of the first, after periodic movement of 3 to 9 Hz is removed."""
    if len(calmed) < 9:
        return 0.0
    third = len(calmed) // 3
    return 100.0 * (_middle(calmed[-third:]) - _middle(calmed[:third]))


def vibrato_cents(pitches: Signal) -> float:
    """Amplitude of the periodic movement between 3 and 9 Hz in cents, 0 where the note is too short to tell, or nowhere
    moves as far as the least vibrato does."""
    if len(pitches) * HOP < VIBRATO_LEAST_S * RATE:
        return 0.0
    rest = pitches - smoothed(pitches, 0.25)
    rest = rest[len(rest) // 6 :]
    if 200.0 * float(np.abs(rest).max()) < VIBRATO_CENTS:
        return 0.0  # no part of a movement can be twice as large as the whole
    seconds = len(rest) * HOP / RATE
    above = rest < _middle(rest)
    crossings = int(np.count_nonzero(above[1:] != above[:-1]))
    if not 2.0 * VIBRATO_HZ[0] * 0.7 <= crossings / seconds <= 2.0 * VIBRATO_HZ[1] * 1.5 or crossings < 3:
        return 0.0
    size = 1 << max(8, ceil(log2(len(rest) * 2)))
    first, last = ceil(VIBRATO_HZ[0] * size * HOP / RATE), floor(VIBRATO_HZ[1] * size * HOP / RATE)
    window, total = _hanning(len(rest))
    spectrum = fft.rfft(rest * window, size)[first : last + 1]
    return 100.0 * float(np.sqrt((spectrum.real**2 + spectrum.imag**2).max())) * 2.0 / total


@lru_cache(maxsize=32)  # the length of a note that sounds grows from one look to the next
def _hanning(length: int) -> tuple[Signal, float]:
    """A window without its zeros at both ends, and its sum."""
    window = np.hanning(length + 2)[1:-1]
    return window, float(window.sum())
