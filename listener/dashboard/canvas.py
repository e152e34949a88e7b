"""A screen of known size: text is put at a place and cut at the edges, so that nothing can ever be wider."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from unicodedata import category

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.style import Style

from listener import palette
from listener.glyphs import ascii_text


@dataclass(frozen=True, slots=True)
class Ink:
    """How text is written: `open` dims it, because it may still change."""

    colour: str = palette.PLAIN
    bold: bool = False
    open: bool = False


PLAIN = Ink()
STRONG = Ink(bold=True)
QUIET = Ink(palette.QUIET)
FAINT = Ink(palette.FAINT)


@lru_cache(maxsize=128)
def _style(ink: Ink, colour: bool) -> Style:
    if not colour:  # weight alone: dim for what is quiet or open
        return Style(bold=ink.bold or None, dim=(ink.open or ink in (QUIET, FAINT)) or None)
    return Style(
        color=palette.dimmed(ink.colour) if ink.open else ink.colour, bgcolor=palette.GROUND, bold=ink.bold or None
    )


@lru_cache(maxsize=1024)
def _cells(text: str, ascii_only: bool) -> tuple[str, ...]:
    """One entry a cell; a wide sign is followed by an empty entry, control signs become blanks."""
    cells: list[str] = []
    for sign in ascii_text(text) if ascii_only else text:
        if category(sign)[0] in "CZ":
            cells.append(" ")
            continue
        width = cell_len(sign)
        if width > 0:
            cells.append(sign)
            cells.extend([""] * (width - 1))
    return tuple(cells)


@dataclass(frozen=True, slots=True)
class Frame:
    """A drawn screen: rows of (text, ink) runs, each row exactly `width` cells. Rich prints it as it is."""

    width: int
    rows: tuple[tuple[tuple[str, Ink], ...], ...]
    colour: bool

    @property
    def lines(self) -> tuple[str, ...]:
        """The text alone, a line a row."""
        return tuple("".join(text for text, _ in row) for row in self.rows)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        last = len(self.rows) - 1
        for number, row in enumerate(self.rows):
            for text, ink in row:
                yield Segment(text, _style(ink, self.colour))
            if number < last:
                yield Segment.line()


class Canvas:
    """Cells to draw on; `frame` is what came of it."""

    def __init__(self, width: int, height: int, *, ascii_only: bool = False) -> None:
        self.width, self.height, self.ascii_only = max(width, 0), max(height, 0), ascii_only
        self._signs = [[" "] * self.width for _ in range(self.height)]
        self._inks = [[PLAIN] * self.width for _ in range(self.height)]

    def measure(self, text: str) -> int:
        """Width of `text` in cells, as it would be put here."""
        return len(_cells(text, self.ascii_only))

    def put(self, x: int, y: int, text: str, ink: Ink = PLAIN, *, room: int | None = None) -> int:
        """Writes from cell `x` of row `y`, at most `room` cells, and returns the cell after it.

        Text that does not fit into `room` ends in an ellipsis; what lies outside the screen is left out.
        """
        cells = _cells(text, self.ascii_only)
        if room is not None and len(cells) > room:
            cells = (*cells[: room - 1], "~" if self.ascii_only else "…") if room > 0 else ()
        end = x + len(cells)
        if not 0 <= y < self.height:
            return end
        signs, inks = self._signs[y], self._inks[y]
        for place, sign in enumerate(cells, start=x):
            if 0 <= place < self.width:
                signs[place], inks[place] = sign, ink
        return end

    def put_rows(self, x: int, y: int, rows: tuple[str, ...], ink: Ink) -> None:
        """Writes rows one under the other."""
        for down, row in enumerate(rows):
            self.put(x, y + down, row, ink)

    def frame(self, *, colour: bool) -> Frame:
        """The screen as drawn; halves of wide signs that were cut are blanks."""
        rows = []
        for signs, inks in zip(self._signs, self._inks, strict=True):
            whole = _whole(signs)
            runs = groupby(zip(whole, inks, strict=True), key=lambda cell: cell[1])
            rows.append(tuple(("".join(sign for sign, _ in run), ink) for ink, run in runs))
        return Frame(self.width, tuple(rows), colour)


def _whole(signs: list[str]) -> list[str]:
    """The row without halves: a wide sign keeps its empty cell, and an empty cell its wide sign."""
    if "" not in signs and all(map(str.isascii, signs)):
        return signs
    whole = list(signs)
    for place, sign in enumerate(signs):
        wide = sign != "" and cell_len(sign) > 1
        if wide and (place + 1 >= len(signs) or signs[place + 1] != ""):
            whole[place] = " "
        if sign == "" and (place == 0 or signs[place - 1] == "" or cell_len(signs[place - 1]) < 2):
            whole[place] = " "
    return whole
