"""Reads and writes chord symbols: root, quality, alterations, slash bass. The tables are in `qualities`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from progressions.errors import ChordError, TwoReadingsError
from progressions.pitch import Spelled, read_spelled
from progressions.qualities import (
    BY_NAME,
    DEGREES,
    FUNCTIONS,
    MODIFIER_BY_NAME,
    MODIFIER_ORDER,
    MODIFIERS,
    NATURAL_EXTENSIONS,
    NO_CHORD_SPELLINGS,
    QUALITIES,
    QUALITY_SPELLINGS,
    SCALES,
    SEVENTHS,
    TWO_READINGS,
    Modifier,
    Quality,
)

NO_CHORD_SYMBOL = "N.C."
LONGEST_SYMBOL = 40
_PLACE = {function: place for place, function in enumerate(FUNCTIONS)}
_MODIFIER_SPELLINGS = {text: modifier for modifier in MODIFIERS for text in modifier.spellings}
_QUALITY_LENGTHS = sorted({len(text) for text in QUALITY_SPELLINGS}, reverse=True)
_MODIFIER_LENGTHS = sorted({len(text) for text in _MODIFIER_SPELLINGS}, reverse=True)
# Dashes of other keyboards mean the minus of C−7.
_DASHES = str.maketrans({"−": "-", "–": "-"})
_SEPARATORS = ", /"
_EXPECTED_QUALITY = (
    "a quality such as m7, maj7, 7, m7♭5, °7, 6, sus4, an alteration such as ♭9, a slash bass, or the end"
)


@dataclass(frozen=True, slots=True)
class Reading:
    """A symbol taken apart: `row` of the table of qualities, names of modifiers in canonical order."""

    root: Spelled
    row: Quality
    modifiers: tuple[str, ...]
    bass: Spelled | None


def read_symbol(text: str) -> Reading | None:
    """The symbol taken apart, None for N.C. Raises ChordError."""
    symbol = text.strip()
    if symbol in NO_CHORD_SPELLINGS:
        return None
    if not symbol:
        raise ChordError(text, 0, "a chord symbol such as A7, Dm7 or E♭maj7, or N.C.")
    if len(symbol) > LONGEST_SYMBOL:
        raise ChordError(
            symbol[:LONGEST_SYMBOL] + "…", LONGEST_SYMBOL, f"a symbol of at most {LONGEST_SYMBOL} characters"
        )
    root, end = read_spelled(symbol, 0)
    if root is None:
        raise ChordError(symbol, 0, "a root, a capital letter from A to G")
    if abs(root.accidental) == 2 and end == 3:
        return _double_accidental(symbol, root)
    return read_after_root(symbol, root, end)


def _double_accidental(symbol: str, root: Spelled) -> Reading:
    """Ebb5 is E♭ with a flat five or E𝄫 with its five: where both can be read, ask."""
    once = Spelled(root.letter, root.accidental // 2)
    readings: list[Reading] = []
    refusals: list[ChordError] = []
    for candidate, end in ((once, 2), (root, 3)):
        try:
            readings.append(read_after_root(symbol, candidate, end))
        except ChordError as error:
            refusals.append(error)
    if len(readings) == 2:
        rest = symbol[2:].replace("b", "♭").replace("#", "♯")
        raise TwoReadingsError(symbol, 2, (f"{once}({rest})", f"{root}{symbol[3:]}"))
    if not readings:
        raise refusals[-1]
    return readings[0]


def read_after_root(symbol: str, root: Spelled, start: int) -> Reading:
    """What follows a root: everything of `symbol` from `start` on. Raises ChordError with positions in `symbol`."""
    plain = _with_signs(symbol.translate(_DASHES))
    _refuse_two_readings(symbol, plain, start)
    refusal: ChordError | None = None
    # The longest spelling is right but for words that run on: Cmadd9 is m and add9, not ma and dd9.
    for length in _QUALITY_LENGTHS:
        spelled = plain[start : start + length]
        if len(spelled) < length or spelled not in QUALITY_SPELLINGS:
            continue
        row = BY_NAME[QUALITY_SPELLINGS[spelled]]
        try:
            at, written = _read_modifiers(symbol, plain, row, start + len(spelled))
            bass = _read_bass(symbol, at)
            row, names = _folded(row, written)
            _check(symbol, row, names, written)
        except ChordError as error:
            if refusal is None or error.position > refusal.position:
                refusal = error
            continue
        return Reading(root, row, names, bass)
    if refusal is None:  # the major triad is spelled by nothing at all, so every symbol starts a quality
        raise AssertionError(f"no quality fits {symbol!r}")
    raise refusal


def _refuse_two_readings(symbol: str, plain: str, start: int) -> None:
    """Asks back where players mean different chords by one symbol, such as C2."""
    quality, slash, bass = plain[start:].partition("/")
    if quality in TWO_READINGS:
        first, second = (f"{symbol[:start]}{written}{slash}{bass}" for written in TWO_READINGS[quality])
        raise TwoReadingsError(symbol, start, (first, second))


def _with_signs(symbol: str) -> str:
    """b and # before a digit as ♭ and ♯, character for character, so that positions hold."""
    signs = {"b": "♭", "#": "♯"}
    return "".join(signs[c] if c in signs and symbol[i + 1 : i + 2].isdigit() else c for i, c in enumerate(symbol))


def _read_modifiers(symbol: str, plain: str, row: Quality, start: int) -> tuple[int, dict[str, int]]:
    """Where the modifiers that begin at `start` end, and the place of each by its name."""
    at, written, opened = start, dict[str, int](), -1
    inside = _unfolded(row.name)[1]
    while at < len(plain) and (opened >= 0 or plain[at] != "/"):
        if plain[at] == "(" and opened < 0:
            opened, at = at, at + 1
            continue
        if plain[at] == ")" and opened >= 0 and opened != at - 1:
            opened, at = -1, at + 1
            continue
        if plain[at] in _SEPARATORS and opened >= 0 and opened != at - 1:
            at += 1
            continue
        text, modifier = _modifier_at(plain, at, opened >= 0)
        if modifier is None:
            raise ChordError(symbol, at, _EXPECTED_QUALITY if opened < 0 else "an alteration such as ♭9, ♯11 or add9")
        if modifier.name in written or modifier.name in inside:
            raise ChordError(symbol, at, f"no {modifier.name}, which the chord has already")
        for other in (MODIFIER_BY_NAME[name] for name in written):
            if modifier.adds in other.removes or other.adds in modifier.removes:
                raise ChordError(symbol, at, f"{other.name} or {modifier.name}, not both")
        written[modifier.name] = at
        at += len(text)
    if opened >= 0:
        raise ChordError(symbol, at, "a closing parenthesis")
    return at, written


def _modifier_at(plain: str, at: int, in_parentheses: bool) -> tuple[str, Modifier | None]:
    for length in _MODIFIER_LENGTHS:
        text = plain[at : at + length]
        modifier = _MODIFIER_SPELLINGS.get(text) if len(text) == length else None
        if modifier is not None and (in_parentheses or not modifier.only_in_parentheses):
            return text, modifier
    return "", None


def _read_bass(symbol: str, at: int) -> Spelled | None:
    if at == len(symbol):
        return None
    bass, end = read_spelled(symbol, at + 1)
    if bass is None:
        raise ChordError(symbol, at + 1, "a bass note from A to G after the slash")
    if end != len(symbol):
        raise ChordError(symbol, end, "the end of the symbol after its bass note")
    return bass


def _check(symbol: str, row: Quality, names: tuple[str, ...], written: dict[str, int]) -> None:
    """Raises ChordError for a modifier that has nothing to change, or adds what sounds already.

    The order is the canonical one, so that a symbol and its canonical writing are accepted alike.
    """
    functions = set(row.functions)
    for modifier in (MODIFIER_BY_NAME[name] for name in names):
        if modifier.needs and not functions & set(modifier.needs):
            expected = f"no {modifier.name} where there is no {' or '.join(modifier.needs)} to take out"
            raise ChordError(symbol, written.get(modifier.name, len(symbol)), expected)
        functions -= set(modifier.removes)
        if modifier.adds is None:
            continue
        if any(DEGREES[function][1] == DEGREES[modifier.adds][1] for function in functions):
            expected = f"no {modifier.name}, which the chord has already"
            raise ChordError(symbol, written.get(modifier.name, len(symbol)), expected)
        functions.add(modifier.adds)


@lru_cache(maxsize=256)
def _unfolded(name: str) -> tuple[str, frozenset[str]]:
    """A row as the simplest row and modifiers that make it: 13 is 7 with 9 and 13."""
    row, modifiers = BY_NAME[name], set[str]()
    while row.same_as is not None:
        modifiers.add(row.same_as[1])
        row = BY_NAME[row.same_as[0]]
    return row.name, frozenset(modifiers)


def _folded(row: Quality, written: Iterable[str]) -> tuple[Quality, tuple[str, ...]]:
    """The row that says most of it, and the modifiers that remain: 7 with ♯5 is the row 7♯5."""
    simplest, inside = _unfolded(row.name)
    wanted = inside.union(written)
    best, folded = next((other, names) for other, names in _FAMILIES[simplest] if names <= wanted)
    return best, tuple(sorted(wanted - folded, key=MODIFIER_ORDER.__getitem__))


def _families() -> dict[str, list[tuple[Quality, frozenset[str]]]]:
    """Simplest row -> the rows that unfold to it, those with the most modifiers first."""
    families: dict[str, list[tuple[Quality, frozenset[str]]]] = {}
    for row in QUALITIES:
        simplest, modifiers = _unfolded(row.name)
        families.setdefault(simplest, []).append((row, modifiers))
    return {name: sorted(rows, key=lambda pair: -len(pair[1])) for name, rows in families.items()}


_FAMILIES = _families()


@lru_cache(maxsize=1024)
def tone_functions(row: Quality, modifiers: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Functions of a quality from the root up, and its naming scale with the alterations in their places."""
    functions, scale = set(row.functions), list(SCALES[row.scale])
    natural_first = sorted(modifiers, key=lambda name: name not in NATURAL_EXTENSIONS)
    for modifier in (MODIFIER_BY_NAME[name] for name in natural_first):
        functions -= set(modifier.removes)
        if modifier.adds is None:
            continue
        functions.add(modifier.adds)
        if modifier.name[0] in "♭♯":
            scale = _altered(scale, modifier)
    return tuple(sorted(functions, key=_PLACE.__getitem__)), tuple(scale)


def _altered(scale: list[str], modifier: Modifier) -> list[str]:
    """The scale with an altered tone in the place of the natural one; ♯9, the blue third, leaves the 9 its place."""
    natural = {"♭9": ("9",), "♯11": ("4", "11"), "♭5": ("5",), "♯5": ("5",), "♭13": ("13",)}.get(modifier.name, ())
    kept = [degree for degree in scale if degree not in natural]
    if any(DEGREES[degree][1] == DEGREES[modifier.name][1] for degree in kept):
        return kept
    return [*kept, modifier.name]


def canonical_quality(row: Quality, modifiers: tuple[str, ...]) -> str:
    """What stands after the root: "m7♭5", "7♭9", "7(♭9,♯11)", "7sus4(♭9)", "(♭5)", "m(add9)"."""
    suspended = "".join(name for name in modifiers if name.startswith("sus"))
    has_seventh = any(f in SEVENTHS for f in row.functions)
    rest = [
        f"add{name}" if name in NATURAL_EXTENSIONS and not has_seventh else name
        for name in modifiers
        if not name.startswith("sus")
    ]
    stem = row.name + suspended
    if not rest:
        return stem
    plain = len(rest) == 1 and rest[0][0] in "♭♯" and row.name[-1:].isdigit() and not suspended
    if (plain and not any(sign in row.name for sign in "♭♯")) or (rest == ["add9"] and not stem):
        return stem + rest[0]
    return f"{stem}({','.join(rest)})"
