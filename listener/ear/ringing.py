"""What would have sounded had nothing been played: the strings that ring on, foretold past an attack.

A ringing string is a sum of slowly decaying partials, and linear prediction foretells such a sum from its own past
(Burg, "Maximum entropy spectral analysis", 1967; audio extrapolation: Kauppinen and Roth, JAES 50, 2002). What is left
after taking the foretold sound off is the new note alone, also where it begins under one that still rings; and where
next to nothing is left, nothing was played.
"""

from __future__ import annotations

import numpy as np

from listener.ear.frames import Signal, Tape, samples
from listener.ear.resample import low_pass

HALF = 2  # foretold at half the ear's rate: partials to 5 kHz
ORDER = 120
PAST, LEAST_PAST = 900, 420  # samples at half rate to learn from: 82 ms, and 38 ms where an attack lies within
SETTLING = 110  # samples at half rate after an attack that are too restless to learn from
AHEAD = samples(0.30) // HALF  # samples at half rate that are foretold
MOST_WAITING = 16  # hops that are brought to half rate in one go
MARGIN = 220  # samples of the ear's rate before the attack that are not trusted as past: it may lie 10 ms earlier
SURPRISE_SHARE = 0.3  # of its largest: below that, it is the end of another note
SURPRISE = 5.0  # times its usual size: an error of prediction that tells where the new sound began
TAPS = 31
SILENT = 1e-9


class Ringing:
    """Hop in; after `foretell`, the sound that is left over. What nobody asks for is not worked out."""

    def __init__(self) -> None:
        self._filter: Signal = low_pass(0.45, np.hamming(TAPS))
        self._tail: Signal = np.zeros(TAPS - 1)
        self._waiting: list[Signal] = []  # hops that are not yet on the tape
        self._half = Tape(4096)
        self._past: Signal = np.zeros(0)  # what was sounding before the attack
        self._model: Signal | None = None  # the prediction error filter of it
        self._foretold: Signal | None = None
        self._from = 0  # index at half rate of the first foretold sample
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
        self._from = (attack - MARGIN + TAPS // 2) // HALF
        ago = self._half.end - self._from
        reach = min(PAST, max(LEAST_PAST, self._from - before - SETTLING))
        self._past = self._half.last(ago + reach)[:reach]
        self._model = self._foretold = None
        if ago <= 0 or float(np.mean(self._past * self._past)) < SILENT:
            return attack
        order = min(ORDER, reach // 5)
        self._model = predictor(self._past, order)
        errors = np.abs(np.convolve(self._half.last(ago + reach), self._model, mode="valid"))
        usual = float(np.sqrt(np.mean(errors[: reach - order] ** 2)))
        early = errors[reach - order : reach - order + MARGIN // HALF]
        most = float(errors[reach - order :].max(initial=0.0))
        failed = np.flatnonzero(early > max(SURPRISE * usual, SURPRISE_SHARE * most))
        if len(failed) == 0:
            return attack
        self._attack = self._from + int(failed[0])
        return self._attack * HALF - TAPS // 2

    def left(self, span: int) -> tuple[Signal, float] | None:
        """The last `span` samples (in the ear's rate) at half rate without what rang on, and their share of the energy
        that is there; None where nothing was foretold or the attack is too fresh."""
        self._halve()
        if self._model is None or self._half.end - self._from > AHEAD:
            return None
        size = min(span // HALF, self._half.end - self._attack)
        at = self._half.end - self._from - size
        if size < 64 or at < 0:
            return None
        if self._foretold is None:
            self._foretold = extrapolate(self._past, self._model, AHEAD)
        heard = self._half.last(size)
        rest = heard - self._foretold[at : at + size]
        energy = float(np.dot(heard, heard)) + 1e-12
        return rest, float(np.dot(rest, rest)) / energy


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


def extrapolate(past: Signal, model: Signal, count: int) -> Signal:
    """The next `count` samples after `past` by the linear prediction of `model`, as many at a time as its order."""
    order = len(model) - 1
    apart = np.abs(np.arange(order)[:, None] - np.arange(order))  # samples of a stretch of `order`
    step = -np.linalg.solve(np.tril(model[apart]), np.triu(model[order - apart]))  # from a stretch to the next
    stretches = [past[-order:]]
    while len(stretches) * order < count + order:
        stretches.append(step @ stretches[-1])
    return np.concatenate(stretches[1:])[:count]
