"""The lines at the top of a chart, and the values that signs in its bars share with them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from progressions.changes import SWING, TEMPO_BPM, Meter, check_range
from progressions.errors import ChartError, ProgressionsError
from progressions.keys import Key, parse_key

_HEADER = re.compile(r"\s*([^:|]*?)\s*:\s*(.*?)\s*")
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
class Headers:
    """What the header lines have said so far; the fields are the words of `HEADERS`, in their order."""

    title: str = ""
    key: Key | None = None
    meter: Meter = field(default_factory=Meter)
    tempo: float | None = None
    swing: float | None = None
    seen: frozenset[str] = frozenset()


def with_header(headers: Headers, number: int, line: str, after_bars: bool, name: str) -> Headers:
    """`headers` with what one line says. Raises ChartError."""
    column = len(line) - len(line.lstrip()) + 1
    match = _HEADER.fullmatch(line)
    known = ", ".join(HEADERS)
    if match is None or not match[1]:
        raise ChartError(number, column, f"{short(line)} outside a bar", "| before the bar, or a header", name)
    word = match[1].lower()
    if word not in HEADERS:
        expected = f"one of {known}, or | before a bar"
        raise ChartError(number, column, f"unknown header {short(match[1])}", expected, name)
    if after_bars:
        expected = f"headers before the first bar; [{word}: …] changes it from a bar on"
        if word in ("title", "swing"):
            expected = "headers before the first bar"
        raise ChartError(number, column, f"{word} after the bars", expected, name)
    if word in headers.seen:
        raise ChartError(number, column, f"{word} for the second time", "each header once", name)
    value = header_value(word, match[2], number, match.start(2) + 1, name)
    return replace(headers, **{word: value}, seen=headers.seen | {word})


def header_value(word: str, text: str, number: int, column: int, name: str) -> Any:
    """The value of one header's text. Raises ChartError at the place given."""
    read, expected = HEADERS[word]
    try:
        return read(text)
    except ProgressionsError as error:
        raise ChartError(number, column, f"{word} {short(text)}", expected, name) from error


def short(text: str) -> str:
    """The text in quotes, cut where it is long."""
    words = text.strip()
    return repr(words if len(words) <= 30 else words[:29] + "…")
