"""The grader as a push object: what the ear tells goes in, grades come out, open at first and then final.

A final grade is a pure function of the timeline and of the notes that begin before its deadline, and is told at the
first watermark that has passed that deadline. Both are decided event by event, so that live and batch, and blocks of
any size, give the same grades.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Iterable
from dataclasses import replace

from listener.events import EarEvent, Final, Note, Opened, Revised, Watermark, Withdrawn
from listener.graded import ChorusFinal, Graded, GradeEvent, GradeFinal, GradeOpened, GradeRevised, GradeWithdrawn
from listener.grading.deadline import deadline
from listener.grading.grades import grade_note
from listener.placing import NoteLine, Scene, is_dead
from listener.rules import Rules
from progressions.timeline import Timeline

_BEFORE_ALL = -(2**62)


class Grader:
    """Grades the notes of one ear over one timeline. `rate` is in Hz; plain Python, can be pickled.

    The ear keeps its word: what began before its watermark does not change. An event that breaks it raises
    ValueError, for a final grade cannot be taken back.
    """

    def __init__(self, timeline: Timeline, rules: Rules, rate: int) -> None:
        self._timeline = timeline
        self._rules = rules
        self._rate = rate
        self._line = NoteLine(rules, rate)
        self._shown: dict[int, Graded] = {}  # open notes only
        self._open: list[tuple[int, int]] = []  # (onset, id) of open notes, in order
        self._earliest: dict[int, float] = {}  # sample before which an ended open note cannot be final
        self._final: set[int] = set()
        self._watermark = _BEFORE_ALL
        self._told = _BEFORE_ALL
        self._chorus = 1  # the next chorus to become final

    def push(self, events: Iterable[EarEvent], told_sample: int) -> list[GradeEvent]:
        """Take the ear's events up to stream position `told_sample`, and tell what they make of the grades."""
        out: list[GradeEvent] = []
        for event in events:
            match event:
                case Opened() | Revised():
                    self._told = max(self._told, event.told_sample)
                    out += self._hear(event.note)
                case Withdrawn():
                    self._told = max(self._told, event.told_sample)
                    out += self._withdraw(event.id)
                case Final():
                    self._told = max(self._told, event.told_sample)
                case Watermark():
                    self._watermark = max(self._watermark, event.sample)
                    self._told = max(self._told, min(event.sample, told_sample))
                    out += self._settle()
        return out

    def finish(self, told_sample: int) -> list[GradeEvent]:
        """The stream ends at `told_sample`: what is known becomes final, a note that sounds ends there.

        A chorus left inside its last bar is over; one left before is not, and no `ChorusFinal` is told for it.
        """
        self._told = max(self._told, told_sample)
        for _, id in self._open:
            note = self._line[id]
            if note.offset_sample is None:
                self._line.put(replace(note, offset_sample=max(told_sample, note.onset_sample)))
        scene = self._scene()
        ended = [(id, deadline(self._line[id], scene)) for _, id in self._open]
        out: list[GradeEvent] = []
        for id, until in ended:
            out.append(self._close(id, scene if until is None else replace(scene, until=until)))
        self._watermark = max(self._watermark, told_sample)
        while self._chorus <= self._timeline.choruses:
            if self._watermark < scene.sample_at(float(self._timeline.last_bar_beat(self._chorus))):
                break
            out.append(self._close_chorus())
        return out

    def _scene(self) -> Scene:
        return Scene(self._line, self._timeline, self._rules, self._rate)

    def _hear(self, note: Note) -> list[GradeEvent]:
        self._refuse_late(note.id, note.onset_sample)
        is_new = note.id not in self._line
        neighbours = set() if is_new else self._neighbours(note.id)
        if not is_new:
            self._open.remove((self._line[note.id].onset_sample, note.id))
        self._line.put(note)
        insort(self._open, (note.onset_sample, note.id))
        self._note_end(note)
        out: list[GradeEvent] = []
        if is_new:
            self._shown[note.id] = grade_note(note, self._provisional(), final=False)
            out.append(GradeOpened(note.id, self._shown[note.id], self._told))
        return out + self._revise(neighbours | self._neighbours(note.id))

    def _note_end(self, note: Note) -> None:
        """Keep the cheap lower bound of the deadline, so that a watermark need not weigh every open note."""
        self._earliest.pop(note.id, None)
        if note.offset_sample is not None:
            beats = 0.0 if is_dead(note) else self._rules.approach_beats
            self._earliest[note.id] = self._scene().later(note.offset_sample, beats)

    def _withdraw(self, id: int) -> list[GradeEvent]:
        if id not in self._line:
            raise ValueError(f"note {id} was withdrawn and never opened: expected an open note")
        note = self._line[id]
        self._refuse_late(id, note.onset_sample)
        neighbours = self._neighbours(id) - {id}
        self._open.remove((note.onset_sample, id))
        self._line.drop(id)
        self._earliest.pop(id, None)
        del self._shown[id]
        return [GradeWithdrawn(id, self._told), *self._revise(neighbours)]

    def _refuse_late(self, id: int, onset_sample: int) -> None:
        if id in self._final:
            raise ValueError(f"note {id} changed after its grade was final: expected no event for it any more")
        if onset_sample < self._watermark:
            raise ValueError(
                f"note {id} begins at sample {onset_sample}, before the watermark {self._watermark}: "
                "expected nothing to change there any more"
            )

    def _neighbours(self, id: int) -> set[int]:
        """Open notes whose grade may rest on this one: itself, those before it that are still open at its onset, and
        those after it as far as it can count, in the ghost rule's window."""
        note = self._line[id]
        after = {other.id for other in self._line.nearby(note, self._rules.ghost_window + 1)}
        before = {other for onset, other in self._open if onset <= note.onset_sample}
        return (after | before) & self._shown.keys()

    def _provisional(self) -> Scene:
        return replace(self._scene(), until=float(self._told + 1))

    def _revise(self, ids: set[int]) -> list[GradeEvent]:
        scene = self._provisional()
        out: list[GradeEvent] = []
        for _, id in self._open:
            if id not in ids:
                continue
            graded = grade_note(self._line[id], scene, final=False)
            if _visible(graded) != _visible(self._shown[id]):
                out.append(GradeRevised(id, graded, self._told))
            self._shown[id] = graded
        return out

    def _settle(self) -> list[GradeEvent]:
        """Make final whatever the watermark has passed."""
        scene = self._scene()
        out: list[GradeEvent] = []
        for _, id in list(self._open):
            if self._earliest.get(id, math.inf) > self._watermark:
                continue
            until = deadline(self._line[id], scene)
            if until is not None and until <= self._watermark:
                out.append(self._close(id, replace(scene, until=until)))
        while self._chorus <= self._timeline.choruses:
            end = float(self._timeline.chorus_samples(self._chorus)[1])
            if self._watermark < end or (self._open and self._open[0][0] < end):
                break
            out.append(self._close_chorus())
        return out

    def _close(self, id: int, scene: Scene) -> GradeFinal:
        note = self._line[id]
        self._open.remove((note.onset_sample, id))
        del self._shown[id]
        self._earliest.pop(id, None)
        self._final.add(id)
        return GradeFinal(id, grade_note(note, scene), self._told)

    def _close_chorus(self) -> ChorusFinal:
        self._chorus += 1
        return ChorusFinal(self._chorus - 1, self._told)


def _visible(graded: Graded) -> tuple[object, ...]:
    """What a view shows of a grade: all of it, and of its note the onset, the pitch to a tenth of a semitone, how it
    came about, and whether it still sounds. A contour that grows is no news."""
    note = graded.note
    pitch = None if note.pitch_midi is None else round(note.pitch_midi, 1)
    came_from = None if note.from_midi is None else round(note.from_midi, 1)
    shown = (note.onset_sample, pitch, came_from, note.gesture, note.offset_sample is None)
    return (shown, replace(graded, note=_NO_NOTE))


_NO_NOTE = Note(id=-1, onset_sample=0, offset_sample=0, pitch_midi=None)
