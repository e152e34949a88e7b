"""The line that is measured: which heard notes form it, and where each lies in beats.

A double stop counts in the line once, by its highest note, since the top voice is heard as the melody; every other
measure counts each of its notes. Ghosts, dead notes and notes that touch lost input are not part of the line; pick-ups
and notes over N.C. are, since a landing moves from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from listener.graded import Graded
from listener.placing import semitone
from listener.rules import Rules
from progressions.chords import Chord
from progressions.timeline import Timeline

NO_HARMONY = ("pick-up", "no chord", "after the end")  # not scored, and part of the line all the same


@dataclass(frozen=True, slots=True)
class Played:
    """A graded note with its pitch in whole semitones (MIDI) and its onset and end in beats of the timeline.

    `end_beat` is infinite while the note sounds. `line` tells the notes of the line from the lower notes of a double
    stop.
    """

    graded: Graded
    semitone: int
    onset_beat: float
    end_beat: float
    line: bool = True

    @property
    def pitch_class(self) -> int:
        return self.semitone % 12

    @property
    def scored(self) -> bool:
        return self.graded.scored and self.graded.grade is not None


def is_in_line(graded: Graded) -> bool:
    """Whether the note has a pitch that can be told and is a note of the line."""
    pitched = graded.note.pitch_midi is not None and not graded.note.unsure and not graded.note.touches_gap
    return pitched and (graded.scored or graded.why_not in NO_HARMONY)


def played_notes(graded: Sequence[Graded], timeline: Timeline, rules: Rules, rate: int) -> list[Played]:
    """The notes of the line in order of onset, double stops marked; the order of `graded` does not matter."""
    heard = sorted(
        (g for g in graded if is_in_line(g)), key=lambda g: (g.note.onset_sample, -(g.note.pitch_midi or 0.0))
    )
    window, tops, played = rules.double_stop_s * rate, set[int](), list[Played]()
    group: list[Graded] = []
    for note in [*heard, None]:
        if group and (note is None or note.note.onset_sample - group[0].note.onset_sample > window):
            tops.add(max(group, key=lambda g: g.note.pitch_midi or 0.0).note.id)
            group = []
        if note is not None:
            group.append(note)
    beat_at = timeline.time_map.beat_at
    for note in heard:
        pitch, end = note.note.pitch_midi, note.note.offset_sample
        if pitch is not None:
            end_beat = float("inf") if end is None else float(beat_at(end))
            onset_beat = float(beat_at(note.note.onset_sample))
            played.append(Played(note, semitone(pitch), onset_beat, end_beat, note.note.id in tops))
    return played


def tones_of(chord: Chord, rules: Rules) -> frozenset[int]:
    """Pitch classes that count as tones of the chord: its own, and its colour where the player has set so."""
    if chord.is_no_chord or not rules.colour_is_chord_tone:
        return chord.pitch_classes
    return chord.pitch_classes | {pc for pc in range(12) if chord.is_colour(pc)}
