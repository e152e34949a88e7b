"""Pick attacks: where the sound rises in many bands at once.

Spectral flux of log band power, each band against the louder of the two frames before it (Dixon, "Onset detection
revisited", DAFx 2006; the maximum over earlier frames after Boeck and Widmer, "Maximum filter vibrato suppression
for onset detection", DAFx 2013), then put back to where the envelope rose.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import fft

from listener.ear.frames import HOP, RATE, Attack, Signal, Tape, stretches

WINDOW = 512
BANDS = 20
BAND_LOW_HZ, BAND_HIGH_HZ = 150.0, 9000.0
FLOOR = 10.0**-5.0  # of the running peak's power: what is fainter is not looked at, so a hand's noise stays small
QUIET = 10.0**-7.8  # band power of the frame re full scale under which nothing is heard at all
PEAK_FALL = 10.0 ** (-1.2 * HOP / RATE)  # a hop: 12 dB a second
THRESHOLD_DB = 1.1
CLEAR_DB, WEAK_RISE_DB = 1.5, 1.0  # a weaker one counts only where the level rises too: a glide moves bands as well
CUT_OFF_DB = -4.0  # a note that is cut off splashes into all bands, and is no attack
REFRACTORY = 6  # hops: 35 ms
STEP = 32  # samples: the envelope's resolution in putting an onset back, 1.5 ms
RISE = 220  # samples on either side of an attack whose levels are compared: 10 ms
BACK = 40  # steps looked at: 58 ms


class AttackDetector:
    """Hops in, attacks out, each one hop after its strongest rise."""

    def __init__(self) -> None:
        edges = np.geomspace(BAND_LOW_HZ, BAND_HIGH_HZ, BANDS + 1) * WINDOW / RATE
        self._edges = np.unique(np.round(edges).astype(np.int64))
        window: Signal = np.hanning(WINDOW + 2)[1:-1]
        self._window = window * (2.0 / float(np.sum(window)))
        self._tape = Tape(2048)
        self._raw = Tape(2048)
        self._peak = 1e-9
        self._logs: Signal = np.full((2, len(self._edges) - 1), np.inf)  # of the last two hops; the first rise in none
        self._flux = [0.0, 0.0]
        self._since = REFRACTORY

    def push(self, hops: Sequence[Signal]) -> list[Attack | None]:
        """One hop or two: what each tells."""
        joined = np.concatenate((self._raw.last(1), *hops))
        sharpened = joined[1:] - 0.9 * joined[:-1]  # pick noise and harmonics weigh more
        flux = self._rises(self._bands(sharpened)[-len(hops) :])
        parts = zip(hops, sharpened.reshape(len(hops), -1), flux, strict=True)
        return [self._hear(*part) for part in parts]

    def _bands(self, sharpened: Signal) -> Signal:
        """The power in the bands at the end of the hop before the last and of the last. Two cost hardly more than one,
        and always two are made: so the way in which the stream is cut does not touch a bit of the result."""
        last = np.concatenate((self._tape.last(WINDOW), sharpened))[-WINDOW - HOP :]
        spectra = fft.rfft(stretches(last, WINDOW, HOP) * self._window)
        power = spectra.real**2 + spectra.imag**2
        return np.asarray(np.add.reduceat(power, self._edges, axis=1)[:, :-1])

    def _rises(self, powers: Signal) -> list[float]:
        """The flux of each hop: mean rise over the bands in dB."""
        floors = []
        for most in powers.max(axis=1).tolist():
            self._peak = max(self._peak * PEAK_FALL, most)
            floors.append([max(self._peak * FLOOR, QUIET)])
        logs = np.concatenate((self._logs, 10.0 * np.log10(powers + floors)))
        self._logs = logs[-2:]
        rises = np.maximum(logs[2:] - np.maximum(logs[:-2], logs[1:-1]), 0.0)
        flux: list[float] = (np.add.reduce(rises, axis=1) / rises.shape[1]).tolist()
        return flux

    def _hear(self, hop: Signal, sharpened: Signal, flux: float) -> Attack | None:
        self._raw.push(hop)
        self._tape.push(sharpened)
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
