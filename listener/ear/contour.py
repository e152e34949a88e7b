"""What a pitch contour says: its settled pitch, its net rise, its vibrato. Pure functions of points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from listener.ear.frames import HOP, RATE, Signal

PERIOD_S = 0.19  # a moving mean this long takes out movement of 5 to 6 Hz and dampens 3 to 9 Hz
EDGE_S = 0.024  # the frames next to an attack and to an end are blurred by it
STABLE_STEP = 0.12  # semitones within a frame's neighbourhood: what moves more is a glide
CLEAR, LEAST_CLEAR = 0.93, 4
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
    """The points that repeat well; all of them where too few do."""
    good = [p for p in points if p.clarity >= CLEAR]
    return good if len(good) >= LEAST_CLEAR else points


def pitches_of(points: list[Point]) -> Signal:
    return np.array([p.pitch for p in points])


def smoothed(pitches: Signal, seconds: float = PERIOD_S) -> Signal:
    """A centred moving mean whose window shrinks towards the ends."""
    width = max(1, round(seconds * RATE / HOP)) | 1
    half = min(width // 2, (len(pitches) - 1) // 2)
    if half < 1:
        return pitches
    total = np.concatenate(([0.0], np.cumsum(pitches)))
    at = np.arange(len(pitches))
    reach = np.minimum(np.minimum(at, len(pitches) - 1 - at), half)
    return np.asarray((total[at + reach + 1] - total[at - reach]) / (2 * reach + 1))


def settled_pitch(points: list[Point]) -> float:
    """The median of the stable part of the contour, periodic movement removed."""
    pitches = pitches_of(points)
    if len(pitches) < 4:
        return float(np.median(pitches))
    steps = np.abs(np.diff(pitches, prepend=pitches[0], append=pitches[-1]))
    moving = np.maximum(steps[:-1], steps[1:])
    calm = moving < STABLE_STEP
    if len(pitches) > 40 and vibrato_cents(points) >= VIBRATO_CENTS:
        pitches = smoothed(pitches)
    stable = pitches[calm] if int(calm.sum()) >= 4 else pitches
    return float(np.median(stable))


def rise_cents(points: list[Point]) -> float:
    """Median of the last third minus that of the first, after periodic movement of 3 to 9 Hz is removed."""
    if len(points) < 9:
        return 0.0
    pitches = pitches_of(points)
    if vibrato_cents(points) >= VIBRATO_CENTS:
        pitches = smoothed(pitches)
    third = len(pitches) // 3
    return 100.0 * float(np.median(pitches[-third:]) - np.median(pitches[:third]))


def vibrato_cents(points: list[Point]) -> float:
    """Amplitude of the periodic movement between 3 and 9 Hz in cents, 0 where the note is too short to tell."""
    if len(points) * HOP < VIBRATO_LEAST_S * RATE:
        return 0.0
    pitches = pitches_of(points)
    rest = pitches - smoothed(pitches, 0.25)
    rest = rest[len(rest) // 6 :]
    size = 1 << max(8, int(np.ceil(np.log2(len(rest) * 2))))
    window = np.hanning(len(rest) + 2)[1:-1]
    spectrum = np.abs(np.fft.rfft(rest * window, size)) * 2.0 / float(window.sum())
    hz = np.fft.rfftfreq(size, HOP / RATE)
    band = (hz >= VIBRATO_HZ[0]) & (hz <= VIBRATO_HZ[1])
    top = int(np.argmax(np.where(band, spectrum, 0.0)))
    crossings = int(np.count_nonzero(np.diff(np.signbit(rest - np.median(rest)))))
    seconds = len(rest) * HOP / RATE
    if not 2.0 * VIBRATO_HZ[0] * 0.7 <= crossings / seconds <= 2.0 * VIBRATO_HZ[1] * 1.5 or crossings < 3:
        return 0.0
    return 100.0 * float(spectrum[top])
