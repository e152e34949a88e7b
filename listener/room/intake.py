"""From rows and rings to blocks: where the device lost input, silence of the same length keeps the clock right.

The count of frames is the clock, and it is true as long as nothing is lost: against the machine's own clock it was
right within a millionth. Flags do not tell of every loss, so losses are read from the time stamps: a stamp that steps
forward by more than 4 ms beyond the count, and stays there, is a gap of that many frames. A single late stamp comes
back at once; that is why a step is believed only after four rows. Input and output are followed apart: an xrun stops
both, but a server that misses a turn may cost frames on one side alone.
"""

from __future__ import annotations

import statistics
from collections import deque
from collections.abc import Callable, Sequence

import numpy as np

from listener.events import Block, Samples
from listener.room.rings import CaptureRing, Row

GAP_S = 0.004
LONGEST_GAP_BLOCK_S = 0.5
SLEPT_S = 60.0
LONGEST_ROUND_TRIP_S = 2.0
_BELIEVED_ROWS = 4
_BASE_ROWS = 8


class StampClock:
    """Follows one kind of time stamp against the count of frames. `lost` frames have gone by uncounted so far."""

    def __init__(self, rate: int, stamp_s: Callable[[Row], float]) -> None:
        self.lost = 0
        self._rate = rate
        self._stamp_s = stamp_s
        self._offsets_s: deque[float] = deque(maxlen=_BASE_ROWS)  # stamp minus counted time

    def lost_before(self, row: Row, following: Sequence[Row], all_there: bool) -> int | None:
        """Frames lost between the row before and this one; None while that cannot be told.

        `following` are the rows after it, up to three; `all_there` says that no more of them will come.
        """
        if len(self._offsets_s) < _BASE_ROWS or self._step_s(row) <= GAP_S:
            return 0
        if len(following) < _BELIEVED_ROWS - 1 and not all_there:
            return None
        steps_s = [self._step_s(each) for each in (row, *following)]
        return round(statistics.median(steps_s) * self._rate) if min(steps_s) > GAP_S else 0

    def accept(self, row: Row, lost: int) -> None:
        """Go on behind this row, `lost` frames having been lost before it."""
        self.lost += lost
        if not lost:
            self._offsets_s.append(self._offset_s(row))

    def _offset_s(self, row: Row) -> float:
        return self._stamp_s(row) - (row.start + self.lost) / self._rate

    def _step_s(self, row: Row) -> float:
        return self._offset_s(row) - statistics.median(self._offsets_s)


class Intake:
    """Reads a capture ring; `read` hands out all that is new as consecutive blocks.

    Blocks start at the count of input frames, lost ones included, less `latency_samples`. `flagged` counts the rows
    in which the driver itself told of trouble.
    """

    def __init__(self, ring: CaptureRing, rate: int, latency_samples: int = 0) -> None:
        self.latency_samples = latency_samples
        self.flagged = 0
        self.slept_s = 0.0
        self._ring = ring
        self._rate = rate
        self._next_row = 0
        self._next_frame = 0
        self._position = 0  # input frames handed out, lost ones included
        self._input = StampClock(rate, lambda row: row.adc_s)
        self._output = StampClock(rate, lambda row: row.dac_s)

    @property
    def lost(self) -> int:
        """Input frames that the device lost; each became silence."""
        return self._input.lost

    @property
    def output_lost(self) -> int:
        """Output frames by which the device stood still: what is played is late by them."""
        return self._output.lost

    @property
    def captured_sample(self) -> int:
        """The index just beyond the last sample captured, whether it has been handed out or not."""
        return self._ring.written + self.lost - self.latency_samples

    def read(self, at_end: bool = False) -> list[Block]:
        """Blocks of everything captured since the last call.

        A row whose stamp looks late is held back for three more rows, unless the stream is `at_end`.
        Where more than a minute is missing the machine slept: `slept_s` tells how long, and nothing more is read.
        """
        blocks: list[Block] = []
        parts: list[Samples] = []
        while self._next_row < self._ring.rows_written and not self.slept_s:
            row = self._ring.row(self._next_row)
            if row is None:  # this reader was away for longer than the rows last
                self._next_row = self._ring.oldest_row
                continue
            following = [self._ring.row(number) for number in self._following()]
            rows = [each for each in following if each is not None]
            lost = self._input.lost_before(row, rows, at_end)
            stood_still = self._output.lost_before(row, rows, at_end)
            if lost is None or stood_still is None:
                break
            samples = self._ring.copy(row.start, row.frames)
            missing = lost + row.start - self._next_frame + (row.frames if samples is None else 0)
            if missing > SLEPT_S * self._rate:
                self.slept_s = missing / self._rate
                break
            if missing:
                self._hand_out(parts, blocks)
                self._fill(missing, blocks)
            if samples is not None:
                parts.append(samples)
            self._input.accept(row, lost)
            self._output.accept(row, stood_still)
            self._next_frame = row.start + row.frames
            self._next_row += 1
            self.flagged += row.flags != 0
        self._hand_out(parts, blocks)
        return blocks

    def _following(self) -> range:
        return range(self._next_row + 1, min(self._next_row + _BELIEVED_ROWS, self._ring.rows_written))

    def _hand_out(self, parts: list[Samples], blocks: list[Block]) -> None:
        if parts:
            samples = np.concatenate(parts) if len(parts) > 1 else parts[0]
            blocks.append(Block(self._position - self.latency_samples, samples))
            self._position += len(samples)
            parts.clear()

    def _fill(self, missing: int, blocks: list[Block]) -> None:
        longest = round(LONGEST_GAP_BLOCK_S * self._rate)
        while missing > 0:
            frames = min(missing, longest)
            silence: Samples = np.zeros(frames, dtype=np.float32)
            blocks.append(Block(self._position - self.latency_samples, silence, gap=frames))
            self._position += frames
            missing -= frames


def driver_round_trip(ring: CaptureRing, rate: int) -> int | None:
    """Frames from an output frame's hand-over to the input that is captured while it is heard, as the driver tells.

    The median over the first rows of (DAC time minus ADC time), which follows the true round trip of each opening
    within two frames; None where the driver gives no times that can be true.
    """
    rows = [ring.row(number) for number in range(min(_BASE_ROWS, ring.rows_written))]
    steps_s = [row.dac_s - row.adc_s for row in rows if row is not None and row.adc_s > 0.0]
    if not steps_s or not 0.0 < statistics.median(steps_s) < LONGEST_ROUND_TRIP_S:
        return None
    return round(statistics.median(steps_s) * rate)
