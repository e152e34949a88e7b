"""From blocks of a stream at any rate to the ear's own hops, and its events back into samples of the stream."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import log2
from typing import Protocol

import numpy as np

from listener.ear.frames import HOP, RATE, Signal
from listener.ear.resample import Resampler
from listener.events import Block, EarEvent, Final, Note, Opened, Revised, Watermark, Withdrawn

LOWEST_RATE, HIGHEST_RATE = 8000, 192_000
GAP_MARGIN_S = 0.030  # the edge of lost frames reaches this far into what is heard beside it


class Engine(Protocol):
    """Hears hops of HOP samples at RATE; its events are in samples of its own, its pitches against the player's A4."""

    def push(self, hop: Signal) -> list[EarEvent]: ...

    def finish(self, end: int) -> list[EarEvent]:
        """The stream ends at sample `end`; the last event is a watermark."""


def tuning_of(a4_hz: float) -> float:
    """Semitones from a pitch counted from 440 Hz to one counted from the player's A4."""
    if not 300.0 <= a4_hz <= 600.0:
        raise ValueError(f"A4 at {a4_hz} Hz: expected 300 to 600 Hz")
    return 12.0 * log2(440.0 / a4_hz)


class Stream:
    """`rate` in Hz, 8000 to 192000. Plain state, to be copied or pickled in the middle of a stream.

    `foresee` is shown the hops that a block completes before the engine hears the first of them: some work is done
    cheaper for several at once.
    """

    def __init__(self, rate: int, engine: Engine, foresee: Callable[[Sequence[Signal]], None] | None = None) -> None:
        if not LOWEST_RATE <= rate <= HIGHEST_RATE:
            raise ValueError(f"sample rate {rate} Hz: the ear hears {LOWEST_RATE} to {HIGHEST_RATE} Hz")
        self._rate = rate
        self._engine = engine
        self._foresee = foresee
        self._resampler = Resampler(rate, RATE, HOP)
        self._origin: int | None = None
        self._received = 0
        self._hops = 0
        self._gaps: list[tuple[int, int]] = []

    def push(self, block: Block) -> list[EarEvent]:
        """Hear one block that continues the one before. Raises ValueError where it does not."""
        if self._origin is None:
            self._origin = block.start_sample
        expected = self._origin + self._received
        if block.start_sample != expected:
            raise ValueError(f"block begins at sample {block.start_sample}, expected {expected}")
        if block.gap:
            self._gaps.append((expected, expected + block.gap))
        self._received += len(block.samples)
        return self._hear(self._resampler.push(block.samples))

    def finish(self) -> list[EarEvent]:
        """The stream ends: the rest is heard, what is known becomes final, the watermark passes the end."""
        if self._origin is None:
            return []
        hops = self._received * RATE // (self._rate * HOP)
        missing = self._resampler.input_end(hops * HOP) - self._received
        events = self._hear(self._resampler.push(np.zeros(max(0, missing), np.float32)))
        end = self._received * RATE // self._rate
        events += [self._in_stream(e, self._origin + self._received) for e in self._engine.finish(end)]
        events[-1] = Watermark(self._origin + self._received + 1)
        return events

    def _hear(self, hops: list[Signal]) -> list[EarEvent]:
        assert self._origin is not None
        events: list[EarEvent] = []
        if self._foresee is not None:
            self._foresee(hops)
        for hop in hops:
            self._hops += 1
            told = self._origin + min(self._received, self._resampler.input_end(self._hops * HOP))
            events += [self._in_stream(e, told) for e in self._engine.push(hop)]
        return events

    def _in_stream(self, event: EarEvent, told: int) -> EarEvent:
        """The same event in samples of the stream."""
        match event:
            case Watermark(sample):
                return Watermark(self._sample(sample))
            case Opened() | Revised():
                return replace(event, note=self._note(event.note), told_sample=told)
            case Final() | Withdrawn():
                return replace(event, told_sample=told)

    def _note(self, note: Note) -> Note:
        onset = self._sample(note.onset_sample)
        offset = None if note.offset_sample is None else max(onset + 1, self._sample(note.offset_sample))
        return replace(
            note,
            onset_sample=onset,
            offset_sample=offset,
            touches_gap=self._touches_gap(onset, offset),
            contour=tuple((self._sample(s), p) for s, p in note.contour),
        )

    def _touches_gap(self, onset: int, offset: int | None) -> bool:
        margin = round(GAP_MARGIN_S * self._rate)
        return any(onset - margin < end and (offset is None or start < offset + margin) for start, end in self._gaps)

    def _sample(self, own: int) -> int:
        assert self._origin is not None
        return self._origin + max(0, round(own * self._rate / RATE))
