"""The nearest chord symbol to one that cannot be read, by edit distance over every spelling of the tables.

Edit distance counts insertions, deletions, substitutions and swapped neighbours (Damerau, Communications of the ACM 7,
1964). Candidates come from an index of spellings with up to two characters left out, so that a symbol is compared with
a handful of spellings and not with all of them.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations, takewhile

from progressions.errors import ChordError
from progressions.pitch import read_spelled
from progressions.qualities import MODIFIERS, NO_CHORD_SPELLINGS, QUALITIES, QUALITY_SPELLINGS, TWO_READINGS
from progressions.symbols import LONGEST_SYMBOL, NO_CHORD_SYMBOL, canonical_quality, read_symbol

_SHORT = 3  # up to this length one wrong character is all that still tells what was meant
_LONGEST_COMPARED = 14
_GERMAN_B = "H"


def nearest_symbol(text: str) -> str | None:
    """The canonical symbol nearest to a text that is none, or None where none is near or two are meant."""
    symbol = text.strip()
    if not symbol or len(symbol) > LONGEST_SYMBOL:
        return None
    if symbol.lower().replace(" ", "") in {spelling.lower() for spelling in NO_CHORD_SPELLINGS}:
        return NO_CHORD_SYMBOL
    letter = "B" if symbol[0] == _GERMAN_B else symbol[0].upper()
    root, start = read_spelled(letter + symbol[1:], 0)
    if root is None or symbol[start:] in TWO_READINGS:
        return None
    written, _, bass = symbol[start:].partition("/")
    ending = _bass(bass)
    if letter != symbol[0] or (ending.lower() != f"/{bass}".lower().rstrip("/")):
        found = _canonical(f"{root}{written}{ending}")
        if found is not None:
            return found
    candidates = (_canonical(f"{root}{quality}{ending}") for quality in _near(written))
    return next((found for found in candidates if found is not None), _without_its_end(symbol))


def _bass(bass: str) -> str:
    """What can be read as a bass note of what stands after the slash, nothing where none can."""
    if not bass:
        return ""
    letter = "B" if bass[0] == _GERMAN_B else bass[0].upper()
    note, _ = read_spelled(letter + bass[1:], 0)
    return "" if note is None else f"/{note}"


def _canonical(symbol: str) -> str | None:
    try:
        reading = read_symbol(symbol)
    except ChordError:
        return None
    if reading is None:
        return None
    slash = "" if reading.bass is None else f"/{reading.bass}"
    return f"{reading.root}{canonical_quality(reading.row, reading.modifiers)}{slash}"


def _without_its_end(symbol: str) -> str | None:
    """The symbol without one or two last characters, where that alone makes it one."""
    shorter = (_canonical(symbol[:-left_out]) for left_out in (1, 2) if len(symbol) > left_out + 1)
    return next((found for found in shorter if found is not None), None)


def _near(written: str) -> list[str]:
    """Spellings of qualities near what is written, the nearest first, and as the tables order them."""
    word = _plain(written)
    if not word or len(word) > _LONGEST_COMPARED:
        return []
    furthest = 1 if len(word) <= _SHORT else 2
    index, spellings = _index()
    found = {number for key in _with_left_out(word, furthest) for number in index.get(key, ())}
    ranked = []
    for number in found:
        spelling = _plain(spellings[number])
        distance = _distance(word, spelling)
        if distance <= furthest:
            alike = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(word, spelling, strict=False)))
            ranked.append((distance, -alike, _capitals_apart(written, spellings[number]), number))
    return [spellings[number] for *_, number in sorted(ranked)]


def _plain(text: str) -> str:
    return text.lower().replace("♭", "b").replace("♯", "#")


def _capitals_apart(written: str, spelling: str) -> int:
    """By how many capitals the two differ: M and m are not one."""
    return abs(sum(map(str.isupper, written)) - sum(map(str.isupper, spelling)))


@cache
def _index() -> tuple[dict[str, tuple[int, ...]], tuple[str, ...]]:
    """Every spelling with up to two characters left out -> the places of the spellings in the list beside it."""
    altered = (
        canonical_quality(row, (modifier.name,))
        for row in QUALITIES
        for modifier in MODIFIERS
        if modifier.name not in row.functions
    )
    every = (text for text in (*QUALITY_SPELLINGS, *altered) if text and text not in TWO_READINGS)
    spellings = tuple(dict.fromkeys(every))
    index: dict[str, list[int]] = {}
    for number, spelling in enumerate(spellings):
        for key in _with_left_out(_plain(spelling), 2):
            index.setdefault(key, []).append(number)
    return {key: tuple(numbers) for key, numbers in index.items()}, spellings


def _with_left_out(word: str, most: int) -> set[str]:
    """The word with 0 to `most` characters left out, in every way."""
    return {
        "".join(word[i] for i in kept)
        for left_out in range(min(most, len(word) - 1) + 1)
        for kept in combinations(range(len(word)), len(word) - left_out)
    }


def _distance(a: str, b: str) -> int:
    """Edit distance with swaps of neighbours, each pair of characters edited once."""
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, left in enumerate(a, 1):
        older, before, row = before, row, [i]
        for j, right in enumerate(b, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (left != right))
            if i > 1 and j > 1 and left == b[j - 2] and a[i - 2] == right:
                cost = min(cost, older[j - 2] + 1)
            row.append(cost)
    return row[-1]
