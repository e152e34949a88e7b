"""Ctrl-C: the first one ends the sitting in order, the second one ends the program."""

from __future__ import annotations

import signal
from types import FrameType, TracebackType
from typing import Any, Self


class Interrupt:
    """A context in which `asked` becomes True at the first SIGINT or SIGTERM; a second one raises KeyboardInterrupt."""

    def __init__(self) -> None:
        self.asked = False
        self._before: dict[int, Any] = {}

    def __enter__(self) -> Self:
        for number in (signal.SIGINT, signal.SIGTERM):
            self._before[number] = signal.signal(number, self._ask)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def _ask(self, number: int, frame: FrameType | None) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
