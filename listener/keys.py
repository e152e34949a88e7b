"""The Enter key, without waiting for it and without its echo on the screen."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Any, Self


class Keys:
    """A context in which `enter_pressed` tells whether Enter came since the last look; never without a terminal."""

    def __init__(self) -> None:
        self._live = sys.stdin is not None and sys.stdin.isatty()
        self._before: Any = None

    def __enter__(self) -> Self:
        if self._live and sys.platform != "win32":
            import termios

            descriptor = sys.stdin.fileno()
            self._before = termios.tcgetattr(descriptor)
            quiet = termios.tcgetattr(descriptor)
            quiet[3] &= ~(termios.ICANON | termios.ECHO)  # Ctrl-C stays a signal
            termios.tcsetattr(descriptor, termios.TCSADRAIN, quiet)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._before is not None:
            import termios

            termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._before)

    def enter_pressed(self) -> bool:
        """Whether Enter is among the keys pressed since the last call."""
        return self._live and any(key in "\r\n" for key in self._pressed())

    def _pressed(self) -> str:
        if sys.platform == "win32":
            import msvcrt

            keys = ""
            while msvcrt.kbhit():
                keys += msvcrt.getwch()
            return keys
        import os
        import select

        descriptor, keys = sys.stdin.fileno(), b""
        while select.select([descriptor], [], [], 0)[0]:
            read = os.read(descriptor, 64)
            if not read:
                self._live = False  # the terminal is gone
                break
            keys += read
        return keys.decode(errors="replace")
