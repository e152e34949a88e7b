"""Which finger stands where: along an arpeggio, one finger a fret; in a chord shape, with a barre where one serves.

Fingers are 1 (index) to 4 (little finger), 0 is an open string. Common practice of the guitar.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

FINGERS = 4
SHAPE_FRETS = 5


def arpeggio_fingers(places: Sequence[tuple[int, int]]) -> list[int]:
    """A finger for each (string, fret) of one zone.

    The first finger lies on the lowest fret that is used, each further finger a fret on; the little finger stretches
    for the fifth fret, and where it has to play two frets of one string the fingers below move up by one.
    """
    fretted = [fret for _, fret in places if fret > 0]
    base = min(fretted, default=1)
    given: dict[tuple[int, int], int] = {}
    for _, group in groupby(sorted(places), key=lambda place: place[0]):
        next_finger = FINGERS + 1
        for string, fret in sorted(group, reverse=True):
            finger = 0 if fret == 0 else max(1, min(FINGERS, fret - base + 1, next_finger - 1))
            given[string, fret] = next_finger = finger
    return [given[place] for place in places]


def shape_fingers(frets: Sequence[int | None]) -> tuple[tuple[int, ...], int] | None:
    """Fingers for a chord shape (low string first, None is not played) and how many barres it takes beside the first.

    The first finger may lie across the lowest fret, where no string under it is open or left out; another finger
    across neighbouring strings of one fret. None where four fingers do not suffice, or reach over five frets.
    """
    fretted = [(fret, string) for string, fret in enumerate(frets) if fret]
    if not fretted:
        return tuple(0 for _ in frets), 0
    lowest, highest = min(fretted)[0], max(fretted)[0]
    if highest - lowest >= SHAPE_FRETS:
        return None
    first = [string for fret, string in fretted if fret == lowest]
    under = [frets[string] for string in range(first[0], first[-1] + 1)]
    groups = [[(lowest, string)] for string in first]
    if len(first) > 1 and all(under):
        groups = [[(lowest, string) for string in first]]
    groups += [[place] for place in sorted(fretted) if place[0] > lowest]
    barres = 0
    while len(groups) > FINGERS:
        joined = _joined(groups)
        if joined is None:
            return None
        groups, barres = joined, barres + 1
    return _numbered(groups, lowest, len(frets)), barres


def _joined(groups: list[list[tuple[int, int]]]) -> list[list[tuple[int, int]]] | None:
    """The groups with one pair of neighbours on the same fret, the highest, under one finger."""
    for at in range(len(groups) - 1, 0, -1):
        (fret, string), (fret_before, string_before) = groups[at][0], groups[at - 1][-1]
        if fret == fret_before and string == string_before + 1:
            return [*groups[: at - 1], groups[at - 1] + groups[at], *groups[at + 1 :]]
    return None


def _numbered(groups: list[list[tuple[int, int]]], lowest: int, strings: int) -> tuple[int, ...]:
    """One finger a fret as far as the fingers left over allow."""
    fingers, finger = [0] * strings, 0
    for at, group in enumerate(groups):
        left = len(groups) - at - 1
        finger = max(finger + 1, min(group[0][0] - lowest + 1, FINGERS - left))
        for _, string in group:
            fingers[string] = finger
    return tuple(fingers)
