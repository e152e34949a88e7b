"""From the text of a chart to its value."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import Any

from progressions.changes import Bar, BarFault, Chart, ChartChord, Meter
from progressions.chart.barlines import Cell, cells_of, has_bar_lines, read_signs
from progressions.chart.headers import Headers, short, with_header
from progressions.chords import Chord, parse_chord
from progressions.degrees import is_degree, parse_degree, split_degrees
from progressions.errors import ChartError, ChordError
from progressions.keys import Key
from progressions.pitch import LETTERS

LONGEST_CHART_BARS = 1024
PUSH = "<"
REPEAT_SIGNS = {"%": 1, "𝄍": 1, "%%": 2, "𝄎": 2}
# A word of a bar: a symbol with its beats; blanks inside parentheses belong to it.
_WORD = re.compile(r"(?:\([^)|]*\)?|[^\s|(])+")
_BEATS = re.compile(r"\d{1,6}(?:/\d{1,6}|\.\d{1,6})?")


def parse_chart(text: str, name: str = "chart") -> Chart:
    """The chart that a text means. `name` stands in messages for where the text comes from.

    `key:` is needed, meter is 4/4 unless given. Raises ChartError with line and column from 1 and what was expected.
    """
    headers, reader, number = Headers(), None, 0
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        stripped = line.strip()
        if not stripped or stripped.startswith("#"):
            continue
        if not stripped.startswith(("|", "[")):
            headers = with_header(headers, number, line, reader is not None, name)
            continue
        if reader is None:
            if headers.key is None:
                raise ChartError(number, 1, "no key yet", "a line such as key: A before the bars", name)
            reader = _Reader(name, headers, headers.key)
        reader.read_line(number, line)
    if reader is None or not reader.bars:
        raise ChartError(max(number, 1), 1, "the chart has no bars", "bars such as | A7 | D7 |", name)
    return reader.chart()


@lru_cache(maxsize=64)
def _shared(beats: int, chords: int) -> tuple[tuple[Fraction, Fraction], ...]:
    """Beat and duration of so many chords that share a bar evenly."""
    length = Fraction(beats, chords)
    return tuple((place * length, length) for place in range(chords))


class _Reader:
    """Reads lines of bars one after the other; `bars` is what there is so far, `places` where each bar stands."""

    def __init__(self, name: str, headers: Headers, key: Key) -> None:
        self.name, self.headers, self.home = name, headers, key
        self.meter, self.key = headers.meter, key
        self.in_degrees: bool | None = None
        self.bars: list[Bar] = []
        self.pickup: Bar | None = None
        self.places: list[tuple[int, int]] = []
        self.pickup_place = (1, 1)
        self.number = 0
        self.signs: dict[str, Any] = {}  # signs, |: and endings that wait for their bar

    def chart(self) -> Chart:
        """The chart of what has been read."""
        if self.signs:
            raise self._error(1, "signs after the last bar", "the bar that they belong to")
        head, bars = self.headers, tuple(self.bars)
        try:
            return Chart(head.title, self.home, head.meter, head.tempo, head.swing, bars, self.pickup)
        except BarFault as fault:
            line, column = self.places[fault.bar] if fault.bar >= 0 else self.pickup_place
            raise ChartError(line, column, fault.found, fault.expected, self.name) from fault

    def read_line(self, number: int, line: str) -> None:
        self.number = number
        at, signs = read_signs(line, 0, len(line), number, self.name)
        self._wait(signs, at)
        rest = line[at:].strip()
        if not rest:
            return
        if not rest.startswith("|"):
            raise self._error(len(line[:at]) + 1, f"{short(rest)} outside a bar", "| before the bar")
        if not has_bar_lines(line, at):
            raise self._error(len(line.rstrip()) + 1, "the bar is not closed", "| at the end of the bar")
        for cell in cells_of(line, at):
            opened = {"opens_repeat": True} if cell.opens_repeat else {}
            self._wait(opened | ({"endings": cell.endings} if cell.endings else {}), cell.start)
            if cell.text or not (cell.opens_repeat or cell.endings):
                self._read_cell(line, cell)

    def _wait(self, signs: dict[str, Any], at: int) -> None:
        """Keep signs for the bar that comes."""
        twice = self.signs.keys() & signs.keys()
        if twice:
            raise self._error(at + 1, "a sign for the second time", "each sign once before a bar")
        self.signs |= signs

    def _read_cell(self, line: str, cell: Cell) -> None:
        end = cell.start + len(cell.text)
        at, signs = read_signs(line, cell.start, end, self.number, self.name)
        self._wait(signs, cell.start)
        place = (self.number, cell.start + 1)
        signs, self.signs = self.signs, {}
        words = [(at + match.start(), match[0]) for match in _WORD.finditer(line[at:end])]
        if not words:
            raise self._error(cell.start + 1, "an empty bar", "a chord, or % to repeat the bar before")
        if signs.pop("pickup", False):
            self._read_pickup(place, words, signs, cell)
            return
        self.meter = signs.get("meter", self.meter)
        self.key = signs.get("key", self.key)
        for column, word in words:
            if word in REPEAT_SIGNS:
                if len(words) > 1:
                    raise self._error(column + 1, f"{word} beside a chord", f"{word} alone in its bar")
                self._add_repeated(REPEAT_SIGNS[word], column, signs, cell, place)
                return
        self._add(Bar(self._chords(words, self.meter), times=cell.times, **signs), place)

    def _read_pickup(self, place: tuple[int, int], words: list[tuple[int, str]], signs: Any, cell: Cell) -> None:
        if self.bars or self.pickup is not None:
            raise self._error(place[1], "a pick-up after the first bar", "it before all others")
        if signs or cell.times:
            raise self._error(place[1], "a sign at the pick-up", "signs from the first bar on")
        for column, word in words:
            if ":" not in word:
                found = f"{short(word)} without beats"
                raise self._error(column + 1, found, "beats after a colon on every chord of the pick-up, as in E7:1")
        self.pickup, self.pickup_place = Bar(self._chords(words, None)), place

    def _add_repeated(self, back: int, column: int, signs: Any, cell: Cell, place: tuple[int, int]) -> None:
        if len(self.bars) < back:
            found = "% in the first bar" if back == 1 else "%% without two bars before it"
            raise self._error(
                column + 1, found, f"a chord, as {'no bar stands' if back == 1 else 'too few stand'} before"
            )
        before = self.bars[-back:]
        closing = [0] * (back - 1) + [cell.times]
        for bar, times, more in zip(before, closing, [signs, {}], strict=False):
            self._add(Bar(bar.chords, back, times=times, **more), place)

    def _add(self, bar: Bar, place: tuple[int, int]) -> None:
        if len(self.bars) == LONGEST_CHART_BARS:
            raise self._error(place[1], "too long a chart", f"at most {LONGEST_CHART_BARS} bars")
        self.bars.append(bar)
        self.places.append(place)

    def _chords(self, words: list[tuple[int, str]], meter: Meter | None) -> tuple[ChartChord, ...]:
        """The chords of a bar; `meter` is None for the pick-up, whose length its own beats tell."""
        chords: list[tuple[int, Chord, bool]] = []
        lengths: list[Fraction | None] = []
        for at, word in words:
            symbol, colon, beats = word.partition(":")
            pushed = symbol.startswith(PUSH)
            parts = self._parts(at + pushed, symbol[pushed:])
            chords += [(column, chord, pushed and column == at + 1) for column, chord in parts]
            lengths += [None] * (len(parts) - 1)
            lengths.append(self._beats(at + len(symbol) + 1, beats) if colon else None)
        given = [length for length in lengths if length is not None]
        if not given and meter is not None:
            shared = _shared(meter.beats_per_bar, len(chords))
            return tuple(
                ChartChord(*place, chord, pushed) for place, (_, chord, pushed) in zip(shared, chords, strict=True)
            )
        if len(given) < len(chords):
            at = chords[lengths.index(None)][0]
            raise self._error(at + 1, "a chord without beats", "beats on every chord of the bar, or on none")
        made, place = [], Fraction(0)
        for (_, chord, pushed), length in zip(chords, given, strict=True):
            made.append(ChartChord(place, length, chord, pushed))
            place += length
        return tuple(made)

    def _parts(self, at: int, symbol: str) -> list[tuple[int, Chord]]:
        """The chords of one word with their columns from 0; only degrees can be joined by dashes."""
        is_symbol = symbol[:1] in LETTERS and symbol != ""
        if is_degree(symbol) or is_symbol:
            if self.in_degrees is None:
                self.in_degrees = not is_symbol
            elif self.in_degrees is is_symbol:
                found = f"{short(symbol)} among {'degrees' if is_symbol else 'symbols'}"
                raise self._error(at + 1, found, "degrees throughout, or chord symbols throughout")
        if not self.in_degrees:
            return [(at, self._chord(at, symbol, False))]
        return [(at + start, self._chord(at + start, part, True)) for start, part in split_degrees(symbol)]

    def _chord(self, at: int, symbol: str, degree: bool) -> Chord:
        try:
            return parse_degree(symbol, self.key) if degree else parse_chord(symbol)
        except ChordError as error:
            nearest = "" if error.suggestion is None else f"; the nearest symbol is {error.suggestion}"
            expected = error.expected + nearest
            raise self._error(at + error.position + 1, f"chord {short(symbol)}", expected) from error

    def _beats(self, at: int, text: str) -> Fraction:
        beats = None
        if _BEATS.fullmatch(text) and not re.search("/0+$", text):
            beats = Fraction(text)
        if not beats:
            raise self._error(at + 1, f"beats {short(text)}", "a number of beats above 0, such as 2, 1.5 or 3/2")
        return beats

    def _error(self, column: int, found: str, expected: str) -> ChartError:
        return ChartError(self.number, column, found, expected, self.name)
