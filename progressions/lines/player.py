"""The ways to play over one chord: each takes a passage and goes on from where the line stands.

A `Player` remembers the last pitch and the direction, so that ways can follow one another in one line.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from random import Random
from typing import TypeVar

from progressions.chords import Chord
from progressions.lines.hand import Hand, Reach, line_note
from progressions.lines.line import LineNote
from progressions.lines.slots import Passage, Slot
from progressions.neck.fretboard import FrettedNote

UP, DOWN = 1, -1
LONGEST_ARPEGGIO = 4  # tones of an arpeggio from a degree
_T = TypeVar("_T")


class Player:
    """Where a line stands: `last_midi` (None before the first note) and `direction`. The seed alone makes choices."""

    def __init__(self, hand: Hand, seed: int, direction: int | None) -> None:
        self.hand, self._random = hand, Random(seed)
        first = self.choose((UP, DOWN))
        self.direction = first if direction is None else direction
        self.last_midi: int | None = None
        self._degree = int(self._random.random() * LONGEST_ARPEGGIO)
        self._chord: Chord | None = None
        self._reaches: dict[Chord, Reach] = {}

    def choose(self, among: Sequence[_T]) -> _T:
        """One of several; `random()` is the one method whose sequence Python keeps over its versions."""
        return among[int(self._random.random() * len(among))]

    def reach(self, chord: Chord) -> Reach:
        """The chord under the hand."""
        if chord not in self._reaches:
            self._reaches[chord] = self.hand.reach(chord)
        return self._reaches[chord]

    def connection(self, passage: Passage) -> list[LineNote]:
        """Unbroken, to the next tone in the line's direction; at the edge it turns first, then takes the next tone."""
        reach = self.reach(passage.span.chord)
        return [self._sound(self._onward(reach), slot) for slot in passage.slots]

    def guide_tones(self, passage: Passage) -> list[LineNote]:
        """The nearest guide tone, a new one where a bar begins in the same chord; without guide tones any tone."""
        chord = passage.span.chord
        reach, guides = self.reach(chord), set(chord.guide_tones)
        same = self._chord is not None and self._chord.pitch_classes == chord.pitch_classes
        notes = []
        for slots in passage.by_bar():
            others = guides - {self.last_midi % 12} if same and self.last_midi is not None else guides
            tone = self._start(reach, guides) if self.last_midi is None else reach.nearest(self.last_midi, others)
            notes.append(self._sound(tone, slots[0], slots[-1].end_beat))
            same = True
        self._chord = chord
        return notes

    def flat_thirds(self, passage: Passage) -> list[LineNote]:
        """♭3 into 3 within a beat, once a bar at each major third under the hand, by turns upwards and downwards."""
        pairs = third_pairs(self.reach(passage.span.chord))
        notes: list[LineNote] = []
        if not pairs:
            return notes
        for slots in passage.by_bar():
            each = max(2, int(1 / slots[0].duration))
            ordered = pairs if self.direction > 0 else pairs[::-1]
            for number, (flat, third) in enumerate(ordered):
                group = slots[number * each : (number + 1) * each]
                if len(group) >= 2:
                    notes += [self._sound(flat, group[0]), self._sound(third, group[1], group[-1].end_beat)]
            self.direction = -self.direction
        return notes

    def from_degrees(self, passage: Passage) -> list[LineNote]:
        """Arpeggios of up to four tones, each from the next degree of the chord, upwards where the zone has room."""
        reach = self.reach(passage.span.chord)
        held = {tone.function for tone in reach.tones}
        functions = [function for function in reach.chord.functions if function in held]
        size = min(len(functions), LONGEST_ARPEGGIO)
        notes: list[LineNote] = []
        for at in range(0, len(passage.slots), size):
            run = self._arpeggio(reach, functions[self._degree % len(functions)], size)
            self._degree += 1
            notes += [self._sound(tone, slot) for tone, slot in zip(run, passage.slots[at : at + size], strict=False)]
        return notes

    def _arpeggio(self, reach: Reach, function: str, size: int) -> tuple[FrettedNote, ...]:
        """`size` tones from the given function on, from the place nearest to the last note."""
        tones, runs = reach.tones, []
        for at, tone in enumerate(tones):
            if tone.function == function and at + size <= len(tones):
                runs.append((0, tones[at : at + size]))
            if tone.function == function and at - size + 1 >= 0:
                runs.append((1, tones[at - size + 1 : at + 1][::-1]))
        if not runs:
            return tones[:size]
        last = tones[0].midi if self.last_midi is None else self.last_midi
        return min(runs, key=lambda run: (run[0], abs(run[1][0].midi - last), run[1][0].midi))[1]

    def _onward(self, reach: Reach) -> FrettedNote:
        if self.last_midi is None:
            return self.choose(reach.tones)
        tone = reach.next_in(self.last_midi, self.direction)
        if tone is None:
            self.direction = -self.direction
            tone = reach.next_in(self.last_midi, self.direction)
        assert tone is not None  # two tones at least are under the hand
        return tone

    def _start(self, reach: Reach, classes: set[int]) -> FrettedNote:
        return self.choose([tone for tone in reach.tones if tone.midi % 12 in classes] or reach.tones)

    def _sound(self, tone: FrettedNote, slot: Slot, end_beat: Fraction | None = None) -> LineNote:
        self.last_midi = tone.midi
        return line_note(tone, slot.beat, (slot.end_beat if end_beat is None else end_beat) - slot.beat)


def third_pairs(reach: Reach) -> list[tuple[FrettedNote, FrettedNote]]:
    """Each major third under the hand with the minor third a semitone below it, which over ♯9 is a chord tone."""
    by_midi = {tone.midi: tone for tone in reach.tones}
    pairs = []
    for tone in reach.tones:
        flat = reach.flat_thirds.get(tone.midi) or by_midi.get(tone.midi - 1)
        if tone.function == "3" and flat is not None:
            pairs.append((flat, tone))
    return pairs
