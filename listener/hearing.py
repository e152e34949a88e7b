"""Ear and grader in one push object: blocks in, what was heard and what it was worth out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from listener.events import Block, Ear, EarEvent, Note, Opened, Revised, Watermark
from listener.graded import ChorusFinal, Graded, GradeEvent, GradeFinal, GradeOpened
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
    start = None if note.from_midi is None else note.from_midi - shift
    return replace(event, note=replace(note, pitch_midi=note.pitch_midi - shift, from_midi=start))


@dataclass(slots=True)
class Hearing:
    """The one path of every take, live or from a file, from the first block to the last final grade.

    Before `begin` the ear runs and its events are kept back from grading; notes from `begin` on are graded.
    """

    ear: Ear
    rate: int
    offset_cents: float = 0.0
    grader: Grader | None = None
    position: int = 0
    finals: list[Graded] = field(default_factory=list)
    ended: list[ChorusFinal] = field(default_factory=list)
    first_shown: dict[int, int] = field(default_factory=dict)
    final_at: dict[int, int] = field(default_factory=dict)

    def begin(self, timeline: Timeline, rules: Rules) -> None:
        """The changes are known from here on."""
        self.grader = Grader(timeline, rules, self.rate)

    def push(self, block: Block) -> list[HeardEvent]:
        """Everything that one block makes known, in the order in which it became known."""
        self.position = block.start_sample + len(block.samples)
        return self._through(self.ear.push(block))

    def finish(self) -> list[HeardEvent]:
        """The stream ends: everything known becomes final."""
        events = self._through(self.ear.finish())
        if self.grader is not None:
            events += self._keep(self.grader.finish(self.position))
        return events

    def _through(self, heard: Iterable[EarEvent]) -> list[HeardEvent]:
        events: list[HeardEvent] = []
        for event in heard:
            tuned = retune(event, self.offset_cents)
            events.append(tuned)
            if self.grader is not None:
                told = tuned.sample if isinstance(tuned, Watermark) else tuned.told_sample
                events += self._keep(self.grader.push([tuned], told))
        return events

    def _keep(self, graded: list[GradeEvent]) -> list[GradeEvent]:
        for event in graded:
            if isinstance(event, GradeOpened):
                self.first_shown.setdefault(event.id, event.told_sample)
            elif isinstance(event, GradeFinal):
                self.final_at[event.id] = event.told_sample
                self.finals.append(event.graded)
            elif isinstance(event, ChorusFinal):
                self.ended.append(event)
        return graded


def steady_notes(events: Iterable[HeardEvent]) -> list[Note]:
    """The last word on each note among `events`, in order of id."""
    notes: dict[int, Note] = {}
    for event in events:
        if isinstance(event, Opened | Revised):
            notes[event.id] = event.note
    return [notes[key] for key in sorted(notes)]
