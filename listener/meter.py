"""The input level as a needle shows it: up at once, down slowly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from listener.dashboard import InputLevel
from listener.events import Samples
from listener.level import FULL_SCALE, LOWEST_DB, decibels

FALL_DB_PER_S = 20.0
CLIPPING_SHOWN_S = 1.0
SILENT_AFTER_S = 2.0


@dataclass(slots=True)
class LevelMeter:
    """Samples in, `InputLevel` out. Silent is two seconds of exact zeros: an open cable hums, a pulled one does not."""

    rate: int
    _peak_db: float = LOWEST_DB
    _since_clipping_s: float = CLIPPING_SHOWN_S
    _zeros_s: float = 0.0

    def push(self, samples: Samples) -> InputLevel:
        """The level after these samples."""
        if len(samples):
            seconds, peak = len(samples) / self.rate, float(np.abs(samples).max())
            self._peak_db = max(decibels(peak), self._peak_db - FALL_DB_PER_S * seconds)
            self._since_clipping_s = 0.0 if peak >= FULL_SCALE else self._since_clipping_s + seconds
            self._zeros_s = self._zeros_s + seconds if peak == 0.0 else 0.0
        return InputLevel(self._peak_db, self._since_clipping_s < CLIPPING_SHOWN_S, self._zeros_s >= SILENT_AFTER_S)
