"""A line as a value: notes with their place in time and on the neck, over the chords they were made for."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.neck.fretboard import Fretboard
from progressions.pitch import Spelled

# Notes in the length of a whole note, by the name of the rhythm.
RHYTHMS: dict[str, int] = {"eighths": 8, "triplets": 12, "sixteenths": 16}


@dataclass(frozen=True, slots=True)
class LineNote:
    """One note. `beat` counts from 0, the first beat of the line; `string` from 1, the highest; `fret` from the capo.

    `function` and `name` are told in the chord of the moment. Notes of one beat sound together.
    """

    beat: Fraction
    duration: Fraction
    midi: int
    name: Spelled
    string: int
    fret: int
    function: str
    finger: int = 0

    @property
    def end_beat(self) -> Fraction:
        return self.beat + self.duration


@dataclass(frozen=True, slots=True)
class LineChord:
    """A chord over the line, from `start_beat` up to but not including `end_beat`, and the zone it is played in."""

    start_beat: Fraction
    end_beat: Fraction
    chord: Chord
    zone: str


@dataclass(frozen=True, slots=True)
class Line:
    """An exercise as it is played. `bar_beats` are the first beats of its bars and, last, the beat after them.

    Raises ProgressionsError where notes are out of order.
    """

    exercise: str
    title: str
    board: Fretboard
    bar_beats: tuple[Fraction, ...]
    chords: tuple[LineChord, ...]
    notes: tuple[LineNote, ...]
    seed: int

    def __post_init__(self) -> None:
        beats = [note.beat for note in self.notes]
        if beats != sorted(beats):
            raise ProgressionsError("line: expected its notes in the order of their beats")

    def chord_at(self, beat: Fraction) -> LineChord | None:
        """The chord that sounds at a beat."""
        return next((chord for chord in self.chords if chord.start_beat <= beat < chord.end_beat), None)


def notes_a_whole(rhythm: str) -> int:
    """8, 12 or 16. Raises ProgressionsError for an unknown rhythm."""
    if rhythm not in RHYTHMS:
        raise ProgressionsError(f"rhythm {rhythm!r}: expected one of {', '.join(RHYTHMS)}")
    return RHYTHMS[rhythm]
