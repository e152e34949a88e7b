"""One root error for the package; each names the value, the place, and what would be right."""

from __future__ import annotations


class ProgressionsError(ValueError):
    """Something about harmony, time or the neck that cannot be read."""


class ChordError(ProgressionsError):
    """A chord symbol that cannot be read. `position` counts characters from 0 inside `symbol`.

    `suggestion` is the nearest symbol that can be read, None where none is near.
    """

    def __init__(self, symbol: str, position: int, expected: str, suggestion: str | None = None) -> None:
        self.symbol, self.position, self.expected, self.suggestion = symbol, position, expected, suggestion
        nearest = "" if suggestion is None else f"; the nearest symbol is {suggestion}"
        super().__init__(f"chord {symbol!r}, character {position + 1}: expected {expected}{nearest}")


class TwoReadingsError(ChordError):
    """A chord symbol that players read in two ways; `readings` are both, written so that nobody doubts."""

    def __init__(self, symbol: str, position: int, readings: tuple[str, str]) -> None:
        self.readings = readings
        super().__init__(symbol, position, f"one of two readings written out, {readings[0]} or {readings[1]}")


class ChartError(ProgressionsError):
    """A chart that cannot be read. `line` and `column` count from 1."""

    def __init__(self, line: int, column: int, found: str, expected: str, name: str = "chart") -> None:
        self.line, self.column, self.found, self.expected, self.name = line, column, found, expected, name
        super().__init__(f"{name}, line {line}, column {column}: {found}; expected {expected}")


class ExchangeError(ProgressionsError):
    """Music of another format that cannot be read as a chart; `place` says where in it: a line, a bar, a chord."""

    def __init__(self, name: str, place: str, found: str, expected: str) -> None:
        self.name, self.place, self.found, self.expected = name, place, found, expected
        super().__init__(f"{name}, {place}: {found}; expected {expected}")
