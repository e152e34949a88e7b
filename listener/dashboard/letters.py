"""Chord symbols and functions as block letters of three sizes, each the half of the one before."""

from __future__ import annotations

from enum import IntEnum

from listener.dashboard.canvas import Canvas, Ink
from listener.glyphs import HALF_ROWS, ROWS, full_rows, full_width, half_rows, half_width, has_glyphs


class Size(IntEnum):
    TEXT = 0
    HALF = 1
    FULL = 2
    DOUBLE = 3

    @property
    def rows(self) -> int:
        return (1, HALF_ROWS, ROWS, 2 * ROWS)[self]


def width_of(canvas: Canvas, text: str, size: Size) -> int:
    """Width of `text` in cells at `size`, which must be TEXT where the glyph table lacks a letter of it."""
    if size is Size.TEXT:
        return canvas.measure(text)
    if size is Size.HALF:
        return half_width(text)
    return full_width(text) * (2 if size is Size.DOUBLE else 1)


def letter_rows(canvas: Canvas, text: str, size: Size) -> tuple[str, ...]:
    """The block letters of `text`, all rows of one width."""
    if size is Size.HALF:
        return half_rows(text, ascii_only=canvas.ascii_only)
    return full_rows(text, scale=2 if size is Size.DOUBLE else 1, ascii_only=canvas.ascii_only)


def put_symbol(canvas: Canvas, x: int, y: int, symbol: str, size: Size, room: int, ink: Ink) -> None:
    """Writes a chord symbol as large as `room` cells allow, at most `size`, on the foot of `size.rows` rows from `y`.

    Where the whole symbol is too wide, its root keeps the size and the rest is set half as large and raised, as
    printed charts do; then the whole symbol is set smaller; at last it is plain text.
    """
    if size is not Size.TEXT and has_glyphs(symbol):
        for smaller in (size, *(other for other in reversed(Size) if Size.TEXT < other < size)):
            top = y + size.rows - smaller.rows
            if width_of(canvas, symbol, smaller) <= room:
                canvas.put_rows(x, top, letter_rows(canvas, symbol, smaller), ink)
                return
            if smaller >= Size.FULL and _put_raised(canvas, x, top, symbol, smaller, room, ink):
                return
    canvas.put(x, y + size.rows - 1, symbol, ink, room=room)


def _put_raised(canvas: Canvas, x: int, y: int, symbol: str, size: Size, room: int, ink: Ink) -> bool:
    accidentals = len(symbol[1:]) - len(symbol[1:].lstrip("♭♯𝄫𝄪"))
    root, rest = symbol[: 1 + accidentals], symbol[1 + accidentals :]
    small = Size(size - 1)
    left = width_of(canvas, root, size) + (2 if size is Size.FULL else 4)
    if not rest or left + width_of(canvas, rest, small) > room:
        return False
    canvas.put_rows(x, y, letter_rows(canvas, root, size), ink)
    canvas.put_rows(x + left, y, letter_rows(canvas, rest, small), ink)
    return True
