"""The ear's own rate and hop, and what one hop tells: level, attack, pitch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

Signal = npt.NDArray[np.float64]
Number = TypeVar("Number", np.float32, np.float64)

RATE = 22050  # Hz: the ear's own rate, whatever the source's
HOP = 128  # samples between frames: 5.8 ms
SHORTEST_LAG = 14  # 1575 Hz, above the 24th fret of the high E
LONGEST_LAG = 312  # 70.7 Hz, below the low E tuned down a whole tone
LONG_FRAME = 640  # 29 ms: two periods of the low E
SHORT_FRAME = 352  # 16 ms: follows a glide
SPOOL = 4  # how many times its length a tape holds before a new one is begun


@dataclass(frozen=True, slots=True)
class Attack:
    """A pick attack: where it began (in the ear's samples), how strong it is in dB of mean rise over the bands, and
    by how much the whole level rose."""

    sample: int
    strength_db: float
    rise_db: float


@dataclass(frozen=True, slots=True)
class Frame:
    """What one hop tells. `end` is the sample after its last one.

    `pitch` is float MIDI or NaN; the centre of the `span` samples that it was measured on lies at `centre`.
    `quick_pitch` is the same from a shorter span, with `quick_centre`.
    """

    end: int
    level_db: float
    attack: Attack | None
    pitch: float
    clarity: float
    span: int
    centre: int
    quick_pitch: float
    quick_clarity: float
    quick_centre: int

    @property
    def lag(self) -> float:
        """The period in samples."""
        return float(RATE / (440.0 * 2.0 ** ((self.pitch - 69.0) / 12.0)))


def samples(seconds: float) -> int:
    """Seconds as samples of the ear's own rate."""
    return round(seconds * RATE)


def stretches(signal: npt.NDArray[Number], width: int, step: int = 1) -> npt.NDArray[Number]:
    """Views of the stretches of `width` samples that begin every `step` samples, one a row; not to be written to."""
    size = signal.itemsize
    rows = (len(signal) - width) // step + 1
    return np.ndarray((rows, width), signal.dtype, np.ascontiguousarray(signal), strides=(step * size, size))


class Tape:
    """The last `length` samples. A view of them stays what it is: nothing is written over, full tape is put away."""

    def __init__(self, length: int) -> None:
        self._length = length
        self._samples: Signal = np.zeros(SPOOL * length)
        self._filled = length
        self.end = 0

    def push(self, hop: Signal) -> None:
        end = self._filled + len(hop)
        if end > len(self._samples):
            kept = self.last(self._length)
            self._samples = np.empty(SPOOL * self._length)
            self._samples[: self._length] = kept
            self._filled, end = self._length, self._length + len(hop)
        self._samples[self._filled : end] = hop
        self._filled = end
        self.end += len(hop)

    def last(self, count: int) -> Signal:
        """A view of the last `count` samples, silence where the stream had not begun."""
        return self._samples[self._filled - count : self._filled]
