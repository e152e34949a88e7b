"""The five zones of a chord, and the positions that take their place where the tuning has no chord forms.

A zone is frets f to f + 4, anchored on the lowest root of one of the five open chord forms C A G E D, moved up the
neck. It holds every chord tone from its lowest to its highest pitch once; pitches between that no string reaches there
are its gaps. Common practice of the guitar.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain

from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.neck.fingers import arpeggio_fingers
from progressions.neck.fretboard import ZONE_FRETS, Fretboard, FrettedNote, Told, places, told_tones
from progressions.neck.shapes import Shape, chord_shape
from progressions.pitch import Spelled

MINOR_THIRD = ("♭3", 3)


@dataclass(frozen=True, slots=True)
class Form:
    """An open chord form: on which string its lowest root lies, and how the hand stands to it.

    `root_below_third` counts strings down from the one that has the major third above it (G in standard tuning).
    `first_finger` is the zone's lowest fret, counted from the root's.
    """

    name: str
    root_below_third: int
    first_finger: int


# E, A and D forms have their root under the second finger; C and G forms under the fourth.
FORMS: tuple[Form, ...] = (
    Form("C", 2, -3),
    Form("A", 2, -1),
    Form("G", 3, -3),
    Form("E", 3, -1),
    Form("D", 1, -1),
)
FORM_NAMES = tuple(form.name for form in FORMS)
STRINGS_OVER_THIRD = 2  # forms need two strings over the one with the third above it: B and E in standard tuning
STRINGS_UNDER_THIRD = 3


@dataclass(frozen=True, slots=True)
class Gap:
    """A chord tone within a zone's register that no string reaches there. `below_string` is the string above it."""

    midi: int
    function: str
    name: Spelled
    below_string: int


@dataclass(frozen=True, slots=True)
class Zone:
    """The arpeggio of a chord at frets `lowest_fret` to `lowest_fret` + 4.

    `form` is "C", "A", "G", "E" or "D", or "" for a position. `root` is the root it is anchored on. `notes` are the
    chord tones from the lowest up, `flat_thirds` the minor thirds beside the major ones, `shape` the chord beneath.
    """

    chord: Chord
    form: str
    lowest_fret: int
    root: FrettedNote
    notes: tuple[FrettedNote, ...]
    flat_thirds: tuple[FrettedNote, ...]
    gaps: tuple[Gap, ...]
    shape: Shape

    @property
    def highest_fret(self) -> int:
        return self.lowest_fret + ZONE_FRETS - 1

    @property
    def used_frets(self) -> tuple[int, int]:
        """The lowest and the highest fret on which a chord tone lies."""
        frets = [note.fret for note in self.notes]
        return min(frets), max(frets)

    @property
    def lowest_root(self) -> FrettedNote:
        """Where an arpeggio drill starts and ends; a seventh string may hold a lower one than the form's."""
        return next(note for note in self.notes if note.function == "R")

    @property
    def title(self) -> str:
        """ "E form, frets 2–6" or "position, frets 4–8"."""
        low, high = self.used_frets
        return f"{self.form} form, frets {low}–{high}" if self.form else f"position, frets {low}–{high}"


def has_forms(board: Fretboard) -> bool:
    """Whether the tuning is fourths with one third, with the strings that the five forms need."""
    third = board.tuning.third_at
    return third is not None and STRINGS_UNDER_THIRD <= third < board.strings - STRINGS_OVER_THIRD


def zones(chord: Chord, board: Fretboard, *, everywhere: bool = False) -> tuple[Zone, ...]:
    """The zones of a chord from the nut up, each once where it lies lowest, or with `everywhere` also higher.

    Five by form where the tuning has forms and the neck room; else positions, one for each root that the hand finds
    elsewhere. ProgressionsError for no chord, and where the neck has no room for any.
    """
    if chord.root is None:
        raise ProgressionsError("N.C. has no tones to show on the neck: expected a chord")
    anchors = _form_anchors(chord, board) if has_forms(board) else _position_anchors(chord, board)
    if everywhere:
        moved = ((form, string, fret + 12, low + 12) for form, string, fret, low in _unclipped(anchors))
        anchors = [*anchors, *moved]
    told = told_tones(chord)
    fitting = [anchor for anchor in anchors if anchor[3] + ZONE_FRETS - 1 <= board.last_fret]
    if not fitting:
        least = min(anchor[3] for anchor in anchors) + ZONE_FRETS - 1
        raise ProgressionsError(f"no zone of {chord} on {board.last_fret} frets: expected at least {least}")
    return tuple(_zone(chord, told, board, *anchor) for anchor in sorted(fitting, key=lambda at: (at[3], at[2])))


def forms_without_room(found: tuple[Zone, ...], board: Fretboard) -> tuple[str, ...]:
    """Names of the forms that `zones` had to leave out for want of frets."""
    return tuple(name for name in FORM_NAMES if name not in {zone.form for zone in found}) if has_forms(board) else ()


def zone_at(chord: Chord, board: Fretboard, wanted: str) -> Zone:
    """The zone named by its form ("E") or by its lowest fret, as window or as used ("7"). ProgressionsError if none."""
    everywhere = zones(chord, board, everywhere=True)
    name = wanted.strip().removesuffix(" form").upper()
    for zone in everywhere:
        if name == zone.form and name:
            return zone
    if name.isdigit():
        for zone in sorted(everywhere, key=lambda zone: zone.lowest_fret != int(name)):
            if int(name) in (zone.lowest_fret, zone.used_frets[0]):
                return zone
    starts = ", ".join(dict.fromkeys(str(zone.lowest_fret) for zone in everywhere))
    known = (
        f"{', '.join(FORM_NAMES)} or a lowest fret of {starts}" if has_forms(board) else f"a lowest fret of {starts}"
    )
    raise ProgressionsError(f"zone {wanted!r} of {chord}: expected {known}")


_Anchor = tuple[str, int, int, int]  # form, string from 0, fret of the root, lowest fret of the zone


def _form_anchors(chord: Chord, board: Fretboard) -> list[_Anchor]:
    third = board.tuning.third_at or 0
    found = []
    for form in FORMS:
        string = third - form.root_below_third
        fret = _root_fret(chord, board, string)
        # At the nut nothing lies behind an open root: E, A and D are zones there all the same, C and G have no room.
        if form.first_finger < -1 and fret + form.first_finger < 0:
            fret += 12
        found.append((form.name, string, fret, max(fret + form.first_finger, 0)))
    return found


def _position_anchors(chord: Chord, board: Fretboard) -> list[_Anchor]:
    """A root on each string under the second finger, low strings first, where no hand stands there already."""
    found: list[_Anchor] = []
    for string in range(board.strings):
        fret = _root_fret(chord, board, string)
        low = max(fret - 1, 0)
        if all(abs(low - taken) > 1 for _, _, _, taken in found):
            found.append(("", string, fret, low))
    return found


def _unclipped(anchors: list[_Anchor]) -> list[_Anchor]:
    """The anchors with their hand where it would stand an octave higher, free of the nut."""
    return [
        (form, string, fret, fret + next((known.first_finger for known in FORMS if known.name == form), -1))
        for form, string, fret, _ in anchors
    ]


def _root_fret(chord: Chord, board: Fretboard, string: int) -> int:
    assert chord.root is not None
    return (chord.root.pitch_class - board.open_midis[string]) % 12


def _zone(chord: Chord, told: Told, board: Fretboard, form: str, string: int, fret: int, low: int) -> Zone:
    notes, flat_thirds, gaps = tones_at(chord, told, board, low)
    number = board.strings - string
    root = next((note for note in notes if (note.string, note.fret) == (number, fret)), None)
    if root is None:  # a unison string holds the same pitch
        midi = board.open_midis[string] + fret
        root = next(note for note in notes if note.midi == midi)
    shape = chord_shape(chord, told, board, form, string, fret, low)
    return Zone(chord, form, low, root, notes, flat_thirds, gaps, shape)


def tones_at(
    chord: Chord, told: Told, board: Fretboard, low: int
) -> tuple[tuple[FrettedNote, ...], tuple[FrettedNote, ...], tuple[Gap, ...]]:
    """Chord tones, minor thirds beside major ones, and gaps of the five frets from `low` up."""
    reached = places(board.open_midis, low)
    tones = [(midi, told[midi % 12]) for midi in reached if midi % 12 in told]
    flats: list[tuple[int, tuple[str, Spelled]]] = []
    if chord.root is not None and chord.third == "major":
        spelled = chord.root.up(2, MINOR_THIRD[1])
        if spelled.pitch_class not in told:
            thirds = [midi - 1 for midi, (function, _) in tones if function == "3"]
            flats = [(midi, (MINOR_THIRD[0], spelled)) for midi in thirds if midi in reached]
    at = [reached[midi] for midi, _ in chain(tones, flats)]
    made = [
        FrettedNote(board.strings - string, fret, midi, function, name, finger)
        for (string, fret), (midi, (function, name)), finger in zip(
            at, chain(tones, flats), arpeggio_fingers(at), strict=True
        )
    ]
    return tuple(made[: len(tones)]), tuple(made[len(tones) :]), _gaps(told, board, reached, low)


def _gaps(told: Told, board: Fretboard, reached: dict[int, tuple[int, int]], low: int) -> tuple[Gap, ...]:
    gaps = []
    for midi in range(min(reached), max(reached)):
        if midi not in reached and midi % 12 in told:
            above = next(string for string, open_midi in enumerate(board.open_midis) if open_midi + low > midi)
            gaps.append(Gap(midi, *told[midi % 12], board.strings - above))
    return tuple(gaps)
