"""The arpeggio drill: a chord in a zone, from its lowest root through every tone and back, between two chord shapes.

Common practice of the guitar: the chord shape sounds, the arpeggio starts and ends on the lowest root in the zone, goes
up to the highest chord tone, down to the lowest and back to the root, and the shape sounds again.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from progressions.bars import Meter
from progressions.lines.hand import line_note
from progressions.lines.line import LineChord, LineNote
from progressions.lines.slots import step_beats
from progressions.neck.fretboard import FrettedNote
from progressions.neck.zones import Zone

SHAPE_BEATS = 2


def drill_tones(zone: Zone) -> list[FrettedNote]:
    """The tones of the drill in order: root, up to the highest, down to the lowest, back to the root."""
    tones, root = zone.notes, zone.notes.index(zone.lowest_root)
    return [*tones[root:], *tones[-2::-1], *tones[1 : root + 1]]


def drill_bars(
    zones: Sequence[Zone], meter: Meter, rhythm: str
) -> tuple[list[LineNote], list[LineChord], tuple[Fraction, ...]]:
    """Notes, chords and bar lines of the drills one after the other, each from the beginning of a bar."""
    notes: list[LineNote] = []
    chords: list[LineChord] = []
    start, per_bar, step = Fraction(0), meter.beats_per_bar, step_beats(meter, rhythm)
    for zone in zones:
        notes += _sounded(zone, start, Fraction(SHAPE_BEATS))
        beat = start + SHAPE_BEATS
        for tone in drill_tones(zone):
            notes.append(line_note(tone, beat, step))
            beat += step
        beat = Fraction(ceil(beat))
        end = start + per_bar * ceil((beat + 1 - start) / per_bar)
        notes += _sounded(zone, beat, end - beat)
        chords.append(LineChord(start, end, zone.chord, f"{zone.form} form" if zone.form else zone.title))
        start = end
    bars = tuple(Fraction(beat) for beat in range(0, int(start) + 1, per_bar))
    return notes, chords, bars


def _sounded(zone: Zone, beat: Fraction, duration: Fraction) -> list[LineNote]:
    return [line_note(note, beat, duration) for note in zone.shape.notes]
