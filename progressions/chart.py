"""Changes as plain text: read and checked, transposed, written.

    title: Twelve-bar blues
    key: A
    meter: 4/4
    tempo: 80
    swing: 2:1
    # a comment stands on a line of its own
    | A7 | D7 | A7 | %  |
    | D7 | % | A7:3 E7:1 | A7 |

A bar stands between two |, on as many lines as one likes; % repeats the bar before. Several chords share a bar evenly,
or by the beats given after a colon.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from progressions.changes import SWING, TEMPO_BPM, Bar, Chart, ChartChord, Meter, check_range, transpose_chart
from progressions.chords import Chord, parse_chord
from progressions.errors import ChartError, ChordError, ProgressionsError
from progressions.keys import Key, parse_key
from progressions.pitch import Spelled

__all__ = [
    "Bar",
    "Chart",
    "ChartChord",
    "Key",
    "Meter",
    "parse_chart",
    "parse_key",
    "transpose_chart",
    "write_chart",
]

BARS_PER_LINE = 4
LONGEST_CHART_BARS = 1024
_HEADER = re.compile(r"\s*([^:|]*?)\s*:\s*(.*?)\s*")
# A word of a bar: a symbol with its beats; blanks inside parentheses belong to it.
_WORD = re.compile(r"(?:\([^)|]*\)?|[^\s|(])+")
_BEATS = re.compile(r"\d{1,6}(?:/\d{1,6}|\.\d{1,6})?")
_NUMBER = re.compile(r"\d{1,6}(?:\.\d{1,20})?")


def _title(text: str) -> str:
    if not text:
        raise ProgressionsError("no title")
    return text


def _meter(text: str) -> Meter:
    numerator, slash, denominator = text.partition("/")
    if not (slash and _is_count(numerator) and _is_count(denominator)):
        raise ProgressionsError(f"meter {text!r}")
    return Meter(int(numerator), int(denominator))


def _is_count(text: str) -> bool:
    return re.fullmatch("[0-9]{1,2}", text) is not None


def _number(what: str, text: str, limits: tuple[float, float]) -> float:
    if _NUMBER.fullmatch(text) is None:
        raise ProgressionsError(f"{what} {text!r}")
    value = float(text)
    check_range(what, value, limits, "")
    return value


def _tempo(text: str) -> float:
    return _number("tempo", text, TEMPO_BPM)


def _swing(text: str) -> float:
    return _number("swing", re.sub(r"\s*:\s*1$", "", text), SWING)


# Header -> how it is read, and what is expected there.
HEADERS: dict[str, tuple[Callable[[str], str | Key | Meter | float], str]] = {
    "title": (_title, "a title"),
    "key": (parse_key, "a key such as A, B♭ or C minor"),
    "meter": (_meter, "2 to 12 over 4 or 8, such as 4/4"),
    "tempo": (_tempo, f"beats per minute from {TEMPO_BPM[0]:g} to {TEMPO_BPM[1]:g}, such as 80"),
    "swing": (_swing, f"long to short eighth from {SWING[0]:g} to {SWING[1]:g}, such as 2 or 2:1"),
}


@dataclass(frozen=True, slots=True)
class _Headers:
    """What the header lines have said so far; the fields are the words of `HEADERS`, in their order."""

    title: str = ""
    key: Key | None = None
    meter: Meter = field(default_factory=Meter)
    tempo: float | None = None
    swing: float | None = None
    seen: frozenset[str] = frozenset()


ChordReader = Callable[[str, Key], Chord]


def parse_chart(text: str, name: str = "chart") -> Chart:
    """The chart that a text means. `name` stands in messages for where the text comes from.

    `key:` is needed, meter is 4/4 unless given. Raises ChartError with line and column from 1 and what was expected.
    """
    return read_chart(text, name, lambda symbol, key: parse_chord(symbol))


def read_chart(text: str, name: str, read_chord: ChordReader, tonic: Spelled | None = None) -> Chart:
    """`parse_chart` for any language of symbols: `read_chord` reads one in the key, and raises ChordError.

    A `tonic` takes the place of the one in the text's key; the mode stays.
    """
    headers, reader, number = _Headers(), None, 0
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        stripped = line.strip()
        if not stripped or stripped.startswith("#"):
            continue
        if not stripped.startswith("|"):
            headers = _with_header(headers, number, line, reader is not None, name)
            continue
        if reader is None:
            if headers.key is None:
                raise ChartError(number, 1, "no key yet", "a line such as key: A before the bars", name)
            key = headers.key if tonic is None else Key(tonic, headers.key.minor)
            reader = _BarReader(name, key, headers.meter, read_chord)
        reader.read_line(number, line)
    if reader is None:
        raise ChartError(max(number, 1), 1, "the chart has no bars", "bars such as | A7 | D7 |", name)
    return Chart(headers.title, reader.key, headers.meter, headers.tempo, headers.swing, tuple(reader.bars))


def _with_header(headers: _Headers, number: int, line: str, after_bars: bool, name: str) -> _Headers:
    column = len(line) - len(line.lstrip()) + 1
    match = _HEADER.fullmatch(line)
    known = ", ".join(HEADERS)
    if match is None or not match[1]:
        raise ChartError(number, column, f"{_short(line)} outside a bar", "| before the bar, or a header", name)
    word = match[1].lower()
    if word not in HEADERS:
        expected = f"one of {known}, or | before a bar"
        raise ChartError(number, column, f"unknown header {_short(match[1])}", expected, name)
    if after_bars:
        raise ChartError(number, column, f"{word} after the bars", "headers before the first bar", name)
    if word in headers.seen:
        raise ChartError(number, column, f"{word} for the second time", "each header once", name)
    read, expected = HEADERS[word]
    try:
        value: Any = read(match[2])
    except ProgressionsError as error:
        raise ChartError(number, match.start(2) + 1, f"{word} {_short(match[2])}", expected, name) from error
    return replace(headers, **{word: value}, seen=headers.seen | {word})


def _short(text: str) -> str:
    words = text.strip()
    return repr(words if len(words) <= 30 else words[:29] + "…")


class _BarReader:
    """Reads lines of bars one after the other; `bars` is what there is so far."""

    def __init__(self, name: str, key: Key, meter: Meter, read_chord: ChordReader) -> None:
        self.name, self.key, self.meter, self.read_chord = name, key, meter, read_chord
        self.bars: list[Bar] = []
        self.number = 0

    def read_line(self, number: int, line: str) -> None:
        self.number = number
        if not line.rstrip().endswith("|") or not line.strip(" \t|"):
            column = len(line.rstrip()) + 1
            raise self._error(column, "the bar is not closed", "| at the end of the bar")
        for start, content in _between_bar_lines(line):
            if len(self.bars) == LONGEST_CHART_BARS:
                raise self._error(start + 1, "too long a chart", f"at most {LONGEST_CHART_BARS} bars")
            self.bars.append(self._bar(start, content))

    def _bar(self, start: int, content: str) -> Bar:
        words = [(start + match.start(), match[0]) for match in _WORD.finditer(content)]
        if not words:
            raise self._error(start + 1, "an empty bar", "a chord, or % to repeat the bar before")
        for at, word in words:
            if word == "%":
                if len(words) > 1:
                    raise self._error(at + 1, "% beside a chord", "% alone in its bar")
                if not self.bars:
                    raise self._error(at + 1, "% in the first bar", "a chord, as no bar stands before")
                return self.bars[-1]
        return self._bar_of_chords(start, words)

    def _bar_of_chords(self, start: int, words: list[tuple[int, str]]) -> Bar:
        per_bar = self.meter.beats_per_bar
        lengths: list[Fraction | None] = []
        chords: list[Chord] = []
        for at, word in words:
            symbol, colon, beats = word.partition(":")
            chords.append(self._chord(at, symbol))
            lengths.append(self._beats(at + len(symbol) + 1, beats) if colon else None)
        given = [length for length in lengths if length is not None]
        if not given:
            given = [Fraction(per_bar, len(words))] * len(words)
        elif len(given) < len(words):
            at = words[lengths.index(None)][0]
            raise self._error(at + 1, "a chord without beats", "beats on every chord of the bar, or on none")
        if sum(given) != per_bar:
            found = f"{sum(given)} beats in the bar"
            raise self._error(start + 1, found, f"{per_bar} beats in {self.meter}")
        starts = [sum(given[:place], Fraction(0)) for place in range(len(given))]
        return Bar(tuple(ChartChord(*values) for values in zip(starts, given, chords, strict=True)))

    def _chord(self, at: int, symbol: str) -> Chord:
        try:
            return self.read_chord(symbol, self.key)
        except ChordError as error:
            raise self._error(at + error.position + 1, f"chord {_short(symbol)}", error.expected) from error

    def _beats(self, at: int, text: str) -> Fraction:
        beats = None
        if _BEATS.fullmatch(text) and not re.search("/0+$", text):
            beats = Fraction(text)
        if not beats:
            raise self._error(at + 1, f"beats {_short(text)}", "a number of beats above 0, such as 2, 1.5 or 3/2")
        return beats

    def _error(self, column: int, found: str, expected: str) -> ChartError:
        return ChartError(self.number, column, found, expected, self.name)


def _between_bar_lines(line: str) -> Iterator[tuple[int, str]]:
    """Start and text of what stands between bar lines; || is one bar line."""
    lines = list(re.finditer(r"\|+", line))
    for left, right in pairwise(lines):
        yield left.end(), line[left.end() : right.start()]


def write_chart(chart: Chart) -> str:
    """The chart as text that `parse_chart` reads back as the same value."""
    lines = [f"title: {chart.title}"] if chart.title else []
    lines += [f"key: {chart.key}", f"meter: {chart.meter}"]
    lines += [f"{name}: {_plain(value)}" for name, value in _numbers(chart) if value is not None]
    cells = [_cell(bar, chart.meter) for bar in chart.bars]
    rows = (cells[at : at + BARS_PER_LINE] for at in range(0, len(cells), BARS_PER_LINE))
    lines += [f"| {' | '.join(row)} |" for row in rows]
    return "\n".join(lines) + "\n"


def _numbers(chart: Chart) -> tuple[tuple[str, float | None], ...]:
    return (("tempo", chart.tempo_bpm), ("swing", chart.swing))


def _plain(value: float) -> str:
    return str(int(value)) if float(value).is_integer() else repr(float(value))


def _cell(bar: Bar, meter: Meter) -> str:
    if all(c.duration == Fraction(meter.beats_per_bar, len(bar.chords)) for c in bar.chords):
        return " ".join(c.chord.symbol for c in bar.chords)
    return " ".join(f"{c.chord.symbol}:{c.duration}" for c in bar.chords)
