"""What the audio callback touches: arrays made beforehand, one writer and one reader each, and plain counts.

The callback runs every few milliseconds beside everything else this process does. It copies, counts and returns; it
makes no object of size, takes no lock and calls nothing that waits. Each count is moved by one side alone and only
after the data it tells of are in place, so the other side may read it at any time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.events import Samples

LEAST_SECONDS = 10.0
_ROWS = 16384  # 10 s of blocks as short as 64 frames at 96 kHz


def _power_of_two(least: float) -> int:
    return 1 << max(1, int(np.ceil(np.log2(least))))


@dataclass(frozen=True, slots=True)
class Row:
    """One callback: the count of its first frame, its length, and PortAudio's times in seconds of the stream's clock.

    `adc_s` is when the first input frame was taken in, `dac_s` when the first output frame will be heard; 0 where the
    driver does not say. `flags` are those of PortAudio's `PaStreamCallbackFlags`.
    """

    start: int
    frames: int
    adc_s: float
    dac_s: float
    flags: int


class CaptureRing:
    """The input as the callback hands it over, at least ten seconds of it, with a row for each callback."""

    def __init__(self, rate: int) -> None:
        self.size = _power_of_two(LEAST_SECONDS * rate)
        self.written = 0
        self.rows_written = 0
        self._samples: Samples = np.zeros(self.size, dtype=np.float32)
        self._counts = np.zeros((_ROWS, 3), dtype=np.int64)
        self._times = np.zeros((_ROWS, 2), dtype=np.float64)

    def put(self, samples: Samples, adc_s: float, dac_s: float, flags: int) -> None:
        """Called by the callback alone. `samples` is one channel of one block."""
        frames = len(samples)
        place = self.written % self.size
        first = min(frames, self.size - place)
        self._samples[place : place + first] = samples[:first]
        if first < frames:
            self._samples[: frames - first] = samples[first:]
        row = self.rows_written % _ROWS
        counts, times = self._counts[row], self._times[row]
        counts[0], counts[1], counts[2] = self.written, frames, flags
        times[0], times[1] = adc_s, dac_s
        self.written += frames
        self.rows_written += 1

    def row(self, number: int) -> Row | None:
        """The row of callback `number`; None where it has been written over since."""
        at = number % _ROWS
        (start, frames, flags), (adc_s, dac_s) = self._counts[at].tolist(), self._times[at].tolist()
        return Row(start, frames, adc_s, dac_s, flags) if self.rows_written - number < _ROWS else None

    @property
    def oldest_row(self) -> int:
        """The oldest row that stays readable while a few more are written."""
        return max(0, self.rows_written - _ROWS + 64)

    def copy(self, start: int, frames: int) -> Samples | None:
        """Frames by their count; None where they have been written over since."""
        samples: Samples = np.empty(frames, dtype=np.float32)
        place = start % self.size
        first = min(frames, self.size - place)
        samples[:first] = self._samples[place : place + first]
        samples[first:] = self._samples[: frames - first]
        # asked after copying: the callback may have come round while we read; one block of it may be under way
        return samples if self.written + frames - start <= self.size else None


class PlayRing:
    """The output, filled ahead of the callback and read by the count of frames.

    A position is the count of output frames plus `shift`: where the device lost frames it stands still for as long,
    and moving the reading place on by them keeps the band on its clock.
    """

    def __init__(self, rate: int, ahead_s: float) -> None:
        self.size = _power_of_two(2.5 * ahead_s * rate)
        self.played = 0  # moved by the callback
        self.starved = 0  # frames of silence played because nothing had been filled in; moved by the callback
        self.shift = 0  # moved by the filling side
        self.filled = 0  # the position up to which samples are in place; moved by the filling side
        self._samples: Samples = np.zeros(self.size, dtype=np.float32)

    @property
    def position(self) -> int:
        """The position that the callback reads next."""
        return self.played + self.shift

    def take(self, out: npt.NDArray[np.float32]) -> None:
        """Called by the callback alone: fill `out`, (frames, channels), with the next frames."""
        frames = len(out)
        position = self.played + self.shift
        ready = min(max(self.filled - position, 0), frames)
        place = position % self.size
        first = min(ready, self.size - place)
        out[:first] = self._samples[place : place + first, np.newaxis]
        if first < ready:
            out[first:ready] = self._samples[: ready - first, np.newaxis]
        if ready < frames:
            out[ready:] = 0.0
            self.starved += frames - ready
        self.played += frames

    def peek(self, position: int, frames: int) -> Samples:
        """What is in place at a position; for the filling side."""
        return self._samples[(np.arange(frames) + position) % self.size]

    def fill(self, position: int, samples: Samples) -> None:
        """Put samples at a position, which has to be ahead of the callback, and tell that all before their end is in
        place."""
        place = position % self.size
        first = min(len(samples), self.size - place)
        self._samples[place : place + first] = samples[:first]
        self._samples[: len(samples) - first] = samples[first:]
        self.filled = position + len(samples)
