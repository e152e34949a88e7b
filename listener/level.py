"""What can be said of a signal before any note is heard: peak, clipping, silence.

Levels are dB re full scale (0 dBFS is a sample of 1.0); no level in dB(A) can follow from them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from listener.events import Samples

SILENT_PEAK = 5e-4  # -66 dBFS: under the noise of any guitar that is plugged in and turned up
FULL_SCALE = 0.999
LOWEST_DB = -120.0


def decibels(amplitude: float) -> float:
    """Amplitude (1.0 is full scale) in dBFS, never below `LOWEST_DB`."""
    return max(LOWEST_DB, 20.0 * math.log10(amplitude)) if amplitude > 0.0 else LOWEST_DB


@dataclass(frozen=True, slots=True)
class Signal:
    """Summary of `frames` samples. `clipped_share` is the share of samples that stand flat at full scale."""

    frames: int
    peak: float
    rms: float
    clipped_share: float

    @property
    def is_all_zero(self) -> bool:
        return self.peak == 0.0

    @property
    def is_silent(self) -> bool:
        """No sample reaches -66 dBFS."""
        return self.peak < SILENT_PEAK

    @property
    def is_clipped(self) -> bool:
        """More than one sample in ten thousand is cut off: heard as distortion of the recorder's own making."""
        return self.clipped_share > 1e-4

    @property
    def peak_db(self) -> float:
        return decibels(self.peak)

    @property
    def rms_db(self) -> float:
        return decibels(self.rms)


class SignalMeter:
    """Push object: samples in, `Signal` of all of them out; any division into blocks gives the same summary.

    A sample counts as clipped when it and its forerunner both stand at full scale: a single touch is no clipping.
    """

    def __init__(self) -> None:
        self.frames = 0
        self._peak = 0.0
        self._power = 0.0
        self._clipped = 0
        self._last_full = False

    def push(self, samples: Samples) -> None:
        """Take in a one-dimensional array of finite samples."""
        if not len(samples):
            return
        size = np.abs(samples)
        full = size >= FULL_SCALE
        self._clipped += int(np.count_nonzero(full[1:] & full[:-1])) + int(self._last_full and bool(full[0]))
        self._last_full = bool(full[-1])
        self._peak = max(self._peak, float(size.max()))
        self._power += float(np.dot(samples.astype(np.float64), samples))
        self.frames += len(samples)

    def signal(self) -> Signal:
        """The summary so far."""
        frames = max(1, self.frames)
        return Signal(self.frames, self._peak, math.sqrt(self._power / frames), self._clipped / frames)
