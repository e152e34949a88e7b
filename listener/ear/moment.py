"""One hop of sound as the neural ear's decoder sees it: what the network says, and where to measure a chosen pitch.

The network names semitones; cents come from the normalised square difference of the last 29 or 16 ms near the period of
that semitone, or, where other strings sound too, from the partials.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import log2, log10

import numpy as np

from listener.ear.attack import AttackDetector
from listener.ear.f0 import REACH, period_between
from listener.ear.frames import HOP, LONG_FRAME, LONGEST_LAG, RATE, SHORT_FRAME, Attack, Frame, Signal, Tape
from listener.ear.network import Heard
from listener.ear.partials import MOST_SOUND, Spectra, pitch_of
from listener.ear.repeats import LEAST_SPAN, Repeats
from listener.ear.ringing import Ringing

ALONE, AMONG = 0.72, 0.93  # clarity from which the square difference is taken, of one string and among others
PARTIAL_CLARITY = 0.80  # said of a pitch that comes from partials


@dataclass(frozen=True, slots=True)
class Pitch:
    """Float MIDI at A4 = 440 Hz, and how well the sound repeats there, 0 to 1."""

    midi: float
    clarity: float


@dataclass(frozen=True, slots=True)
class Moment:
    """`end` is the sample after the hop; the last `span` samples and, for what moves, `quick_span` lie after the last
    attack.

    Most hops need no measurement, and several notes share one: square differences and spectra, which it shares with the
    hop that came together with it, are made when first asked for, and kept.
    """

    end: int
    level_db: float
    attack: Attack | None
    heard: Heard
    span: int
    quick_span: int
    _repeats: Repeats = field(repr=False, compare=False)
    _spectra: Spectra = field(repr=False, compare=False)
    _hop: int = field(repr=False, compare=False)  # its number among those of both

    def near(self, midi: float, reach: float, onset: int, alone: bool, sure: bool = False) -> Pitch | None:
        """The pitch within `reach` semitones of `midi` of a note that began at `onset`, alone or among others; where it
        must be `sure`, only one that stands out among others."""
        found = self._repeating(0, self.span, midi, reach)
        if found is not None and found.clarity >= (ALONE if alone else AMONG):
            return found
        power = None if sure else self._spectra.power(self._hop, onset)
        pitch = None if power is None else pitch_of(power, midi, reach)
        return None if pitch is None else Pitch(pitch, PARTIAL_CLARITY)

    def quick_near(self, midi: float, reach: float) -> Pitch | None:
        """The same from the shorter span."""
        return self._repeating(1, self.quick_span, midi, reach)

    def _repeating(self, which: int, span: int, midi: float, reach: float) -> Pitch | None:
        """Where the last `span` samples repeat themselves best."""
        if span < LEAST_SPAN:
            return None
        lag, wide = RATE / (440.0 * 2.0 ** ((midi - 69.0) / 12.0)), 2.0 ** (reach / 12.0)
        n = self._repeats.difference(self._hop, which)
        found = period_between(n, lag / wide, lag * wide, min(LONGEST_LAG, int(REACH * span)))
        return None if found is None else Pitch(69.0 + 12.0 * log2(RATE / found.lag / 440.0), found.clarity)

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
        )  # fmt: skip


class Sensing:
    """Hops in; keeps what is needed to measure pitches, and finds attacks."""

    def __init__(self) -> None:
        self._tape = Tape(2048)
        self._attacks = AttackDetector()
        self._ringing = Ringing()
        self._fresh_from = -LONG_FRAME

    def push(self, hops: Sequence[Signal], heard: Sequence[Heard]) -> list[Moment]:
        """One hop or two; `heard` is the network's word on the same hops."""
        repeats, spectra, attacks = Repeats(), Spectra(), self._attacks.push(hops)
        moments = []
        for hop, said, attack in zip(hops, heard, attacks, strict=True):
            attack, span = self._take(hop, attack)
            end, sound, quick_span = self._tape.end, self._tape.last(MOST_SOUND), min(span, SHORT_FRAME)
            repeats.add(sound, (span, quick_span))
            number = spectra.add(end, sound)
            level_db = _level_db(sound[-2 * HOP :])
            moments.append(Moment(end, level_db, attack, said, span, quick_span, repeats, spectra, number))
        return moments

    def _take(self, hop: Signal, attack: Attack | None) -> tuple[Attack | None, int]:
        """A hop: its attack, put in its place, and how many samples there are since the last one."""
        self._tape.push(hop)
        self._ringing.push(hop)
        if attack is not None:
            attack = replace(attack, sample=self._ringing.foretell(attack.sample))
            self._fresh_from = attack.sample
        return attack, min(LONG_FRAME, self._tape.end - self._fresh_from)


def _level_db(recent: Signal) -> float:
    return 10.0 * log10(float(np.dot(recent, recent)) / len(recent) + 1e-12)
