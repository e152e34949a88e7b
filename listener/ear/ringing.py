"""What would have sounded had nothing been played: the strings that ring on, foretold past an attack.

A ringing string is a sum of slowly decaying partials, and linear prediction foretells such a sum from its own past
(Burg, "Maximum entropy spectral analysis", 1967; audio extrapolation: Kauppinen and Roth, JAES 50, 2002). What is left
after taking the foretold sound off is the new note alone, also where it begins under one that still rings; and where
next to nothing is left, nothing was played.
"""

from __future__ import annotations

import numpy as np
from scipy import signal

from listener.ear.frames import Signal, Tape, samples

HALF = 2  # foretold at half the ear's rate: partials to 5 kHz
ORDER = 120
PAST, LEAST_PAST = 900, 420  # samples at half rate to learn from: 82 ms, and 38 ms where an attack lies within
SETTLING = 110  # samples at half rate after an attack that are too restless to learn from
AHEAD_S = 0.30
MARGIN = 220  # samples of the ear's rate before the attack that are not trusted as past: it may lie 10 ms earlier
SURPRISE_SHARE = 0.3  # of its largest: below that, it is the end of another note
SURPRISE = 5.0  # times its usual size: an error of prediction that tells where the new sound began
TAPS = 31
SILENT = 1e-9


class Ringing:
    """Hop in; after `foretell`, the sound that is left over."""

    def __init__(self) -> None:
        self._filter: Signal = signal.firwin(TAPS, 0.45)
        self._tail: Signal = np.zeros(TAPS - 1)
        self._half = Tape(4096)
        self._foretold: Signal | None = None
        self._from = 0  # index at half rate of the first foretold sample
        self._attack = -PAST

    def push(self, hop: Signal) -> None:
        joined = np.concatenate((self._tail, hop))
        self._tail = joined[-(TAPS - 1) :]
        self._half.push(np.convolve(joined, self._filter, mode="valid")[::HALF])
        if self._foretold is not None and self._half.end - self._from > len(self._foretold):
            self._foretold = None

    def foretell(self, attack: int) -> int:
        """An attack at this sample: foretell what was sounding before it. Returns the attack's sample, put back to
        where the prediction first failed, since the envelope of a string that rings on hides a soft beginning."""
        before = self._attack
        self._attack = (attack + TAPS // 2) // HALF
        self._from = (attack - MARGIN + TAPS // 2) // HALF
        ago = self._half.end - self._from
        reach = min(PAST, max(LEAST_PAST, self._from - before - SETTLING))
        past = self._half.last(ago + reach)[:reach]
        self._foretold = None
        if ago <= 0 or float(np.mean(past * past)) < SILENT:
            return attack
        order = min(ORDER, reach // 5)
        model = predictor(past, order)
        self._foretold = extrapolate(past, model, samples(AHEAD_S) // HALF)
        errors = np.abs(signal.lfilter(model, [1.0], self._half.last(ago + reach))[order:])
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
        if self._foretold is None:
            return None
        size = min(span // HALF, self._half.end - self._attack)
        at = self._half.end - self._from - size
        if size < 64 or at < 0:
            return None
        heard = self._half.last(size)
        rest = heard - self._foretold[at : at + size]
        energy = float(np.dot(heard, heard)) + 1e-12
        return rest, float(np.dot(rest, rest)) / energy


def predictor(past: Signal, order: int) -> Signal:
    """The prediction error filter of `order` by Burg's method (always stable), first coefficient 1."""
    forward, backward = past[1:].copy(), past[:-1].copy()
    model: Signal = np.array([1.0])
    for _ in range(order):
        energy = float(np.dot(forward, forward) + np.dot(backward, backward))
        reflection = -2.0 * float(np.dot(forward, backward)) / (energy + 1e-15)
        grown = np.concatenate((model, [0.0]))
        model = grown + reflection * grown[::-1]
        ahead = forward + reflection * backward
        backward = (backward + reflection * forward)[:-1]
        forward = ahead[1:]
    return model


def extrapolate(past: Signal, model: Signal, count: int) -> Signal:
    """The next `count` samples after `past` by the linear prediction of `model`."""
    state = signal.lfiltic([1.0], model, past[::-1][: len(model) - 1])
    ahead, _ = signal.lfilter([1.0], model, np.zeros(count), zi=state)
    return np.asarray(ahead)
