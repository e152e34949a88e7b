"""Chords written as degrees of a key: "I7", "♭VII7", "ii-7", "iiø7", "♯iv°7", "IV/5"; there and back."""

from __future__ import annotations

import re
from functools import lru_cache

from progressions.chords import NO_CHORD, Chord, chord_of, parse_chord, with_root
from progressions.errors import ChordError
from progressions.keys import NUMERALS, SIGNS, Key
from progressions.pitch import ACCIDENTAL_VALUES, Spelled
from progressions.qualities import NO_CHORD_SPELLINGS
from progressions.suggestions import nearest_symbol
from progressions.symbols import read_after_root

_NUMERAL = re.compile(r"([b♭#♯]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)")
_BASS = re.compile(r"/([b♭#♯]?)([1-7])$")
# A dash before a numeral joins two degrees, ii–V; before anything else it is the dash of a minor chord, ii-7.
_JOINT = re.compile(r"(?:–|-(?=[b♭#♯]?[IViv]))")
# How what stands after the root of a minor chord is written after a numeral in lower case; the longest first.
_AFTER_LOWER_CASE = (("m7♭5", "ø7"), ("m9♭5", "ø9"), ("m11♭5", "ø11"), ("m", "-"))


def is_degree(text: str) -> bool:
    """Whether a symbol is written as a degree: it begins with a roman numeral, as no chord symbol does."""
    return _NUMERAL.match(text) is not None


def split_degrees(text: str) -> list[tuple[int, str]]:
    """The degrees that dashes join, each with its place: "ii–V7" is ii at 0 and V7 at 3."""
    parts, start = [], 0
    for joint in _JOINT.finditer(text):
        parts.append((start, text[start : joint.start()]))
        start = joint.end()
    return [*parts, (start, text[start:])]


@lru_cache(maxsize=2048)
def parse_degree(text: str, key: Key) -> Chord:
    """The chord of a degree in a key. Degrees count on the major scale of the tonic, in minor keys too (♭III, ♭VI).

    Lower case has a minor third, written or not: "ii7" and "ii-7" are one. A bass after a slash is a degree of the
    key in figures: "IV/5" in C is F/G. Raises ChordError.
    """
    if text in NO_CHORD_SPELLINGS:
        return NO_CHORD
    match = _NUMERAL.match(text)
    if match is None:
        raise ChordError(text, 0, "a degree from I to VII, lower case for a minor third, or N.C.")
    sign, numeral = match[1], match[2]
    root = key.at_degree(NUMERALS.index(numeral.upper()), _accidental(sign))
    try:
        return _on_root(text, match.end(), root, numeral.islower(), key)
    except ChordError as error:
        nearest = _nearest(text[match.end() :], root, numeral.islower(), key)
        raise ChordError(text, error.position, error.expected, nearest) from error


def _on_root(text: str, start: int, root: Spelled, lower: bool, key: Key) -> Chord:
    """The chord of a degree whose numeral ends at `start`; `lower` is lower case."""
    bass = _BASS.search(text)
    body = text if bass is None else text[: bass.start()]
    chord = chord_of(read_after_root(body, root, start))
    if lower and chord.third != "minor":
        chord = _made_minor(body, start, root, chord)
    if chord.bass is not None:
        raise ChordError(text, text.rindex("/"), "the end of the degree, or a bass as a degree in figures, such as /5")
    return chord if bass is None else with_bass(chord, key.at_degree(int(bass[2]) - 1, _accidental(bass[1])))


def _accidental(sign: str) -> int:
    return ACCIDENTAL_VALUES[sign] if sign else 0


def with_bass(chord: Chord, bass: Spelled) -> Chord:
    """The chord over a bass note."""
    return parse_chord(f"{chord.root}{chord.quality}/{bass}")


def _made_minor(text: str, start: int, root: Spelled, chord: Chord) -> Chord:
    """The quality with the m that lower case stands for; a sus or power chord has no third to be minor."""
    try:
        minor = chord_of(read_after_root(f"{text[:start]}m{text[start:]}", root, start))
    except ChordError as error:
        if chord.third is None:
            return chord
        raise ChordError(text, start, "a quality with a minor third after lower case") from error
    return minor if minor.third == "minor" else chord


def _nearest(quality: str, root: Spelled, lower: bool, key: Key) -> str | None:
    """The nearest degree, by the nearest symbol with the same root."""
    for minor in ("", "m") if lower else ("",):
        nearest = nearest_symbol(f"C{minor}{quality}")
        chord = NO_CHORD if nearest is None else parse_chord(nearest)
        if chord.root is not None and chord.bass is None and (chord.third == "minor") == lower:
            return degree_text(with_root(chord, root), key)
    return None


def degree_text(chord: Chord, key: Key) -> str:
    """The chord as a degree of a key, as `parse_degree` reads it back: Dm7 in C is "ii-7", F/G "IV/5".

    A root that the key spells otherwise (D♭ in F♯) comes back under the key's name, with the same sound.
    """
    if chord.root is None:
        return chord.symbol
    # a slash bass can sound the third, and does not make the chord minor: C5/E♭
    is_minor = parse_chord(f"{chord.root}{chord.quality}").third == "minor"
    numeral, quality = key.roman(chord.root, is_minor), chord.quality
    if is_minor:
        for written, lower in _AFTER_LOWER_CASE:
            if quality.startswith(written):
                rest = quality[len(written) :]
                # plain minor is told by lower case alone
                quality = lower + rest if rest or written != "m" else ""
                break
    return numeral + quality + ("" if chord.bass is None else _figure(chord.bass, key))


def _figure(bass: Spelled, key: Key) -> str:
    steps, accidental = key.degree(bass)
    return f"/{SIGNS[accidental]}{steps + 1}"
