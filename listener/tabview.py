"""A line as tab: a row a string, the highest on top, chord symbols over it and functions under it, 80 columns wide.

Plain tab is common practice of the guitar: a number is a fret, its place along the row is its time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from listener.glyphs import ascii_text
from progressions.lines import Line, LineNote

WIDTH = 80
MOST_BARS = 4
LEAST_CELL, CELL_GAP, LEAST_BAR = 3, 1, 6
LABEL = 3


@dataclass(frozen=True, slots=True)
class _Bar:
    """One bar laid out: its chord symbols, functions and frets by column from the bar line, and its width."""

    zone: str
    symbols: tuple[tuple[int, str], ...]
    functions: tuple[tuple[int, str], ...]
    frets: tuple[tuple[int, int, str], ...]  # string, column, fret
    width: int


def tab_lines(line: Line, *, ascii_only: bool = False) -> list[str]:
    """The line in rows of as many bars as fit, each row a block of text followed by an empty line."""
    capo = f", capo {line.board.capo}: frets count from it" if line.board.capo else ""
    text = [f"{line.title or 'changes'}: {line.exercise}, seed {line.seed}", f"tuning {line.board.tuning}{capo}", ""]
    row: list[_Bar] = []
    zone = ""
    for at in range(len(line.bar_beats) - 1):
        bar = _laid_out(line, at, ascii_only)
        moves = bar.zone not in ("", zone)
        full = LABEL + 1 + sum(b.width + 1 for b in [*row, bar]) > WIDTH or len(row) == MOST_BARS
        if row and (full or moves):
            text += _block(line, row)
            row = []
        if moves:
            text += [bar.zone, ""]
            zone = bar.zone
        row.append(bar)
    return text + _block(line, row)


def _laid_out(line: Line, at: int, ascii_only: bool) -> _Bar:
    def plain(words: str) -> str:
        return ascii_text(words.replace("°7", "bb7")) if ascii_only else words

    start, end = line.bar_beats[at], line.bar_beats[at + 1]
    onsets: dict[Fraction, list[LineNote]] = {}
    for note in line.notes:
        if start <= note.beat < end:
            onsets.setdefault(note.beat, []).append(note)
    # a chord shape is told by its symbol, a single note by its function
    told = {beat: plain(notes[0].function) if len(notes) == 1 else "" for beat, notes in onsets.items()}
    places = _places(start, end, told)
    chords = [chord for chord in line.chords if start <= chord.start_beat < end]
    symbols = tuple(
        (places.get(chord.start_beat, 1), ascii_text(chord.chord.symbol) if ascii_only else chord.chord.symbol)
        for chord in chords
    )
    functions = tuple((places[beat], words) for beat, words in told.items())
    frets = tuple((note.string, places[beat], str(note.fret)) for beat, notes in onsets.items() for note in notes)
    ends = [place + len(words) + CELL_GAP for place, words in (*symbols, *functions)]
    ends += [place + len(fret) + CELL_GAP for _, place, fret in frets]
    current = line.chord_at(start)
    return _Bar("" if current is None else current.zone, symbols, functions, frets, max([LEAST_BAR, *ends]))


def _places(start: Fraction, end: Fraction, told: Mapping[Fraction, str]) -> dict[Fraction, int]:
    """A column for each onset: even steps as far as what stands there leaves room."""
    onsets = sorted(told)
    if not onsets:
        return {}
    step = min(later - earlier for earlier, later in zip(onsets, [*onsets[1:], end], strict=True))
    cell = max([LEAST_CELL, *(len(words) + CELL_GAP for words in told.values())])
    places: dict[Fraction, int] = {}
    free = 1
    for beat in onsets:
        places[beat] = max(free, 1 + floor((beat - start) / step) * cell)
        free = places[beat] + cell
    return places


def _block(line: Line, row: Sequence[_Bar]) -> list[str]:
    """The rows of some bars: chords, strings, functions."""
    if not row:
        return []
    strings = line.board.tuning.strings
    above = below = " " * (LABEL + 1)
    rows = [f"{strings[-string].name!s:<{LABEL}}|" for string in range(1, len(strings) + 1)]
    for bar in row:
        above += _written(" " * (bar.width + 1), bar.symbols)
        below += _written(" " * (bar.width + 1), bar.functions)
        for at in range(len(rows)):
            rows[at] += (
                _written("-" * bar.width, [(x, fret) for string, x, fret in bar.frets if string == at + 1]) + "|"
            )
    return [above.rstrip(), *rows, below.rstrip(), ""]


def _written(ground: str, words: Sequence[tuple[int, str]]) -> str:
    for place, text in words:
        ground = ground[:place] + text + ground[place + len(text) :]
    return ground
