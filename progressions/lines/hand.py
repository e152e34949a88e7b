"""What one hand reaches: the tones of each chord of a chart within five frets, from the lowest pitch up.

Where the tuning leaves a gap that holds a tone of one of the chords, the line keeps to the widest register without one:
the gap is an edge like that of the zone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.lines.line import LineNote
from progressions.neck.fretboard import Fretboard, FrettedNote, places, told_tones
from progressions.neck.zones import tones_at

LEAST_TONES = 2  # a line needs somewhere to go


@dataclass(frozen=True, slots=True)
class Reach:
    """The tones of one chord under the hand, lowest first, and the minor thirds beside its major ones by MIDI."""

    chord: Chord
    tones: tuple[FrettedNote, ...]
    flat_thirds: dict[int, FrettedNote] = field(hash=False)

    def next_in(self, midi: int, direction: int) -> FrettedNote | None:
        """The nearest tone over (1) or under (-1) a pitch; None at the edge."""
        if direction > 0:
            return next((tone for tone in self.tones if tone.midi > midi), None)
        return next((tone for tone in reversed(self.tones) if tone.midi < midi), None)

    def nearest(self, midi: int, among: Iterable[int] | None = None) -> FrettedNote:
        """The tone nearest to a pitch, itself included, the lower of two; `among` limits the pitch classes."""
        classes = None if among is None else set(among)
        tones = [tone for tone in self.tones if classes is None or tone.midi % 12 in classes] or list(self.tones)
        return min(tones, key=lambda tone: (abs(tone.midi - midi), tone.midi))


@dataclass(frozen=True, slots=True)
class Hand:
    """A hand at frets `lowest_fret` to + 4 that plays through `chords`; `low_midi` to `high_midi` is its register."""

    board: Fretboard
    lowest_fret: int
    low_midi: int
    high_midi: int

    def reach(self, chord: Chord) -> Reach:
        """The chord's tones under the hand. ProgressionsError where there are too few for a line."""
        notes, flats, _ = tones_at(chord, told_tones(chord), self.board, self.lowest_fret)
        tones = tuple(note for note in notes if self.low_midi <= note.midi <= self.high_midi)
        if len(tones) < LEAST_TONES:
            raise ProgressionsError(
                f"frets {self.lowest_fret} to {self.lowest_fret + 4} of this tuning hold {len(tones)} tones of {chord} "
                f"in one register: expected {LEAST_TONES} or more"
            )
        thirds = {note.midi + 1: note for note in flats if note.midi >= self.low_midi}
        return Reach(chord, tones, thirds)


def hand_at(board: Fretboard, lowest_fret: int, chords: Iterable[Chord]) -> Hand:
    """The hand at a fret, in the widest register without a gap in any of the chords; the higher of two as wide."""
    reached = places(board.open_midis, lowest_fret)
    classes = {pitch_class for chord in chords for pitch_class in chord.pitch_classes}
    runs: list[tuple[int, int]] = []
    start = previous = min(reached)
    for midi in [*sorted(reached)[1:], None]:
        if midi is None or any(missing % 12 in classes for missing in range(previous + 1, midi)):
            runs.append((start, previous))
            start = midi if midi is not None else start
        previous = midi if midi is not None else previous
    low, high = max(runs, key=lambda run: (run[1] - run[0], run[0]))
    return Hand(board, lowest_fret, low, high)


def line_note(note: FrettedNote, beat: Fraction, duration: Fraction) -> LineNote:
    """A note of the neck at its beat."""
    return LineNote(beat, duration, note.midi, note.name, note.string, note.fret, note.function, note.finger)
