"""Pick attacks: where the sound rises in many bands at once.

Spectral flux of log band power, each band against the louder of the two frames before it (Dixon, "Onset detection
revisited", DAFx 2006; the maximum over earlier frames after Boeck and Widmer, "Maximum filter vibrato suppression
for onset detection", DAFx 2013), then put back to where the envelope rose.
"""

from __future__ import annotations

import numpy as np
from scipy import fft

from listener.ear.frames import HOP, RATE, Attack, Signal, Tape

WINDOW = 512
BANDS = 20
BAND_LOW_HZ, BAND_HIGH_HZ = 150.0, 9000.0
FLOOR_DB = -50.0  # below the running peak: what is fainter is not looked at, so that a hand's noise stays small
QUIET_DB = -78.0  # band power of the frame re full scale under which nothing is heard at all
PEAK_FALL_DB = 12.0  # per second
THRESHOLD_DB = 1.1
CLEAR_DB, WEAK_RISE_DB = 1.5, 1.0  # a weaker one counts only where the level rises too: a glide moves bands as well
CUT_OFF_DB = -4.0  # a note that is cut off splashes into all bands, and is no attack
REFRACTORY = 6  # hops: 35 ms
STEP = 32  # samples: the envelope's resolution in putting an onset back, 1.5 ms
RISE = 220  # samples on either side of an attack whose levels are compared: 10 ms
BACK = 40  # steps looked at: 58 ms


class AttackDetector:
    """Hop in, attack out, one hop after its strongest rise."""

    def __init__(self) -> None:
        edges = np.geomspace(BAND_LOW_HZ, BAND_HIGH_HZ, BANDS + 1) * WINDOW / RATE
        self._edges = np.unique(np.round(edges).astype(np.int64))
        self._window: Signal = np.hanning(WINDOW + 2)[1:-1]
        self._scale = (2.0 / float(np.sum(self._window))) ** 2
        self._tape = Tape(2048)
        self._raw = Tape(2048)
        self._before = 0.0
        self._peak = 1e-9
        self._logs: list[Signal] = []
        self._flux = [0.0, 0.0]
        self._since = REFRACTORY

    def push(self, hop: Signal) -> Attack | None:
        sharpened = np.array(hop)  # pick noise and harmonics weigh more
        sharpened[0] -= 0.9 * self._before
        sharpened[1:] -= 0.9 * hop[:-1]
        self._before = float(hop[-1])
        self._tape.push(sharpened)
        self._raw.push(hop)
        spectrum = fft.rfft(self._tape.last(WINDOW) * self._window)
        power = np.add.reduceat(spectrum.real**2 + spectrum.imag**2, self._edges)[:-1] * self._scale
        self._peak = max(self._peak * 10.0 ** (-PEAK_FALL_DB * HOP / RATE / 10.0), float(power.max()))
        floor = max(self._peak * 10.0 ** (FLOOR_DB / 10.0), 10.0 ** (QUIET_DB / 10.0))
        log = 10.0 * np.log10(power + floor)
        if len(self._logs) < 2:
            self._logs.append(log)
            return None
        flux = float(np.maximum(0.0, log - np.maximum(self._logs[0], self._logs[1])).sum()) / len(log)
        self._logs = [self._logs[1], log]
        return self._choose(flux)

    def _choose(self, flux: float) -> Attack | None:
        before, here = self._flux
        self._flux = [here, flux]
        self._since += 1
        if here < THRESHOLD_DB or here < before or here <= flux or self._since <= REFRACTORY:
            return None
        attack = self._placed(here)
        if attack.rise_db < CUT_OFF_DB or (here < CLEAR_DB and attack.rise_db < WEAK_RISE_DB):
            return None
        self._since = 0
        return attack

    def _placed(self, strength: float) -> Attack:
        """The attack put back to where its envelope began to rise: a sixth of the way to its peak."""
        steps = np.abs(self._tape.last(BACK * STEP)).reshape(BACK, STEP).max(axis=1)
        # the frame with the strongest rise ended one hop ago; its attack lies within that frame
        first = BACK - (WINDOW + HOP) // STEP
        before = np.maximum(np.maximum(steps[first - 2 : -2], steps[first - 3 : -3]), steps[first - 4 : -4])
        after = np.minimum(steps[first:], 1e9)
        rise = np.log10((after + 1e-7) / (before + 1e-7))
        rise += np.concatenate((rise[1:], [0.0])) * 0.5
        top = first + int(np.argmax(rise))
        base = float(steps[max(0, top - 6) : max(1, top - 1)].max())
        peak = float(steps[top : top + 10].max())
        level = base + 0.17 * max(0.0, peak - base)
        at = top
        while at > first - 4 and steps[at - 1] > level:
            at -= 1
        while at < BACK - 1 and steps[at] <= level:
            at += 1
        return Attack(self._tape.end - (BACK - at) * STEP, strength, self._rise_db((BACK - at) * STEP))

    def _rise_db(self, ago: int) -> float:
        """By how much the level, low harmonics and all, rose `ago` samples back: a hand's noise hardly lifts it."""
        before, after = self._raw.last(ago + RISE)[:RISE], self._raw.last(ago)[:RISE]
        quiet, loud = (float(np.mean(part * part)) + 1e-10 for part in (before, after))
        return 10.0 * float(np.log10(loud / quiet))
