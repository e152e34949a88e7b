"""The line as heard so far: notes in the order in which they sound, and who follows whom.

Two sorts of neighbour matter. An *onset* takes a place in time: every pitched note but a ghost has one. The *melody*
is what a note may resolve into: pitched, no ghost, and not one of the notes that the ear could not separate.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterator
from statistics import median

from listener.events import Gesture, Note
from listener.rules import Rules

_Key = tuple[int, float, int, int]


def semitone(pitch_midi: float) -> int:
    """The nearest MIDI number, halves upward; a millionth of a semitone of float noise never decides."""
    return math.floor(round(pitch_midi, 6) + 0.5)


def is_dead(note: Note) -> bool:
    """An attack without a pitch."""
    return note.gesture is Gesture.DEAD or note.pitch_midi is None


def _key(note: Note) -> _Key:
    # The id comes last: simultaneous notes sort by pitch, whatever the order in which the ear told them.
    pitch = -1.0 if note.pitch_midi is None else note.pitch_midi
    return (note.onset_sample, pitch, note.voice, note.id)


class NoteLine:
    """Notes by onset. Holds state, knows no time but sample indices at `rate` Hz."""

    def __init__(self, rules: Rules, rate: int) -> None:
        self._notes: dict[int, Note] = {}
        self._order: list[_Key] = []
        self._stroke = rules.double_stop_s * rate + 1e-6
        self._floor = rules.ghost_confidence
        self._drop_db = rules.ghost_below_db
        self._window = rules.ghost_window

    def __contains__(self, id: int) -> bool:
        return id in self._notes

    def __getitem__(self, id: int) -> Note:
        return self._notes[id]

    def put(self, note: Note) -> None:
        """Add a note, or replace the one of the same id."""
        self.drop(note.id)
        self._notes[note.id] = note
        insort(self._order, _key(note))

    def drop(self, id: int) -> None:
        """Take a note out; unknown ids are none already."""
        known = self._notes.pop(id, None)
        if known is not None:
            del self._order[bisect_left(self._order, _key(known))]

    def notes_from(self, sample: float) -> Iterator[Note]:
        """All notes that begin at `sample` or later, in order."""
        for key in self._order[bisect_left(self._order, (math.ceil(sample), -math.inf, 0, 0)) :]:
            yield self._notes[key[3]]

    def nearby(self, note: Note, count: int) -> list[Note]:
        """The `count` notes that come after this one in order, whatever their voice."""
        here = bisect_right(self._order, _key(note))
        return [self._notes[key[3]] for key in self._order[here : here + count]]

    def is_ghost(self, note: Note) -> bool:
        """Confidence under the floor, or far softer than the median of the notes before it.

        With fewer than half the window of notes before it there is no median to speak of, and level says nothing.
        Nor does it of a slurred note: it has no attack, and is as soft as its string has become by then.
        """
        if note.confidence < self._floor:
            return True
        if note.slurred_from is not None:
            return False
        levels: list[float] = []
        for index in range(bisect_left(self._order, _key(note)) - 1, -1, -1):
            other = self._notes[self._order[index][3]]
            if not is_dead(other) and other.confidence >= self._floor:
                levels.append(other.level_db)
            if len(levels) == self._window:
                break
        return len(levels) >= self._window / 2 and note.level_db < median(levels) - self._drop_db

    def same_stroke(self, note: Note, other: Note) -> bool:
        """True for the notes of a double stop (and for a note and itself)."""
        if note.id in (other.slurred_from, other.id) or other.id == note.slurred_from:
            return note.id == other.id
        return abs(note.onset_sample - other.onset_sample) <= self._stroke

    def is_melodic(self, note: Note) -> bool:
        return not is_dead(note) and not note.unsure and not self.is_ghost(note)

    def following(self, note: Note, until: float) -> Iterator[Note]:
        """Melodic notes of the same voice that begin after this one and before sample `until`, in order."""
        for index in range(bisect_right(self._order, _key(note)), len(self._order)):
            key = self._order[index]
            if key[0] >= until:
                return
            other = self._notes[key[3]]
            if other.voice == note.voice and not self.same_stroke(note, other) and self.is_melodic(other):
                yield other

    def preceding(self, note: Note, since: float) -> Iterator[Note]:
        """Melodic notes of the same voice that began before this one, not before sample `since`, latest first."""
        for index in range(bisect_left(self._order, _key(note)) - 1, -1, -1):
            key = self._order[index]
            if key[0] < since:
                return
            other = self._notes[key[3]]
            if other.voice == note.voice and not self.same_stroke(note, other) and self.is_melodic(other):
                yield other

    def other_onset(self, note: Note, start: float, end: float) -> bool:
        """Whether an onset of another stroke than this note's, in any voice, lies in [start, end)."""
        for other in self.notes_from(start):
            if other.onset_sample >= end:
                return False
            if not is_dead(other) and not self.same_stroke(note, other) and not self.is_ghost(other):
                return True
        return False
