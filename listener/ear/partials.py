"""Where the lowest partials of a note stand: its pitch where other strings sound too, from spectra of hops that came
together."""

from __future__ import annotations

from functools import lru_cache
from math import log, log2

import numpy as np
from scipy import fft

from listener.ear.frames import RATE, Signal, samples

MOST_HOPS = 2
SPECTRUM = 4096
LEAST_SOUND, MOST_SOUND = samples(0.050), 2048  # how much of a note its partials are measured on
PARTIALS = 8
HIGHEST_HZ = 5000.0
TINY = 1e-18  # power below which no logarithm is taken
BINS = 4 + int(HIGHEST_HZ * SPECTRUM / RATE * 2.0 ** (1.0 / 12.0))  # up to a semitone over the highest partial


class Spectra:
    """Of up to MOST_HOPS hops: the power of the lowest BINS bins of a note, from its onset on.

    Made when first asked for, and then for the other hop as well, at which the note most likely still sounds: two
    transforms take little longer than one.
    """

    def __init__(self) -> None:
        self._ends: list[int] = []
        self._sounds: list[Signal] = []
        self._made: dict[int, Signal] = {}

    def add(self, end: int, sound: Signal) -> int:
        """Takes in a hop, `sound` the MOST_SOUND samples before `end`. Returns its number, by which to ask for it."""
        self._ends.append(end)
        self._sounds.append(sound)
        return len(self._ends) - 1

    def power(self, hop: int, onset: int) -> Signal | None:
        """Of a note that began at `onset`, as heard up to the end of hop number `hop`; None where that is too short."""
        if self._ends[hop] - onset < LEAST_SOUND:
            return None
        onset = max(onset, self._ends[0] - MOST_SOUND)  # an older one is heard no further back
        if onset not in self._made:
            # always as many rows, so that the way in which the stream is cut does not touch a bit of the result
            rows = np.zeros((MOST_HOPS, SPECTRUM))
            for row, end, sound in zip(rows, self._ends, self._sounds, strict=False):
                length = min(MOST_SOUND, end - onset)
                if length >= LEAST_SOUND:
                    np.multiply(sound[-length:], _hanning(length), out=row[:length])
            spectra = fft.rfft(rows)[:, :BINS]
            self._made[onset] = spectra.real**2 + spectra.imag**2
        power: Signal = self._made[onset][hop]
        return power


def pitch_of(power: Signal, midi: float, reach: float) -> float | None:
    """The pitch within `reach` semitones of `midi`, float MIDI: the weighted median of what the lowest partials say,
    each the top of a parabola through log power."""
    base = 440.0 * 2.0 ** ((midi - 69.0) / 12.0) * SPECTRUM / RATE
    width = 2.0 ** (reach / 12.0) - 1.0
    said = list[tuple[float, float]]()  # pitch and weight
    for k in range(1, min(PARTIALS, int(HIGHEST_HZ * SPECTRUM / RATE / base)) + 1):
        centre = k * base
        wide = max(1.5, centre * width)
        first = max(1, round(centre - wide))
        part = power[first - 1 : round(centre + wide) + 2].tolist()
        most = max(part[1:-1])
        here = part.index(most, 1)
        if part[here - 1] > most or part[here + 1] > most:
            continue
        before, at, after = log(part[here - 1] + TINY), log(most + TINY), log(part[here + 1] + TINY)
        shift = 0.5 * (before - after) / min(before - 2.0 * at + after, -1e-9)
        off = 12.0 * log2((first - 1 + here + shift) / centre)
        if abs(off) <= reach:
            said.append((midi + off, k * most**0.25))  # the root of the magnitude
    return _weighted_median(said) if said else None


@lru_cache(maxsize=32)  # the length of a young note grows from hop to hop
def _hanning(length: int) -> Signal:
    half = 0.5 - 0.5 * np.cos(2.0 * np.pi / (length - 1) * np.arange((length + 1) // 2))
    return np.concatenate((half, half[: length // 2][::-1]))


def _weighted_median(said: list[tuple[float, float]]) -> float:
    """Of values with their weights."""
    said = sorted(said)
    half, share = 0.5 * sum(weight for _, weight in said), 0.0
    for value, weight in said:
        share += weight
        if share >= half:
            return value
    return said[-1][0]
