"""Bar lines with their dots and endings, and the signs in brackets that stand before a bar."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from progressions.changes import PICKUP_WORDS
from progressions.chart.headers import header_value, short
from progressions.errors import ChartError

_LINE = re.compile(
    r"(?P<close>:)?\|+(?:(?<=:\|)x(?P<times>\d{1,3})\|*|(?<=:\|\|)x(?P<more>\d{1,3})\|*)?"
    r"(?P<open>:)?(?:(?P<endings>\d{1,2}(?:[,-]\d{1,2})*)\.?(?=[\s\[|]|$))?"
)
_SIGN = re.compile(r"\s*\[([^\[\]|]*)(\]?)")
_METER = re.compile(r"\d+\s*/\s*\d+")
# Signs that carry a value, by what is written before the colon.
_VALUED = {"key": "key", "tempo": "tempo_bpm", "meter": "meter"}


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands between two bar lines: its text from column `start` (from 0) on, and the signs of its bar lines."""

    start: int
    text: str
    opens_repeat: bool
    endings: tuple[int, ...]
    times: int


def has_bar_lines(line: str, start: int) -> bool:
    """Whether the rest of the line begins and ends with a bar line, with something between."""
    lines = list(_LINE.finditer(line, start))
    return len(lines) > 1 and lines[-1].end() == len(line.rstrip())


def cells_of(line: str, start: int) -> Iterator[Cell]:
    """The cells of a line of bars from `start` on; a last one without text carries what its last bar line opens."""
    lines = list(_LINE.finditer(line, start))
    for left, right in pairwise(lines):
        yield Cell(left.end(), line[left.end() : right.start()], *_opened(left), _times(right))
    last = lines[-1]
    if last["open"] or last["endings"]:
        yield Cell(last.end(), "", *_opened(last), 0)


def _opened(match: re.Match[str]) -> tuple[bool, tuple[int, ...]]:
    return bool(match["open"]), tuple(_numbers(match["endings"] or ""))


def _times(match: re.Match[str]) -> int:
    if not match["close"]:
        return 0
    return int(match["times"] or match["more"] or 2)


def _numbers(text: str) -> Iterator[int]:
    """The numbers of an ending: "1,2" and "1-3"."""
    for part in text.split(",") if text else ():
        low, _, high = part.partition("-")
        ends = [int(low), *([int(end) for end in high.split("-")] if high else [])]
        yield from range(ends[0], ends[-1] + 1) if ends[-1] >= ends[0] else ends


def read_signs(line: str, start: int, end: int, number: int, name: str) -> tuple[int, dict[str, Any]]:
    """Where the signs in brackets that begin at `start` end, and what they say by the field of a bar (or "pickup").

    Raises ChartError.
    """
    signs: dict[str, Any] = {}
    at = start
    while (match := _SIGN.match(line, at, end)) is not None:
        column = match.start(1)
        if not match[2]:
            raise ChartError(number, column, "a sign that is not closed", "] after it", name)
        field, value = _sign(match[1], number, column + 1, name)
        if field in signs:
            raise ChartError(number, column, f"a second sign [{match[1].strip()}]", "each sign once before a bar", name)
        signs[field] = value
        at = match.end()
    return at, signs


def _sign(text: str, number: int, column: int, name: str) -> tuple[str, Any]:
    words = " ".join(text.split())
    if words.lower() in PICKUP_WORDS:
        return "pickup", True
    if _METER.fullmatch(words):
        return "meter", header_value("meter", "".join(words.split()), number, column, name)
    word, colon, value = words.partition(":")
    if colon:
        field = _VALUED.get(word.strip().lower())
        if field is None:
            expected = "[key: …], [tempo: …], a meter such as [3/4], [pick-up], or the name of a section"
            raise ChartError(number, column, f"sign {short(words)}", expected, name)
        return field, header_value(word.strip().lower(), value.strip(), number, column, name)
    if not words:
        raise ChartError(number, column, "an empty sign", "a section such as [A], or a sign such as [3/4]", name)
    return "section", words
