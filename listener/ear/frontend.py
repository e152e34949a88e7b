"""From hops of sound to frames: level, attack, and the pitch from two lengths of frame."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from listener.ear.attack import AttackDetector
from listener.ear.f0 import NONE, Period, find_period
from listener.ear.frames import (
    HOP,
    LONG_FRAME,
    LONGEST_LAG,
    RATE,
    SHORT_FRAME,
    SHORTEST_LAG,
    Frame,
    Signal,
    Tape,
)
from listener.ear.ringing import HALF, Ringing

YOUNGEST = 224  # samples after an attack before a pitch is looked for: 10 ms
SILENT_DB = -72.0


class FrontEnd:
    """One hop in, one frame out."""

    def __init__(self) -> None:
        self._tape = Tape(2048)
        self._attacks = AttackDetector()
        self._ringing = Ringing()
        self._fresh_from = -LONG_FRAME  # frames begin no earlier than the last attack

    def push(self, hop: Signal) -> Frame:
        self._tape.push(hop)
        self._ringing.push(hop)
        (attack,) = self._attacks.push([hop])
        if attack is not None:
            attack = replace(attack, sample=self._ringing.foretell(attack.sample))
            self._fresh_from = attack.sample
        end = self._tape.end
        level_db = 10.0 * float(np.log10(np.mean(self._tape.last(HOP * 2) ** 2) + 1e-12))
        span = min(LONG_FRAME, end - self._fresh_from)
        long, quick = NONE, NONE
        if level_db > SILENT_DB and span >= YOUNGEST:
            long = find_period(self._tape.last(span), SHORTEST_LAG, LONGEST_LAG)
            quick = find_period(self._tape.last(SHORT_FRAME), SHORTEST_LAG, LONGEST_LAG) if span > SHORT_FRAME else long
        new, share = self._new(span) if level_db > SILENT_DB and span >= YOUNGEST else (NONE, 1.0)
        short = min(span, SHORT_FRAME)
        return Frame(
            end=end, level_db=level_db, attack=attack,
            pitch=_midi(long.lag), clarity=long.clarity, span=span, centre=end - span // 2,
            quick_pitch=_midi(quick.lag), quick_clarity=quick.clarity, quick_centre=end - short // 2,
            new_pitch=_midi(new.lag * HALF), new_clarity=new.clarity, new_share=share,
        )  # fmt: skip

    def _new(self, span: int) -> tuple[Period, float]:
        """The period of what began with the last attack, and its share of the sound."""
        left = self._ringing.left(span)
        if left is None:
            return NONE, 1.0
        rest, share = left
        if share < 0.01:
            return NONE, share
        return find_period(rest, SHORTEST_LAG // HALF, LONGEST_LAG // HALF), share


def _midi(lag: float) -> float:
    return 69.0 + 12.0 * float(np.log2(RATE / lag / 440.0)) if lag > 0.0 else float("nan")
