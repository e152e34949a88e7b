"""Chord labels of annotated recordings: "A:min7/b3", "Bb:7(#9)", "C:(3,5,b7)", N for no chord.

The syntax is that of Harte, Sandler, Abdallah and Gómez, "Symbolic representation of musical chords by computers:
a proposed syntax" (ISMIR 2005), with the shorthands that the JAMS namespace "chord" adds to it.
"""

from __future__ import annotations

import re

from progressions.chords import NO_CHORD, Chord
from progressions.errors import ChordError, ProgressionsError
from progressions.exchange.degrees import MAJOR_SEMITONES, Degree, bass_steps, degree_of, functions_of
from progressions.naming import chord_with_functions
from progressions.pitch import Spelled
from progressions.qualities import BY_NAME

# Shorthand -> quality. The first line and a half are the paper's, the rest came with JAMS. Degrees in parentheses add.
SHORTHANDS: dict[str, str] = {
    "maj": "", "min": "m", "dim": "°", "aug": "+", "maj7": "maj7", "min7": "m7", "7": "7", "dim7": "°7",
    "hdim7": "m7♭5", "minmaj7": "mMaj7", "maj6": "6", "min6": "m6", "9": "9", "maj9": "maj9", "min9": "m9",
    "sus4": "sus4", "sus2": "sus2", "5": "5", "aug7": "7♯5", "11": "11", "maj11": "maj11", "min11": "m11",
    "13": "13", "maj13": "maj13", "min13": "m13",
}  # fmt: skip
LONE_ROOT = "1"
NO_CHORD_LABELS = ("N", "X")  # X, a chord that could not be named, is kept and not graded, like no chord
LONGEST_LABEL = 60

_ROOT = re.compile(r"([A-G])(b{0,2}|#{0,2})(?![b#])")
_SHORTHAND = re.compile("[a-z0-9]+")
_DEGREE = re.compile(r"(\*?)(b{0,2}|#{0,2})(1[0-3]|[1-9])(?!\d)")


def parse_harte(label: str) -> Chord:
    """The chord of a label. Raises ChordError with the position of what has no reading or no symbol."""
    if label in NO_CHORD_LABELS:
        return NO_CHORD
    if len(label) > LONGEST_LABEL:
        raise ChordError(label[:LONGEST_LABEL] + "…", LONGEST_LABEL, f"a label of at most {LONGEST_LABEL} characters")
    match = _ROOT.match(label)
    if match is None:
        raise ChordError(label, 0, "a root such as C, F# or Bb, or N")
    root = Spelled(match[1], match[2].count("#") - match[2].count("b"))
    degrees, at = _quality(label, match.end())
    bass = None
    if at < len(label):
        if label[at] != "/":
            raise ChordError(label, at, "a colon, a slash and a degree, or the end")
        (omitted, degree), at = _degree(label, at + 1)
        if omitted or at != len(label):
            raise ChordError(label, at, "one degree as the bass, and the end")
        bass = root.up(*bass_steps(*degree))
    try:
        return chord_with_functions(root, functions_of(degrees), None if bass == root else bass)
    except ProgressionsError as error:
        raise ChordError(label, match.end(), f"a chord that has a symbol ({error})") from error


def _quality(label: str, at: int) -> tuple[set[Degree], int]:
    """The degrees that stand after the root, the major triad where nothing does, and where they end."""
    if label[at : at + 1] != ":":
        return {degree_of(function) for function in BY_NAME[""].functions}, at
    at += 1
    degrees = {(1, 0)}
    shorthand = _SHORTHAND.match(label, at)
    if shorthand is not None:
        word = shorthand[0]
        if word not in SHORTHANDS and word != LONE_ROOT:
            raise ChordError(label, at, f"a shorthand, one of {', '.join(SHORTHANDS)}")
        if word != LONE_ROOT:
            degrees = {degree_of(function) for function in BY_NAME[SHORTHANDS[word]].functions}
        at = shorthand.end()
    if label[at : at + 1] != "(":
        if shorthand is None:
            raise ChordError(label, at, "a shorthand such as min7, or degrees in parentheses")
        return degrees, at
    return _with_listed(label, at + 1, degrees)


def _with_listed(label: str, at: int, degrees: set[Degree]) -> tuple[set[Degree], int]:
    while True:
        (omitted, degree), at = _degree(label, at)
        degrees = degrees - {degree} if omitted else degrees | {degree}
        if label[at : at + 1] == ")":
            return degrees, at + 1
        if label[at : at + 1] != ",":
            raise ChordError(label, at, "a comma or a closing parenthesis")
        at += 1


def _degree(label: str, at: int) -> tuple[tuple[bool, Degree], int]:
    match = _DEGREE.match(label, at)
    if match is None:
        raise ChordError(label, at, "a degree from 1 to 13 with b or #, such as b7")
    number = int(match[3])
    simple = number if number in MAJOR_SEMITONES else number - 7
    semitones = (MAJOR_SEMITONES[simple] + match[2].count("#") - match[2].count("b")) % 12
    return (bool(match[1]), (simple, semitones)), match.end()
