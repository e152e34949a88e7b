"""From tones to the symbol: the chord that has given functions over a root, as formats that list degrees need it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from progressions.chords import Chord, chord_of
from progressions.errors import ChordError, ProgressionsError
from progressions.pitch import Spelled
from progressions.qualities import FUNCTIONS, MODIFIER_ORDER, MODIFIERS, QUALITIES, THIRDS, Quality
from progressions.symbols import Reading, canonical_quality, read_after_root, tone_functions

_C = Spelled("C")
_PLACE = {function: place for place, function in enumerate(FUNCTIONS)}
# Adding a function takes the modifier of its name; both are written alike.
_ADDED = {modifier.adds: modifier.name for modifier in MODIFIERS if modifier.adds is not None}


def chord_with_functions(root: Spelled, functions: Iterable[str], bass: Spelled | None = None) -> Chord:
    """The chord whose tones over `root` have exactly these functions ("R", "♭3", "♯11" ...), bass aside.

    Raises ProgressionsError where no symbol has them: a lone root, a third beside another third, no root.
    """
    wanted = frozenset(functions)
    quality = _quality_with(wanted)
    if quality is None:
        told = " ".join(sorted(wanted, key=_PLACE.__getitem__))
        raise ProgressionsError(f"tones {told}: no chord symbol has them")
    row, modifiers = quality
    reading = read_after_root(canonical_quality(row, modifiers), root, 0)
    return chord_of(Reading(root, reading.row, reading.modifiers, bass))


@lru_cache(maxsize=1024)
def _quality_with(wanted: frozenset[str]) -> tuple[Quality, tuple[str, ...]] | None:
    """The row and the fewest modifiers that make these functions, those that take least out of the row first."""
    ways = []
    for place, row in enumerate(QUALITIES):
        there = frozenset(row.functions)
        modifiers = _modifiers_between(there, wanted)
        if modifiers is not None and set(tone_functions(row, modifiers)[0]) == wanted:
            taken = there - wanted
            ways.append((len(modifiers), len(taken) + bool(taken & set(THIRDS)), place, modifiers))
    for _, _, place, modifiers in sorted(ways):
        if _is_read_back(QUALITIES[place], modifiers):
            return QUALITIES[place], modifiers
    return None


def _modifiers_between(there: frozenset[str], wanted: frozenset[str]) -> tuple[str, ...] | None:
    """Names of modifiers that could make one set of functions of another, None where there are none such."""
    added = wanted - there
    if not added <= _ADDED.keys():
        return None
    names = {_ADDED[function] for function in added}
    if there & set(THIRDS) and not wanted & {*THIRDS, "2", "4"}:
        names.add("no3")
    if "5" in there and not wanted & {"5", "♭5", "♯5"}:
        names.add("no5")
    return tuple(sorted(names, key=MODIFIER_ORDER.__getitem__))


def _is_read_back(row: Quality, modifiers: tuple[str, ...]) -> bool:
    try:
        reading = read_after_root(canonical_quality(row, modifiers), _C, 0)
    except ChordError:
        return False
    return tone_functions(reading.row, reading.modifiers) == tone_functions(row, modifiers)
