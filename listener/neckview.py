"""A chord's zones on the neck as the terminal shows them: one zone in block cells, or a page of several.

Eighty cells wide, the highest string on top as in tab. What the chord shape holds has a mark beside it, the minor third
beside the major one an arrow up; colour says the same again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from listener import palette
from listener.dashboard.canvas import QUIET, STRONG, Canvas, Frame, Ink
from listener.glyphs import HALF_ROWS, half_rows, half_width, has_glyphs
from progressions.neck import Fretboard, FrettedNote, Zone, forms_without_room

WIDTH = 80
SHOWN = ("degrees", "notes", "fingers")
TONE, FLAT_THIRD = Ink(palette.BLUE), Ink(palette.ORANGE)
HELD = Ink(palette.BLUE, bold=True)
NUT = "█"
LABEL = 3  # cells for a string's name
BIG_CELL, SMALL_CELL = 15, 5  # cells a fret, its wire included
PAGE_COLUMNS = 3
FRETS = 5


@dataclass(frozen=True, slots=True)
class NeckLook:
    """How the neck is shown: one of `SHOWN`, as a left-handed player sees it, in ASCII, in colour."""

    show: str = "degrees"
    left_handed: bool = False
    ascii_only: bool = False
    colour: bool = False


def told(note: FrettedNote, look: NeckLook) -> str:
    """What is written on a note: its function, its name or its finger. In ASCII the diminished seventh is bb7."""
    return {"fingers": str(note.finger), "notes": str(note.name)}.get(look.show, _function(note.function, look))


def zone_frame(zone: Zone, board: Fretboard, look: NeckLook) -> Frame:
    """One zone, three rows a string, to be read from two metres."""
    strings, lines = board.strings, _below(zone, board, look)
    canvas = Canvas(WIDTH, 2 + strings * HALF_ROWS + 1 + len(lines), ascii_only=look.ascii_only)
    _heading(canvas, f"{zone.chord}  {zone.title}", board)
    left = 0 if look.left_handed else LABEL
    for string in range(1, strings + 1):
        top = 2 + (string - 1) * HALF_ROWS
        label_x = FRETS * BIG_CELL + 1 if look.left_handed else 0
        canvas.put(label_x, top + 1, str(board.tuning.strings[-string].name), QUIET)
        for cell in range(FRETS):
            _big_cell(canvas, _cell_x(left, cell, BIG_CELL, look), top, zone.lowest_fret + cell, look)
    for note, ink in _inked(zone):
        x = _cell_x(left, note.fret - zone.lowest_fret, BIG_CELL, look)
        _big_note(canvas, x, 2 + (note.string - 1) * HALF_ROWS, note, ink, look)
    _fret_numbers(canvas, left, 2 + strings * HALF_ROWS, zone, BIG_CELL, look)
    for row, (text, ink) in enumerate(lines, 3 + strings * HALF_ROWS):
        canvas.put(0, row, text, ink, room=WIDTH)
    return canvas.frame(colour=look.colour)


def page_frame(zones: Sequence[Zone], board: Fretboard, look: NeckLook) -> Frame:
    """Several zones of one chord side by side, three in a row."""
    rows = [zones[at : at + PAGE_COLUMNS] for at in range(0, len(zones), PAGE_COLUMNS)]
    lines = [*_legend(zones, look), *((line, QUIET) for line in remarks(zones, board))]
    block = board.strings + 3
    canvas = Canvas(WIDTH, 1 + block * len(rows) + len(lines), ascii_only=look.ascii_only)
    _heading(canvas, f"{zones[0].chord}  {tones_of(zones[0], look)}", board)
    for number, row in enumerate(rows):
        top = 2 + number * block
        for string in range(1, board.strings + 1):
            label_x = WIDTH - LABEL + 1 if look.left_handed else 0
            canvas.put(label_x, top + 1 + string, str(board.tuning.strings[-string].name), QUIET)
        for column, zone in enumerate(row):
            left = (0 if look.left_handed else LABEL) + column * (FRETS * SMALL_CELL + 1)
            _small_zone(canvas, left, top, zone, board, look)
    for number, (text, ink) in enumerate(lines):
        canvas.put(0, 1 + block * len(rows) + number, text, ink, room=WIDTH)
    return canvas.frame(colour=look.colour)


def tones_of(zone: Zone, look: NeckLook) -> str:
    """The chord's tones as they are spelled: "R A  3 C♯  5 E  ♭7 G"."""
    return "  ".join(f"{_function(tone.function, look)} {tone.pitch}" for tone in zone.chord.tones)


def _function(function: str, look: NeckLook) -> str:
    # the diminished seventh has no degree sign in ASCII, and two flats say the same
    return function.replace("°", "bb") if look.ascii_only else function


def _small_zone(canvas: Canvas, left: int, top: int, zone: Zone, board: Fretboard, look: NeckLook) -> None:
    canvas.put(left, top, zone.title, STRONG, room=FRETS * SMALL_CELL)
    _fret_numbers(canvas, left, top + 1, zone, SMALL_CELL, look)
    for string in range(1, board.strings + 1):
        for cell in range(FRETS):
            fret, x = zone.lowest_fret + cell, _cell_x(left, cell, SMALL_CELL, look)
            wire = NUT if fret == 0 else "│"
            body = " " * (SMALL_CELL - 1) if fret == 0 else "─" * (SMALL_CELL - 1)
            canvas.put(x, top + 1 + string, wire + body if look.left_handed else body + wire, QUIET)
    held = _held(zone)
    for note, ink in _inked(zone):
        x = _cell_x(left, note.fret - zone.lowest_fret, SMALL_CELL, look) + look.left_handed
        text = told(note, look) + (palette.RISES if note in zone.flat_thirds else "")
        marked = (note.string, note.fret) in held and len(text) < SMALL_CELL - 1
        text = f"{_mark(look)}{text}" if marked else text
        shift = 0 if marked or len(text) == SMALL_CELL - 1 else 1
        canvas.put(x + shift, top + 1 + note.string, text, ink, room=SMALL_CELL - 1)


def _big_cell(canvas: Canvas, x: int, top: int, fret: int, look: NeckLook) -> None:
    """A fret of one string: the string through the middle, the wire at the side away from the nut."""
    wire = x if look.left_handed else x + BIG_CELL - 1
    body = x + 1 if look.left_handed else x
    for row in range(HALF_ROWS):
        canvas.put(wire, top + row, NUT if fret == 0 else "│", QUIET)
    if fret > 0:
        canvas.put(body, top + 1, "─" * (BIG_CELL - 1), QUIET)


def _big_note(canvas: Canvas, x: int, top: int, note: FrettedNote, ink: Ink, look: NeckLook) -> None:
    """A note in block cells, or as plain text where they have no such letters or the terminal no more than ASCII."""
    text = told(note, look) + (palette.RISES if ink is FLAT_THIRD else "")
    room = BIG_CELL - 3 if ink is HELD else BIG_CELL - 1
    body = x + (1 if look.left_handed else 0)
    if look.ascii_only or not has_glyphs(text) or half_width(text) > room:
        text = f" {_mark(look) if ink is HELD else ''}{text} "
        canvas.put(body + (BIG_CELL - 1 - len(text)) // 2, top + 1, text, ink)
        return
    start = body + (BIG_CELL - 1 - half_width(text)) // 2
    canvas.put_rows(start, top, half_rows(text), ink)
    if ink is HELD:
        canvas.put_rows(start - 2, top, ("▌ ",) * HALF_ROWS, ink)


def _cell_x(left: int, cell: int, width: int, look: NeckLook) -> int:
    return left + width * (FRETS - 1 - cell if look.left_handed else cell)


def _mark(look: NeckLook) -> str:
    return "*" if look.ascii_only else "●"


def _held(zone: Zone) -> set[tuple[int, int]]:
    return {(note.string, note.fret) for note in zone.shape.notes}


def _inked(zone: Zone) -> list[tuple[FrettedNote, Ink]]:
    """The notes of a zone with their ink; a tone of the shape that lies elsewhere in the arpeggio is there too."""
    held, placed = _held(zone), {(note.string, note.fret) for note in zone.notes}
    notes = [*zone.notes, *(note for note in zone.shape.notes if (note.string, note.fret) not in placed)]
    tones = [(note, HELD if (note.string, note.fret) in held else TONE) for note in notes]
    return tones + [(note, FLAT_THIRD) for note in zone.flat_thirds]


def _heading(canvas: Canvas, text: str, board: Fretboard) -> None:
    canvas.put(0, 0, text, STRONG, room=WIDTH)
    tuning = f"{board.tuning}{f', capo {board.capo}' if board.capo else ''}"
    if len(text) + len(tuning) + 2 <= WIDTH:
        canvas.put(WIDTH - canvas.measure(tuning), 0, tuning, QUIET)


def _fret_numbers(canvas: Canvas, left: int, row: int, zone: Zone, width: int, look: NeckLook) -> None:
    for cell in range(FRETS):
        number = str(zone.lowest_fret + cell)
        middle = _cell_x(left, cell, width, look) + look.left_handed + (width - 1 - len(number)) // 2
        canvas.put(middle, row, number, QUIET)


def _below(zone: Zone, board: Fretboard, look: NeckLook) -> list[tuple[str, Ink]]:
    """Under one zone: its tones and chord shape, what the marks mean, and what it lacks."""
    lines = [tones_of(zone, look), f"chord shape {shape_line(zone, board)}"]
    return [*((line, QUIET) for line in lines), *_legend([zone], look), *((line, QUIET) for line in gap_lines(zone))]


def _legend(zones: Sequence[Zone], look: NeckLook) -> list[tuple[str, Ink]]:
    mark = "▌" if len(zones) == 1 and not look.ascii_only else _mark(look)
    words = {"degrees": "degrees of the chord", "notes": "note names", "fingers": "fingers, 0 open"}[look.show]
    text = f"{words}; {mark} in the chord shape"
    if any(zone.flat_thirds for zone in zones):
        text += f"; {palette.RISES} the ♭3 beside the 3"
    return [(text, QUIET)]


def shape_line(zone: Zone, board: Fretboard) -> str:
    """The chord shape in frets and fingers, low string first: "3 5 3 4 3 3, fingers 1 3 1 2 1 1"."""
    frets = ["x" if fret is None else str(fret) for fret in zone.shape.frets(board.strings)]
    left_out = f", without {' '.join(zone.shape.left_out)}" if zone.shape.left_out else ""
    return f"{' '.join(frets)}, fingers {' '.join(str(note.finger) for note in zone.shape.notes)}{left_out}"


def gap_lines(zone: Zone) -> list[str]:
    """What no string reaches within a zone, in words."""
    if not zone.gaps:
        return []
    gaps = ", ".join(f"{gap.name} ({gap.function}) under string {gap.below_string}" for gap in zone.gaps)
    return [f"{zone.title}: out of reach {gaps}"]


def remarks(zones: Sequence[Zone], board: Fretboard) -> list[str]:
    """What a page lacks: gaps of the tuning, and forms that the neck has no room for."""
    lines = [line for zone in zones for line in gap_lines(zone)]
    absent = forms_without_room(tuple(zones), board)
    if absent:
        lines.append(f"no room on {board.last_fret} frets for the form of {', '.join(absent)}")
    return lines
