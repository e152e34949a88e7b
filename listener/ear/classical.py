"""The classical live ear: attacks, autocorrelation and a state machine; causal, streaming, without training.

It resamples to a rate of its own, looks at hops of 5.8 ms, and tells notes in the samples of the stream. A slurred
note is told apart from its start when that stood for 40 ms (never less than four periods of the lower pitch and 10 ms),
a bend when its start stood for 120 ms.
"""

from __future__ import annotations

from dataclasses import replace

from listener.ear.frames import Signal
from listener.ear.frontend import FrontEnd
from listener.ear.stream import HIGHEST_RATE, LOWEST_RATE, Stream, tuning_of
from listener.ear.tracker import Tracker
from listener.events import Block, EarEvent, Note, Opened, Revised

__all__ = ["HIGHEST_RATE", "LOWEST_RATE", "ClassicalEar"]


class _Engine:
    """Hops in, events out, in the ear's own samples."""

    def __init__(self, tuning: float) -> None:
        self._tuning = tuning
        self._front = FrontEnd()
        self._tracker = Tracker()

    def push(self, hop: Signal) -> list[EarEvent]:
        return [self._tuned(e) for e in self._tracker.push(self._front.push(hop))]

    def finish(self, end: int) -> list[EarEvent]:
        return [self._tuned(e) for e in self._tracker.finish(end)]

    def _tuned(self, event: EarEvent) -> EarEvent:
        """The same event with its pitches counted from the player's A4."""
        if isinstance(event, Opened | Revised):
            return replace(event, note=self._note(event.note))
        return event

    def _note(self, note: Note) -> Note:
        return replace(
            note,
            pitch_midi=None if note.pitch_midi is None else note.pitch_midi + self._tuning,
            from_midi=None if note.from_midi is None else note.from_midi + self._tuning,
            contour=tuple((s, p + self._tuning) for s, p in note.contour),
        )


class ClassicalEar:
    """`rate` in Hz, 8000 to 192000; `a4_hz` is the player's A4.

    Plain state: an ear can be pickled or copied in the middle of a stream and goes on the same.
    """

    def __init__(self, rate: int, a4_hz: float = 440.0) -> None:
        self._stream = Stream(rate, _Engine(tuning_of(a4_hz)))

    @property
    def version(self) -> str:
        return "classical/1"

    def push(self, block: Block) -> list[EarEvent]:
        """Hear one block that continues the one before. Raises ValueError where it does not."""
        return self._stream.push(block)

    def finish(self) -> list[EarEvent]:
        """The stream ends: the rest is heard, what is known becomes final, the watermark passes the end."""
        return self._stream.finish()
