"""One training line from one number: its sound and its truth."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.ear.training.backing import band
from listener.ear.training.bank import RATE, Guitar
from listener.ear.training.figures import Dead, perform
from listener.ear.training.marks import Mark, Marks
from listener.ear.training.modal import some_guitar
from listener.ear.training.noises import Noises
from listener.ear.training.strings import Pluck, Strings

SECONDS = 8.0
SAMPLES = round(SECONDS * RATE)
MODAL_SHARE = 0.35  # of the lines are played on guitars that never were
MODAL_KEPT, MODAL_RENEWED = 24, 0.10  # of these at hand, and how often a line brings a new one
LOUDEST = 0.9

Pcm = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Line:
    """Sound at the ear's rate, peak LOUDEST, and its marks."""

    sound: Pcm
    marks: Marks


class Studio:
    """Makes lines and bands. The same seed, guitars and order of calls give the same ones."""

    def __init__(self, guitars: Sequence[Guitar], seed: int, modal_share: float = MODAL_SHARE) -> None:
        self._rng = np.random.default_rng(seed)
        self._guitars, self._modal_share = list(guitars), modal_share
        self._noises = Noises(self._rng)
        first = 4 if modal_share > 0 else 0
        self._modal = deque((some_guitar(self._rng) for _ in range(first)), maxlen=MODAL_KEPT)

    def line(self) -> Line:
        """A line of SECONDS."""
        rng = self._rng
        strings = Strings(self._guitar(), SECONDS, float(rng.uniform(-0.22, 0.22)), rng)
        noisy = float(rng.choice([0.0, 0.08, 0.25, 0.6], p=[0.25, 0.35, 0.25, 0.15]))
        for action in perform(rng, SECONDS):
            if isinstance(action, Dead):
                if action.onset_s + 0.1 < SECONDS:
                    strings.add(self._noises.dead(strings.guitar, rng), action.onset_s)
                    strings.ledger.point(Mark.DEAD, 60, action.onset_s)
                continue
            strings.play(action)
            self._hand_noise(strings, action, noisy)
        sound = strings.sound[:SAMPLES]
        sound *= LOUDEST / (float(np.abs(sound).max()) + 1e-6)
        return Line(np.round(sound * 32767).astype(np.int16), strings.ledger.table())

    def band(self) -> Pcm:
        """A band of SECONDS."""
        sound = band(self._rng, SECONDS, self._guitars or [self._guitar()], self._noises)
        return np.round(sound * LOUDEST * 32767).astype(np.int16)

    def _guitar(self) -> Guitar:
        rng = self._rng
        if self._guitars and rng.random() >= self._modal_share:
            return self._guitars[int(rng.integers(len(self._guitars)))]
        if rng.random() < MODAL_RENEWED or not self._modal:
            self._modal.append(some_guitar(rng))
        return self._modal[int(rng.integers(len(self._modal)))]

    def _hand_noise(self, strings: Strings, pluck: Pluck, share: float) -> None:
        """What the hands do beside the note: a squeak or a click before it, a blip after it."""
        rng = self._rng
        if rng.random() < share * 0.5:
            length = float(rng.uniform(0.015, 0.08))
            squeak = self._noises.burst(length, 10 ** (rng.uniform(-34, -14) / 20), rng)
            strings.add(squeak, pluck.onset_s - float(rng.uniform(0.01, 0.15)) - length)
        if rng.random() < share:
            click = self._noises.burst(float(rng.uniform(0.001, 0.008)), 10 ** (rng.uniform(-30, -8) / 20), rng)
            strings.add(click, pluck.onset_s - float(rng.uniform(0.004, 0.06)))
        if rng.random() < share * 0.6:
            blip = self._noises.blip(strings.guitar, pluck.midi, rng)
            strings.add(blip, pluck.onset_s + pluck.duration_s - float(rng.uniform(0, 0.01)))
