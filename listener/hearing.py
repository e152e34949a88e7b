"""Ear and grader in one push object: blocks in, what was heard and what it was worth out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from listener.events import Block, Ear, EarEvent, Note, Opened, Revised, Watermark, Withdrawn
from listener.graded import Graded, GradeEvent, GradeFinal
from listener.grading import Grader
from listener.rules import Rules
from progressions.timeline import Timeline

HeardEvent = EarEvent | GradeEvent


def retune(event: EarEvent, offset_cents: float) -> EarEvent:
    """The same event against a guitar that lies `offset_cents` sharp as a whole."""
    if not isinstance(event, Opened | Revised) or offset_cents == 0:
        return event
    note, shift = event.note, offset_cents / 100
    if note.pitch_midi is None:
        return event
    tuned = replace(
        note,
        pitch_midi=note.pitch_midi - shift,
        from_midi=None if note.from_midi is None else note.from_midi - shift,
        contour=tuple((sample, midi - shift) for sample, midi in note.contour),
    )
    return replace(event, note=tuned)


@dataclass(slots=True)
class Hearing:
    """The one path of every take, live or from a file, from the first block to the last final grade.

    Before `begin` the ear runs alone; a note that began before it is heard and not graded. `first_shown` and
    `final_at` hold, by note id, the sample at which a view could first show a note, and its final grade.
    """

    ear: Ear
    rate: int
    offset_cents: float = 0.0
    grader: Grader | None = None
    position: int = 0
    notes: dict[int, Note] = field(default_factory=dict)
    finals: list[Graded] = field(default_factory=list)
    first_shown: dict[int, int] = field(default_factory=dict)
    final_at: dict[int, int] = field(default_factory=dict)
    _before: frozenset[int] = frozenset()

    def begin(self, timeline: Timeline, rules: Rules) -> None:
        """The changes are known from here on."""
        self.grader = Grader(timeline, rules, self.rate)
        self._before = frozenset(self.notes)

    def push(self, block: Block, now: int | None = None) -> list[HeardEvent]:
        """Everything that one block makes known, in the order in which it became known.

        `now` is how far the world has come by the time it can be shown, where that is further than the block.
        """
        self.position = block.start_sample + len(block.samples)
        return self._through(self.ear.push(block), now)

    def finish(self) -> list[HeardEvent]:
        """The stream ends: everything known becomes final."""
        events = self._through(self.ear.finish(), None)
        if self.grader is not None:
            events += self._keep(self.grader.finish(self.position), None)
        return events

    def _through(self, heard: Iterable[EarEvent], now: int | None) -> list[HeardEvent]:
        events: list[HeardEvent] = []
        for event in heard:
            tuned = retune(event, self.offset_cents)
            events.append(tuned)
            if isinstance(tuned, Opened | Revised):
                self.notes[tuned.id] = tuned.note
                self.first_shown.setdefault(tuned.id, max(tuned.told_sample, now or 0))
            elif isinstance(tuned, Withdrawn):
                self.notes.pop(tuned.id, None)
            if self.grader is not None and (isinstance(tuned, Watermark) or tuned.id not in self._before):
                told = tuned.sample if isinstance(tuned, Watermark) else tuned.told_sample
                events += self._keep(self.grader.push([tuned], told), now)
        return events

    def _keep(self, graded: list[GradeEvent], now: int | None) -> list[GradeEvent]:
        for event in graded:
            if isinstance(event, GradeFinal):
                self.final_at[event.id] = max(event.told_sample, now or 0)
                self.finals.append(event.graded)
        return graded
