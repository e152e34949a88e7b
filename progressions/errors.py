"""One root error for the package; each names the value, the place, and what would be right."""

from __future__ import annotations


class ProgressionsError(ValueError):
    """Something about harmony, time or the neck that cannot be read."""


class ChordError(ProgressionsError):
    """A chord symbol that cannot be read. `position` counts characters from 0 inside `symbol`."""

    def __init__(self, symbol: str, position: int, expected: str) -> None:
        self.symbol, self.position, self.expected = symbol, position, expected
        super().__init__(f"chord {symbol!r}, character {position + 1}: expected {expected}")


class ChartError(ProgressionsError):
    """A chart that cannot be read. `line` and `column` count from 1."""

    def __init__(self, line: int, column: int, found: str, expected: str, name: str = "chart") -> None:
        self.line, self.column, self.found, self.expected, self.name = line, column, found, expected, name
        super().__init__(f"{name}, line {line}, column {column}: {found}; expected {expected}")
