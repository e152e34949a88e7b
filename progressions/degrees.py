"""Chords written as degrees of a key: "I7", "♭VII7", "ii-7", "iiø7", "♯iv°7"."""

from __future__ import annotations

import re

from progressions.chords import NO_CHORD, Chord, chord_of
from progressions.errors import ChordError
from progressions.keys import NUMERALS, Key
from progressions.pitch import ACCIDENTAL_VALUES, Spelled
from progressions.symbols import NO_CHORD_SYMBOL, read_after_root

_NUMERAL = re.compile(r"([b♭#♯]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)")


def parse_degree(text: str, key: Key) -> Chord:
    """The chord of a degree in a key. Degrees count on the major scale of the tonic, in minor keys too (♭III, ♭VI).

    Lower case has a minor third, written or not: "ii7" and "ii-7" are one. Raises ChordError.
    """
    if text == NO_CHORD_SYMBOL:
        return NO_CHORD
    match = _NUMERAL.match(text)
    if match is None:
        raise ChordError(text, 0, "a degree from I to VII, lower case for a minor third, or N.C.")
    sign, numeral, start = match[1], match[2], match.end()
    root = key.at_degree(NUMERALS.index(numeral.upper()), ACCIDENTAL_VALUES[sign] if sign else 0)
    chord = chord_of(read_after_root(text, root, start))
    if numeral.islower() and chord.third != "minor":
        chord = _made_minor(text, start, root, chord)
    if chord.bass is not None:
        raise ChordError(text, text.rindex("/"), "the end of the degree, without a slash bass")
    return chord


def _made_minor(text: str, start: int, root: Spelled, chord: Chord) -> Chord:
    """The quality with the m that lower case stands for; a sus or power chord has no third to be minor."""
    try:
        minor = chord_of(read_after_root(f"{text[:start]}m{text[start:]}", root, start))
    except ChordError as error:
        if chord.third is None:
            return chord
        raise ChordError(text, start, "a quality with a minor third after lower case") from error
    return minor if minor.third == "minor" else chord
