"""One hop of sound as the neural ear's decoder sees it: what the network says, and where to measure a chosen pitch.

The network names semitones; cents come from the normalised square difference of the last 29 or 16 ms near the period of
that semitone, or, where other strings sound too, from the partials.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import log2, log10, sqrt

import numpy as np
from scipy import fft

from listener.ear.attack import AttackDetector
from listener.ear.f0 import REACH, period_between, square_difference
from listener.ear.frames import HOP, LONG_FRAME, LONGEST_LAG, RATE, SHORT_FRAME, Attack, Frame, Signal, Tape, samples
from listener.ear.network import Heard
from listener.ear.ringing import Ringing

LEAST_SPAN = 200  # samples after an attack before a pitch is measured: 9 ms
ALONE, AMONG = 0.72, 0.93  # clarity from which the square difference is taken, of one string and among others
SPECTRUM = 4096
LEAST_SOUND, MOST_SOUND = samples(0.050), 2048  # how much of a note its partials are measured on
PARTIALS = 8
PARTIAL_CLARITY = 0.80  # said of a pitch that comes from partials
HIGHEST_HZ = 5000.0
BINS = 4 + int(HIGHEST_HZ * SPECTRUM / RATE * 2.0 ** (1.0 / 12.0))  # up to a semitone over the highest partial


@dataclass(frozen=True, slots=True)
class Pitch:
    """Float MIDI at A4 = 440 Hz, and how well the sound repeats there, 0 to 1."""

    midi: float
    clarity: float


@dataclass(frozen=True, slots=True)
class Moment:
    """`end` is the sample after the hop; `sound` the last MOST_SOUND samples, of which the last `span` and, for what
    moves, `quick_span` lie after the last attack.

    Most hops need no measurement, and several notes share one: square differences and spectra are made when first
    asked for, and kept.
    """

    end: int
    level_db: float
    attack: Attack | None
    heard: Heard
    span: int
    quick_span: int
    sound: Signal
    _differences: dict[int, Sequence[float] | None] = field(default_factory=dict, repr=False, compare=False)
    _spectra: dict[int, tuple[Signal, Signal]] = field(default_factory=dict, repr=False, compare=False)

    def near(self, midi: float, reach: float, onset: int, alone: bool, sure: bool = False) -> Pitch | None:
        """The pitch within `reach` semitones of `midi` of a note that began at `onset`, alone or among others; where it
        must be `sure`, only one that stands out among others."""
        found = _near(self._difference(self.span), self.span, midi, reach)
        if found is not None and found.clarity >= (ALONE if alone else AMONG):
            return found
        return None if sure else self._by_partials(midi, reach, min(MOST_SOUND, self.end - onset))

    def quick_near(self, midi: float, reach: float) -> Pitch | None:
        """The same from the shorter span."""
        return _near(self._difference(self.quick_span), self.quick_span, midi, reach)

    def frame(
        self, midi: float, reach: float, tuning: float, onset: int, alone: bool, sure: bool = False
    ) -> Frame | None:
        """What the hop tells of a note near `midi` (which counts from the player's A4), None where nothing repeats."""
        here = self.near(midi - tuning, reach, onset, alone, sure)
        if here is None:
            return None
        quick = self.quick_near(here.midi, 1.0) or Pitch(here.midi, 0.0)
        return Frame(
            end=self.end, level_db=self.level_db, attack=None,
            pitch=here.midi + tuning, clarity=here.clarity, span=self.span, centre=self.end - self.span // 2,
            quick_pitch=quick.midi + tuning, quick_clarity=quick.clarity, quick_centre=self.end - self.quick_span // 2,
            new_pitch=float("nan"), new_clarity=0.0, new_share=1.0,
        )  # fmt: skip

    def _by_partials(self, midi: float, reach: float, length: int) -> Pitch | None:
        """The weighted median of what the lowest partials say, each the top of a parabola through log power."""
        if length < LEAST_SOUND:
            return None
        spectrum, log = self._spectrum(length)
        base = 440.0 * 2.0 ** ((midi - 69.0) / 12.0) * SPECTRUM / RATE
        width = 2.0 ** (reach / 12.0) - 1.0
        said = list[tuple[float, float]]()  # pitch and weight
        for k in range(1, min(PARTIALS, int(HIGHEST_HZ * SPECTRUM / RATE / base)) + 1):
            centre = k * base
            wide = max(1.5, centre * width)
            first = max(1, round(centre - wide))
            part = log[first - 1 : round(centre + wide) + 2].tolist()
            at = max(part[1:-1])
            here = part.index(at, 1)
            top = first - 1 + here
            before, after = part[here - 1], part[here + 1]
            if before > at or after > at:
                continue
            shift = 0.5 * (before - after) / min(before - 2.0 * at + after, -1e-9)
            off = 12.0 * log2((top + shift) / centre)
            if abs(off) <= reach:
                said.append((midi + off, k * sqrt(float(spectrum[top]))))
        if not said:
            return None
        return Pitch(_weighted_median(said), PARTIAL_CLARITY)

    def _difference(self, span: int) -> Sequence[float] | None:
        """The normalised square difference of the last `span` samples, None where they are too few."""
        if span not in self._differences:
            self._differences[span] = _differences(self.sound[-span:]) if span >= LEAST_SPAN else None
        return self._differences[span]

    def _spectrum(self, length: int) -> tuple[Signal, Signal]:
        """The lowest BINS magnitudes of the last `length` samples, and their logarithms."""
        if length not in self._spectra:
            spectrum = fft.rfft(self.sound[-length:] * _hanning(length), SPECTRUM)[:BINS]
            magnitude = np.sqrt(spectrum.real**2 + spectrum.imag**2)
            self._spectra[length] = magnitude, np.log(magnitude + 1e-9)
        return self._spectra[length]


@lru_cache(maxsize=32)  # the length of a young note grows from hop to hop
def _hanning(length: int) -> Signal:
    return np.hanning(length)


def _differences(part: Signal) -> Sequence[float]:
    longest = min(LONGEST_LAG + 1, int(REACH * len(part)) + 1)
    values: list[float] = square_difference(part - float(part.sum()) / len(part), longest).tolist()
    return values


def _weighted_median(said: list[tuple[float, float]]) -> float:
    """Of values with their weights."""
    said = sorted(said)
    half, share = 0.5 * sum(weight for _, weight in said), 0.0
    for value, weight in said:
        share += weight
        if share >= half:
            return value
    return said[-1][0]


def _near(n: Sequence[float] | None, span: int, midi: float, reach: float) -> Pitch | None:
    if n is None:
        return None
    lag = RATE / (440.0 * 2.0 ** ((midi - 69.0) / 12.0))
    wide = 2.0 ** (reach / 12.0)
    found = period_between(n, lag / wide, lag * wide, min(LONGEST_LAG, int(REACH * span)))
    if found.lag <= 0.0:
        return None
    return Pitch(69.0 + 12.0 * log2(RATE / found.lag / 440.0), found.clarity)


class Sensing:
    """Hops in; keeps what is needed to measure pitches, and finds attacks."""

    def __init__(self) -> None:
        self._tape = Tape(2048)
        self._attacks = AttackDetector()
        self._ringing = Ringing()
        self._fresh_from = -LONG_FRAME

    def push(self, hop: Signal, heard: Heard) -> Moment:
        """`heard` is the network's word on the same hop."""
        self._tape.push(hop)
        self._ringing.push(hop)
        attack = self._attacks.push(hop)
        if attack is not None:
            attack = replace(attack, sample=self._ringing.foretell(attack.sample))
            self._fresh_from = attack.sample
        end = self._tape.end
        span = min(LONG_FRAME, end - self._fresh_from)
        sound = self._tape.last(MOST_SOUND).copy()
        recent = sound[-2 * HOP :]
        return Moment(
            end=end,
            level_db=10.0 * log10(float(np.dot(recent, recent)) / len(recent) + 1e-12),
            attack=attack,
            heard=heard,
            span=span,
            quick_span=min(span, SHORT_FRAME),
            sound=sound,
        )
