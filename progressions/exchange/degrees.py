"""Chord degrees as other formats count them, a number and semitones above the root, and our functions."""

from __future__ import annotations

from collections.abc import Iterable

from progressions.errors import ProgressionsError
from progressions.qualities import FUNCTIONS, SEVENTHS, THIRDS

# The letters of a seventh chord come before those of its extensions: (number, semitones) -> function.
FUNCTION_OF: dict[tuple[int, int], str] = {
    (1, 0): "R",
    (2, 1): "♭9",
    (2, 3): "♯9",
    (3, 3): "♭3",
    (3, 4): "3",
    (4, 6): "♯11",
    (5, 6): "♭5",
    (5, 7): "5",
    (5, 8): "♯5",
    (6, 8): "♭13",
    (7, 9): "°7",
    (7, 10): "♭7",
    (7, 11): "7",
    (9, 1): "♭9",
    (9, 2): "9",
    (9, 3): "♯9",
    (11, 5): "11",
    (11, 6): "♯11",
    (13, 8): "♭13",
    (13, 9): "13",
}
NUMBER_OF: dict[str, int] = {function: number for (number, _), function in reversed(FUNCTION_OF.items())} | {
    "2": 2,
    "4": 4,
    "6": 6,
    "♭9": 9,
    "♯9": 9,
    "♯11": 11,
    "♭13": 13,
}
MAJOR_SEMITONES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11, 9: 2, 11: 5, 13: 9}

Degree = tuple[int, int]


def degree_of(function: str) -> Degree:
    return NUMBER_OF[function], FUNCTIONS[function][1]


def functions_of(degrees: Iterable[Degree]) -> frozenset[str]:
    """The functions that degrees have beside each other: 2 and 4 in the place of a third, 6 without a seventh.

    Raises ProgressionsError for a degree that no chord symbol can name.
    """
    given = set(degrees)
    fixed = {FUNCTION_OF[degree] for degree in given if degree in FUNCTION_OF}
    third = bool(fixed & set(THIRDS))
    open_names = {
        (4, 5): "11" if third else "4",
        (2, 2): "9" if third or (4, 5) in given else "2",
        (6, 9): "13" if fixed & set(SEVENTHS) else "6",
    }
    unknown = [degree for degree in given if degree not in FUNCTION_OF and degree not in open_names]
    if unknown:
        number, semitones = min(unknown)
        raise ProgressionsError(f"degree {number} at {semitones} semitones: no chord symbol has it")
    return frozenset(fixed | {open_names[degree] for degree in given if degree in open_names})


def bass_steps(number: int, semitones: int) -> tuple[int, int]:
    """Letters and semitones above the root of a degree of any number from 1."""
    return (number - 1) % 7, semitones % 12
