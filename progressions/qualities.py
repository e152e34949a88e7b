"""The facts about chord qualities: tones as functions, naming scales, and the spellings of every dialect.

Common practice of jazz and blues. Adding a quality, a scale or a spelling is a line in a table; the parser and the
degree names are derived from these tables.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

# Function -> (letters above the root, semitones above the root). The order is the order of tones in a chord.
FUNCTIONS: dict[str, tuple[int, int]] = {
    "R": (0, 0),
    "2": (1, 2),
    "♭3": (2, 3),
    "3": (2, 4),
    "4": (3, 5),
    "♭5": (4, 6),
    "5": (4, 7),
    "♯5": (4, 8),
    "6": (5, 9),
    "°7": (6, 9),
    "♭7": (6, 10),
    "7": (6, 11),
    "♭9": (1, 1),
    "9": (1, 2),
    "♯9": (1, 3),
    "11": (3, 5),
    "♯11": (3, 6),
    "♭13": (5, 8),
    "13": (5, 9),
}
# Names of degrees that are no function of any chord, only names for notes outside it.
DEGREES: dict[str, tuple[int, int]] = {**FUNCTIONS, "♯4": (3, 6), "♭6": (5, 8)}
# Names by semitones for what is neither in the chord nor in its naming scale.
CHROMATIC = ("R", "♭9", "9", "♭3", "3", "4", "♯4", "5", "♭13", "13", "♭7", "7")

THIRDS = ("3", "♭3")
SEVENTHS = ("7", "♭7", "°7")

# The scales by which notes outside a chord are named.
SCALES: dict[str, tuple[str, ...]] = {
    "major": ("R", "9", "3", "4", "♯11", "5", "13", "7"),  # ♯11 is named beside the 4
    "mixolydian": ("R", "9", "3", "4", "5", "13", "♭7"),
    "dorian": ("R", "9", "♭3", "11", "5", "13", "♭7"),
    "melodic minor": ("R", "9", "♭3", "11", "5", "13", "7"),
    "locrian": ("R", "♭9", "9", "♭3", "11", "♭5", "♭13", "♭7"),  # 9 or ♭9
    "whole-half diminished": ("R", "9", "♭3", "11", "♭5", "♭13", "°7", "7"),
    "diminished triad": ("R", "9", "♭3", "11", "♭5", "♭13", "°7", "7"),
    "altered": ("R", "♭9", "♯9", "3", "♭5", "♯5", "♭7"),
    "whole tone": ("R", "9", "3", "♯11", "♯5", "♭7"),
    "lydian augmented": ("R", "9", "3", "♯11", "♯5", "13", "7"),
}

MAJOR_WORDS = ("maj", "Maj", "MAJ", "ma", "Ma", "MA", "M", "Δ", "∆", "△", "^", "j")
MINOR_WORDS = ("m", "min", "Min", "MIN", "mi", "Mi", "MI", "-")
DIMINISHED_WORDS = ("°", "º", "o", "dim", "Dim", "DIM")
HALF_DIMINISHED_WORDS = ("ø", "Ø", "∅")
AUGMENTED_WORDS = ("+", "aug", "Aug", "AUG")
_WORDS = {
    "{maj}": MAJOR_WORDS,
    "{min}": MINOR_WORDS,
    "{dim}": DIMINISHED_WORDS,
    "{half}": HALF_DIMINISHED_WORDS,
    "{aug}": AUGMENTED_WORDS,
}


@dataclass(frozen=True, slots=True)
class Quality:
    """One row: canonical name as written after the root, tones by function, naming scale, spellings.

    `same_as` names a simpler row and a modifier that together are this row, so that 7(♯5) and +7 are one chord.
    In spellings, {maj}, {min}, {dim}, {half} and {aug} stand for every word of their dialect table.
    """

    name: str
    functions: tuple[str, ...]
    scale: str
    spellings: tuple[str, ...] = ()
    same_as: tuple[str, str] | None = None


def _row(name: str, tones: str, scale: str, spellings: str = "", same_as: tuple[str, str] | None = None) -> Quality:
    return Quality(name, tuple(tones.split()), scale, tuple(spellings.split()), same_as)


QUALITIES: tuple[Quality, ...] = (
    _row("", "R 3 5", "major", "maj Maj MAJ ma Ma MA M major"),
    _row("m", "R ♭3 5", "dorian", "{min} minor"),
    _row("°", "R ♭3 ♭5", "diminished triad", "{dim}", ("m", "♭5")),
    _row("+", "R 3 ♯5", "lydian augmented", "{aug}", ("", "♯5")),
    _row("5", "R 5", "mixolydian", "5", ("", "no3")),
    _row("sus2", "R 2 5", "major", "", ("", "sus2")),
    _row("sus4", "R 4 5", "mixolydian", "", ("", "sus4")),
    _row("6", "R 3 5 6", "major", "6 {maj}6"),
    _row("m6", "R ♭3 5 6", "melodic minor", "{min}6"),
    _row("6/9", "R 3 5 6 9", "major", "6/9 69 6(9) 6add9 {maj}6/9", ("6", "9")),
    _row("m6/9", "R ♭3 5 6 9", "melodic minor", "{min}6/9 {min}69 {min}6(9)", ("m6", "9")),
    _row("maj7", "R 3 5 7", "major", "{maj}7 Δ ∆ △ ^"),
    _row("maj9", "R 3 5 7 9", "major", "{maj}9", ("maj7", "9")),
    _row("maj11", "R 5 7 9 11", "major", "{maj}11"),  # no 3, as in 11
    _row("maj13", "R 3 5 7 9 13", "major", "{maj}13", ("maj9", "13")),
    _row("maj7♯5", "R 3 ♯5 7", "lydian augmented", "{aug}{maj}7 {maj}7+ {aug}({maj}7) +Δ Δ+ {maj}7aug", ("maj7", "♯5")),
    _row("7", "R 3 5 ♭7", "mixolydian", "7 dom7"),
    _row("9", "R 3 5 ♭7 9", "mixolydian", "9 dom9", ("7", "9")),
    _row("11", "R 5 ♭7 9 11", "mixolydian", "11 dom11"),  # no 3: it would clash with the 11
    _row("13", "R 3 5 ♭7 9 13", "mixolydian", "13 dom13", ("9", "13")),  # no 11: it would clash with the 3
    _row("7♯5", "R 3 ♯5 ♭7", "whole tone", "{aug}7 7+ 7aug", ("7", "♯5")),
    _row("9♯5", "R 3 ♯5 ♭7 9", "whole tone", "aug9 Aug9 9+ 9aug", ("9", "♯5")),
    _row("7alt", "R 3 ♭7 ♭9 ♯9 ♭5 ♯5", "altered", "7alt alt 7(alt) 7Alt 7ALT (alt) altered 7altered"),
    _row("m7", "R ♭3 5 ♭7", "dorian", "{min}7"),
    _row("m9", "R ♭3 5 ♭7 9", "dorian", "{min}9", ("m7", "9")),
    _row("m11", "R ♭3 5 ♭7 9 11", "dorian", "{min}11", ("m9", "11")),
    _row("m13", "R ♭3 5 ♭7 9 11 13", "dorian", "{min}13", ("m11", "13")),
    _row("mMaj7", "R ♭3 5 7", "melodic minor", "{min}{maj}7 {min}({maj}7) {min}Δ {min}∆ {min}△ {min}^ {min}♯7 m+7"),
    _row("mMaj9", "R ♭3 5 7 9", "melodic minor", "{min}{maj}9 {min}({maj}9) {min}9({maj}7)", ("mMaj7", "9")),
    _row("°maj7", "R ♭3 ♭5 7", "whole-half diminished", "{dim}{maj}7 {dim}({maj}7)", ("mMaj7", "♭5")),
    _row("m7♭5", "R ♭3 ♭5 ♭7", "locrian", "{half} {half}7 h7 hdim7", ("m7", "♭5")),
    _row("m9♭5", "R ♭3 ♭5 ♭7 9", "locrian", "{half}9", ("m9", "♭5")),
    _row("m11♭5", "R ♭3 ♭5 ♭7 9 11", "locrian", "{half}11", ("m11", "♭5")),
    _row("°7", "R ♭3 ♭5 °7", "whole-half diminished", "{dim}7"),
)


@dataclass(frozen=True, slots=True)
class Modifier:
    """What an alteration, addition, suspension or omission does: takes functions out and puts one in.

    `needs` is what must be there to be taken, by any one of its names; empty where nothing has to be.
    """

    name: str
    adds: str | None
    removes: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    spellings: tuple[str, ...] = ()
    only_in_parentheses: bool = False


# The order is the order in which a canonical symbol writes them.
MODIFIERS: tuple[Modifier, ...] = (
    Modifier("sus2", "2", THIRDS, THIRDS, ("sus2", "Sus2")),
    Modifier("sus4", "4", THIRDS, THIRDS, ("sus4", "sus", "Sus4", "Sus")),
    Modifier("♭5", "♭5", ("5",), (), ("♭5", "-5")),
    Modifier("♯5", "♯5", ("5",), (), ("♯5", "+5")),
    Modifier("♭9", "♭9", ("9",), (), ("♭9", "-9", "add♭9")),
    Modifier("9", "9", (), (), ("9",), only_in_parentheses=True),
    Modifier("9", "9", (), (), ("add9", "add2", "Add9")),
    Modifier("♯9", "♯9", ("9",), (), ("♯9", "+9", "add♯9")),
    Modifier("11", "11", (), (), ("11",), only_in_parentheses=True),
    Modifier("11", "11", (), (), ("add11", "add4", "Add11")),
    Modifier("♯11", "♯11", ("11",), (), ("♯11", "+11", "♯4", "add♯11")),
    Modifier("♭13", "♭13", ("13",), (), ("♭13", "-13", "♭6", "add♭13")),
    Modifier("13", "13", (), (), ("13",), only_in_parentheses=True),
    Modifier("13", "13", (), (), ("add13", "Add13")),
    Modifier("no3", None, THIRDS, THIRDS, ("no3", "omit3", "no 3", "omit 3", "no3rd")),
    Modifier("no5", None, ("5",), ("5",), ("no5", "omit5", "no 5", "omit 5", "no5th")),
)
NATURAL_EXTENSIONS = ("9", "11", "13")

BY_NAME: dict[str, Quality] = {row.name: row for row in QUALITIES}
MODIFIER_BY_NAME: dict[str, Modifier] = {modifier.name: modifier for modifier in MODIFIERS}
MODIFIER_ORDER: dict[str, int] = {name: place for place, name in enumerate(MODIFIER_BY_NAME)}
FOLDED: dict[tuple[str, str], str] = {row.same_as: row.name for row in QUALITIES if row.same_as}
# What has two meanings among players, and how each is written so that nobody doubts. The tool asks back.
TWO_READINGS: dict[str, tuple[str, str]] = {
    "2": ("sus2", "add9"),
    "4": ("sus4", "add11"),
    "+9": ("9♯5", "7♯9"),
    "mj7": ("maj7", "mMaj7"),
}
NO_CHORD_SPELLINGS = ("N.C.", "N.C", "NC", "n.c.", "nc", "N. C.")


def _expanded(template: str) -> list[str]:
    """The template with each dialect word in its place, in every combination."""
    used = [slot for slot in _WORDS if slot in template]
    texts = []
    for words in product(*(_WORDS[slot] for slot in used)):
        text = template
        for slot, word in zip(used, words, strict=True):
            text = text.replace(slot, word)
        texts.append(text)
    return texts


def _quality_spellings() -> dict[str, str]:
    table: dict[str, str] = {}
    for row in QUALITIES:
        for template in (row.name, *row.spellings):
            for text in (word for word in _expanded(template) if word not in TWO_READINGS):
                if table.setdefault(text, row.name) != row.name:
                    raise AssertionError(f"{text!r} spells both {table[text]!r} and {row.name!r}")
    return table


QUALITY_SPELLINGS: dict[str, str] = _quality_spellings()


def guide_functions(functions: tuple[str, ...]) -> tuple[str, ...]:
    """Guide tones: 3 and 7; on 6 chords 3 and 6; on sus 4 and ♭7; on triads 3; on °7 ♭3 and °7."""
    third = next((f for f in (*THIRDS, "4", "2", "11") if f in functions), None)
    seventh = next((f for f in (*SEVENTHS, "6") if f in functions), None)
    return tuple(f for f in (third, seventh) if f is not None)
