"""A chord's zones as a page to print: SVG for light paper, A4 for several zones, a strip of it for one.

Lengths are millimetres. What the chord shape holds is filled, the rest of the arpeggio open, the minor third beside
the major one a square, so that a copy in grey tells the same. A page has a title and a description for screen readers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from listener.neckview import FRETS, NeckLook, gap_lines, remarks, shape_line, told
from listener.palette import OKABE_ITO
from progressions.neck import Fretboard, FrettedNote, Zone

PAGE_WIDTH, MARGIN = 210.0, 16.0
COLUMNS, GUTTER = 2, 12.0
TOP, FOOT = 40.0, 10.0
BLUE, ORANGE, INK, PAPER, LINE = OKABE_ITO["blue"], OKABE_ITO["orange"], "#1A1A1A", "#FFFFFF", "#8A8A8A"
FONT = "'DejaVu Sans','Noto Sans','Noto Music',sans-serif"
MARKED_FRETS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)


@dataclass(frozen=True, slots=True)
class _Box:
    """Where one zone stands: its upper left string crossing, a fret's width and the distance of two strings."""

    x: float
    y: float
    fret: float
    gap: float


def neck_svg(zones: Sequence[Zone], board: Fretboard, look: NeckLook) -> str:
    """The page of these zones of one chord; `look.show` and `look.left_handed` are as on the terminal."""
    columns = COLUMNS if len(zones) > 1 else 1
    width = (PAGE_WIDTH - 2 * MARGIN - GUTTER * (columns - 1)) / columns
    gap = 7.0 if columns > 1 else 11.0
    pitch = gap * (board.strings - 1) + 30.0
    rows = -(-len(zones) // columns)
    lines = remarks(zones, board) if len(zones) > 1 else gap_lines(zones[0])
    height = TOP + rows * pitch + 14.0 + 5.0 * len(lines) + FOOT
    parts = [_head(zones, board, look, height)]
    for number, zone in enumerate(zones):
        x = MARGIN + (number % columns) * (width + GUTTER)
        box = _Box(x + 6.0, TOP + (number // columns) * pitch + 8.0, (width - 6.0) / FRETS, gap)
        parts.append(_zone(zone, board, look, box))
    parts.append(_legend(zones, look, TOP + rows * pitch + 4.0))
    for number, line in enumerate(lines):
        parts.append(_text(MARGIN, TOP + rows * pitch + 14.0 + 5.0 * number, 3.2, line, anchor="start"))
    return "\n".join([*parts, "</svg>", ""])


def description(zones: Sequence[Zone], board: Fretboard) -> str:
    """The page in words: tuning, and each zone string by string from the lowest."""
    words = [f"{zones[0].chord}, tuning {board.tuning}{f', capo at fret {board.capo}' if board.capo else ''}."]
    for zone in zones:
        strings = []
        for string in range(board.strings, 0, -1):
            notes = [f"{note.fret} {note.function} {note.name}" for note in zone.notes if note.string == string]
            strings.append(f"string {string}: {', '.join(notes) or 'none'}")
        words.append(f"{zone.title}: {'; '.join(strings)}.")
    return " ".join(words)


def _head(zones: Sequence[Zone], board: Fretboard, look: NeckLook, height: float) -> str:
    chord = zones[0].chord
    title = f"{chord}: {zones[0].title}" if len(zones) == 1 else f"{chord}: {len(zones)} zones of the neck"
    if not zones[0].form and len(zones) > 1:
        title = f"{chord}: {len(zones)} positions on the neck"
    tones = "   ".join(f"{tone.function} {tone.pitch}" for tone in chord.tones)
    tuning = f"tuning {board.tuning}{f', capo at fret {board.capo}: frets count from it' if board.capo else ''}"
    if look.left_handed:
        tuning += ", left-handed"
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{PAGE_WIDTH:g}mm" height="{height:g}mm" '
            f'viewBox="0 0 {PAGE_WIDTH:g} {height:g}" role="img" aria-labelledby="title description" '
            f'font-family="{FONT}">',
            f'<title id="title">{escape(title)}</title>',
            f'<desc id="description">{escape(description(zones, board))}</desc>',
            f'<rect width="{PAGE_WIDTH:g}" height="{height:g}" fill="{PAPER}"/>',
            _text(MARGIN, 19.0, 11.0, str(chord), anchor="start", bold=True),
            _text(MARGIN, 28.0, 4.6, tones, anchor="start"),
            _text(PAGE_WIDTH - MARGIN, 19.0, 3.4, tuning, anchor="end"),
        ]
    )


def _zone(zone: Zone, board: Fretboard, look: NeckLook, box: _Box) -> str:
    parts = [_text(box.x - 6.0, box.y - 7.0, 4.2, zone.title, anchor="start", bold=True)]
    bottom, end = box.y + box.gap * (board.strings - 1), box.x + FRETS * box.fret
    nut = zone.lowest_fret == 0
    for wire in range(1 if nut else 0, FRETS + 1):
        x = _mirrored(box, wire, look)
        width = 1.4 if nut and wire == 1 else 0.35
        parts.append(_line(x, box.y, x, bottom, INK if width > 1 else LINE, width))
    for string in range(1, board.strings + 1):
        y = box.y + box.gap * (string - 1)
        first, last = _mirrored(box, 1 if nut else 0, look), _mirrored(box, FRETS, look)
        parts.append(_line(first, y, last, y, LINE, 0.2 + 0.08 * string))
        label = end + 2.5 if look.left_handed else box.x - 2.5
        name = str(board.tuning.strings[-string].name)
        parts.append(_text(label, y + 1.1, 3.0, name, anchor="start" if look.left_handed else "end", colour=LINE))
    for cell in range(FRETS):
        fret = zone.lowest_fret + cell
        below, marked = bottom + 0.43 * box.gap + 4.0, fret in MARKED_FRETS
        parts.append(_text(_mirrored(box, cell + 0.5, look), below, 3.4, str(fret), bold=marked))
    shape = f"chord shape {shape_line(zone, board)}"
    parts.append(_text(box.x, bottom + 0.43 * box.gap + 9.5, 2.9, shape, anchor="start"))
    held = {(note.string, note.fret) for note in zone.shape.notes}
    placed = {(note.string, note.fret) for note in zone.notes}
    notes = [*zone.notes, *(note for note in zone.shape.notes if (note.string, note.fret) not in placed)]
    for note in notes:
        parts.append(_dot(note, zone, look, box, filled=(note.string, note.fret) in held))
    parts += [_square(note, zone, look, box) for note in zone.flat_thirds]
    return f'<g aria-label="{escape(zone.title)}">\n' + "\n".join(parts) + "\n</g>"


def _mirrored(box: _Box, frets: float, look: NeckLook) -> float:
    return box.x + box.fret * (FRETS - frets if look.left_handed else frets)


def _dot(note: FrettedNote, zone: Zone, look: NeckLook, box: _Box, *, filled: bool) -> str:
    x, y = _mirrored(box, note.fret - zone.lowest_fret + 0.5, look), box.y + box.gap * (note.string - 1)
    radius = box.gap * 0.43
    fill, colour = (BLUE, PAPER) if filled else (PAPER, BLUE)
    circle = f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="{fill}" stroke="{BLUE}" stroke-width="0.5"/>'
    return circle + _inside(x, y, radius, told(note, look), colour)


def _square(note: FrettedNote, zone: Zone, look: NeckLook, box: _Box) -> str:
    x, y = _mirrored(box, note.fret - zone.lowest_fret + 0.5, look), box.y + box.gap * (note.string - 1)
    half = box.gap * 0.36
    square = (
        f'<rect x="{x - half:.2f}" y="{y - half:.2f}" width="{2 * half:.2f}" height="{2 * half:.2f}" rx="0.8" '
        f'fill="{PAPER}" stroke="{ORANGE}" stroke-width="0.7" stroke-dasharray="1.2 0.6"/>'
    )
    return square + _inside(x, y, half, told(note, look), INK)


def _inside(x: float, y: float, radius: float, text: str, colour: str) -> str:
    size = radius * (1.15 if len(text) < 3 else 0.85 if len(text) < 4 else 0.65)
    return _text(x, y + 0.36 * size, size, text, colour=colour, bold=True)


def _legend(zones: Sequence[Zone], look: NeckLook, y: float) -> str:
    what = {"degrees": "degree in the chord", "notes": "note name", "fingers": "finger, 0 open"}[look.show]
    parts, x = [_text(MARGIN, y + 1.2, 3.4, what, anchor="start")], MARGIN + 42.0
    for fill, words in ((BLUE, "in the chord shape"), (PAPER, "arpeggio")):
        parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="2" fill="{fill}" stroke="{BLUE}" stroke-width="0.5"/>')
        parts.append(_text(x + 4.0, y + 1.2, 3.4, words, anchor="start"))
        x += 46.0
    if any(zone.flat_thirds for zone in zones):
        parts.append(
            f'<rect x="{x - 2:g}" y="{y - 2:g}" width="4" height="4" rx="0.8" fill="{PAPER}" stroke="{ORANGE}" '
            f'stroke-width="0.7" stroke-dasharray="1.2 0.6"/>'
        )
        parts.append(_text(x + 4.0, y + 1.2, 3.4, "♭3 beside the 3", anchor="start"))
    return "\n".join(parts)


def _line(x: float, y: float, to_x: float, to_y: float, colour: str, width: float) -> str:
    ends = f'x1="{x:.2f}" y1="{y:.2f}" x2="{to_x:.2f}" y2="{to_y:.2f}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width:.2f}"/>'


def _text(
    x: float, y: float, size: float, text: str, *, anchor: str = "middle", colour: str = INK, bold: bool = False
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" text-anchor="{anchor}" fill="{colour}"{weight} '
        f'xml:space="preserve">{escape(text)}</text>'
    )
