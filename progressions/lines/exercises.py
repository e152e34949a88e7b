"""Exercises over any chart, as lines on the neck: a table of their names, each made from chart, zone, rhythm and seed.

The same seed makes the same line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from progressions.changes import Chart
from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.lines.drill import drill_bars
from progressions.lines.hand import hand_at
from progressions.lines.line import Line, LineChord, LineNote, notes_a_whole
from progressions.lines.player import DOWN, UP, Player, third_pairs
from progressions.lines.slots import Passage, passages
from progressions.neck.fretboard import ZONE_FRETS, Fretboard
from progressions.neck.zones import FORM_NAMES, Zone, has_forms, zone_at, zones
from progressions.timeline import Timeline, TimeMap, closing_chord

Way = Callable[[Player, Passage], list[LineNote]]
DIRECTIONS = {"up": UP, "down": DOWN}
DEFAULT_FORM = "E"
LAST_SEED = 2**32 - 1
MIXTURE = "mixture"
ARPEGGIOS = "arpeggios"

# The exercises that go through the changes: name -> way of playing over a chord, and what it is.
WAYS: dict[str, tuple[Way, str]] = {
    "connection": (Player.connection, "up and down the arpeggios within one zone, to the nearest tone at each change"),
    "guide-tones": (Player.guide_tones, "thirds and sevenths, each to the nearest of the next chord"),
    "blue-thirds": (Player.flat_thirds, "♭3 into the 3 of every chord with a major third"),
    "degrees": (Player.from_degrees, "arpeggios from each degree of the chord in turn"),
}
EXERCISES: dict[str, str] = {
    ARPEGGIOS: "each chord's arpeggio from its lowest root in each zone, between two chord shapes",
    **{name: about for name, (_, about) in WAYS.items()},
    MIXTURE: "a mixture of these ways, chord by chord",
}


@dataclass(frozen=True, slots=True)
class Wish:
    """What an exercise is asked for: `zone` is a form, a lowest fret or None; `direction` up, down or None."""

    zone: str | None = None
    rhythm: str = "eighths"
    direction: str | None = None
    seed: int = 0

    def __post_init__(self) -> None:
        notes_a_whole(self.rhythm)
        if self.direction is not None and self.direction not in DIRECTIONS:
            raise ProgressionsError(f"direction {self.direction!r}: expected up or down")
        if not 0 <= self.seed <= LAST_SEED:
            raise ProgressionsError(f"seed {self.seed}: expected 0 to {LAST_SEED}")


def make_line(exercise: str, chart: Chart, board: Fretboard, wish: Wish | None = None) -> Line:
    """The line of an exercise over a chart. Raises ProgressionsError for an unknown exercise, zone or rhythm, and where
    the tuning does not hold the chords."""
    asked = Wish() if wish is None else wish
    if exercise not in EXERCISES:
        raise ProgressionsError(f"exercise {exercise!r}: expected one of {', '.join(EXERCISES)}")
    if exercise == ARPEGGIOS:
        notes, marks, bars = drill_bars(_drill_zones(chart, board, asked.zone), chart.meter, asked.rhythm)
        return Line(exercise, chart.title, board, bars, tuple(marks), tuple(notes), asked.seed)
    return _through_changes(exercise, chart, board, asked)


def _through_changes(exercise: str, chart: Chart, board: Fretboard, wish: Wish) -> Line:
    timeline = Timeline(chart, 1, TimeMap.steady(48000, 60), closing_bars=1)
    low, label = hand_of(chart, board, wish.zone)
    chords = [span.chord for span in timeline.spans if not span.chord.is_no_chord]
    hand = hand_at(board, low, chords)
    player = Player(hand, wish.seed, None if wish.direction is None else DIRECTIONS[wish.direction])
    if exercise == "blue-thirds" and not any(third_pairs(player.reach(chord)) for chord in chords):
        raise ProgressionsError(f"frets {low} to {low + ZONE_FRETS - 1} hold no major third with its ♭3: expected some")
    notes: list[LineNote] = []
    marks: list[LineChord] = []
    for passage in passages(timeline, wish.rhythm):
        chord = passage.span.chord
        marks.append(LineChord(passage.slots[0].beat, passage.end_beat, chord, label))
        if not chord.is_no_chord:
            notes += _way(exercise, player, chord)(player, passage)
    bars = (*(bar.start_beat for bar in timeline.bars), timeline.bars[-1].end_beat)
    return Line(exercise, chart.title, board, bars, tuple(marks), tuple(notes), wish.seed)


def _way(exercise: str, player: Player, chord: Chord) -> Way:
    """The exercise's own way, or in a mixture one that the seed chooses among those that sound over the chord."""
    if exercise != MIXTURE:
        return WAYS[exercise][0]
    fitting = [way for name, (way, _) in WAYS.items() if name != "blue-thirds" or third_pairs(player.reach(chord))]
    return player.choose(fitting)


def hand_of(chart: Chart, board: Fretboard, wanted: str | None) -> tuple[int, str]:
    """The lowest fret of the hand, and the zone's name: a form is that of the chart's tonic chord, a number the fret.

    Without a wish the E form, or the first position. ProgressionsError where the neck has none such.
    """
    if wanted is not None and wanted.strip().isdigit():
        low = int(wanted)
        if low + ZONE_FRETS - 1 > board.last_fret:
            last = board.last_fret - ZONE_FRETS + 1
            raise ProgressionsError(f"zone at fret {low}: expected 0 to {last} on this neck")
        return low, f"frets {low}–{low + ZONE_FRETS - 1}"
    tonic = closing_chord(chart)
    if tonic.is_no_chord:
        tonic = next((c.chord for bar in chart.bars for c in bar.chords if not c.chord.is_no_chord), tonic)
    if wanted is not None:
        zone = zone_at(tonic, board, wanted)
    else:
        found = zones(tonic, board)
        zone = next((zone for zone in found if zone.form == DEFAULT_FORM), found[0])
    name = f"{zone.form} form of {tonic}" if zone.form else f"frets {zone.lowest_fret}–{zone.highest_fret}"
    return zone.lowest_fret, name


def _drill_zones(chart: Chart, board: Fretboard, wanted: str | None) -> list[Zone]:
    """The zones to drill: of each chord of the chart, once, all of them or the one wanted (or nearest to that fret)."""
    seen: dict[frozenset[int], Chord] = {}
    for bar in chart.bars:
        for c in bar.chords:
            if not c.chord.is_no_chord:
                seen.setdefault(c.chord.pitch_classes, c.chord)
    if not seen:
        raise ProgressionsError("the chart has no chords to play: expected some besides N.C.")
    drilled: list[Zone] = []
    for chord in seen.values():
        if wanted is None:
            drilled += zones(chord, board)
        elif wanted.strip().isdigit() or not has_forms(board) or wanted.strip().upper() not in FORM_NAMES:
            drilled.append(_nearest_zone(chord, board, wanted))
        else:
            drilled.append(zone_at(chord, board, wanted))
    return drilled


def _nearest_zone(chord: Chord, board: Fretboard, wanted: str) -> Zone:
    if not wanted.strip().isdigit():
        return zone_at(chord, board, wanted)  # which says what would be right
    fret = int(wanted)
    return min(zones(chord, board, everywhere=True), key=lambda zone: (abs(zone.lowest_fret - fret), zone.lowest_fret))
