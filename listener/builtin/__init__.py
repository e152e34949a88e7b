"""The built-in take: one chorus of a slow shuffle in A, for whoever has no guitar at hand.

It is a recording like any other and goes through the same path; NOTICE.txt tells where its sound comes from.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path


@dataclass(frozen=True, slots=True)
class BuiltinTake:
    """A recording and what has to be known to grade it.

    `start_s` is the first beat of the first chorus, counted from the start of the file; before it there is silence.
    `swing` is the ratio of the long to the short eighth; `form` is the name of a form in the library.
    """

    path: Path
    start_s: float
    tempo_bpm: float
    swing: float
    key: str
    form: str


def builtin_take() -> BuiltinTake:
    """The take that comes with the package."""
    path = Path(str(files(__name__) / "take.ogg"))
    return BuiltinTake(path, start_s=6.0, tempo_bpm=80.0, swing=2.0, key="A", form="blues")
