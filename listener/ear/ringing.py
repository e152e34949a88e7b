"""Where a new note began under strings that ring on: where the sound was no longer foretold by its own past.

A ringing string is a sum of slowly decaying partials, and linear prediction foretells such a sum (Burg, "Maximum
entropy spectral analysis", 1967); the first sample that it foretells badly is the first of something new.
"""

from __future__ import annotations

import numpy as np

from listener.ear.frames import Signal, Tape
from listener.ear.resample import low_pass

HALF = 2  # foretold at half the ear's rate: partials to 5 kHz
ORDER = 120
PAST, LEAST_PAST = 900, 420  # samples at half rate to learn from: 82 ms, and 38 ms where an attack lies within
SETTLING = 110  # samples at half rate after an attack that are too restless to learn from
MOST_WAITING = 16  # hops that are brought to half rate in one go
MARGIN = 220  # samples of the ear's rate before the attack that are not trusted as past: it may lie 10 ms earlier
SURPRISE_SHARE = 0.3  # of its largest: below that, it is the end of another note
SURPRISE = 5.0  # times its usual size: an error of prediction that tells where the new sound began
TAPS = 31
SILENT = 1e-9


class Ringing:
    """Hops in; `foretell` tells of an attack where it began. What nobody asks for is not worked out."""

    def __init__(self) -> None:
        self._filter: Signal = low_pass(0.45, np.hamming(TAPS))
        self._tail: Signal = np.zeros(TAPS - 1)
        self._waiting: list[Signal] = []  # hops that are not yet on the tape
        self._half = Tape(4096)
        self._attack = -PAST

    def push(self, hop: Signal) -> None:
        self._waiting.append(hop)
        if len(self._waiting) == MOST_WAITING:
            self._halve()

    def _halve(self) -> None:
        """Bring the tape up to date."""
        if self._waiting:
            joined = np.concatenate((self._tail, *self._waiting))
            self._waiting = []
            self._tail = joined[-(TAPS - 1) :]
            self._half.push(np.convolve(joined, self._filter, mode="valid")[::HALF])

    def foretell(self, attack: int) -> int:
        """An attack at this sample: foretell what was sounding before it. Returns the attack's sample, put back to
        where the prediction first failed, since the envelope of a string that rings on hides a soft beginning."""
        self._halve()
        before = self._attack
        self._attack = (attack + TAPS // 2) // HALF
        begin = (attack - MARGIN + TAPS // 2) // HALF
        ago = self._half.end - begin
        reach = min(PAST, max(LEAST_PAST, begin - before - SETTLING))
        past = self._half.last(ago + reach)[:reach]
        if ago <= 0 or float(np.mean(past * past)) < SILENT:
            return attack
        order = min(ORDER, reach // 5)
        model = predictor(past, order)
        errors = np.abs(np.convolve(self._half.last(ago + reach), model, mode="valid"))
        usual = float(np.sqrt(np.mean(errors[: reach - order] ** 2)))
        early = errors[reach - order : reach - order + MARGIN // HALF]
        most = float(errors[reach - order :].max(initial=0.0))
        failed = np.flatnonzero(early > max(SURPRISE * usual, SURPRISE_SHARE * most))
        if len(failed) == 0:
            return attack
        self._attack = begin + int(failed[0])
        return self._attack * HALF - TAPS // 2


def predictor(past: Signal, order: int) -> Signal:
    """The prediction error filter of `order` by Burg's method (always stable), first coefficient 1."""
    size = len(past)
    errors = np.concatenate((past, past))  # forward, then backward
    model: Signal = np.zeros(order + 1)
    model[0] = 1.0
    for grown in range(1, order + 1):
        part = errors[grown : 2 * size - grown]  # without the first forward and the last backward one
        both = part.reshape(2, -1)
        reflection = -2.0 * float(np.dot(both[0], both[1])) / (float(np.dot(part, part)) + 1e-15)
        model[: grown + 1] += reflection * model[grown::-1]
        both += reflection * both[::-1]
    return model
