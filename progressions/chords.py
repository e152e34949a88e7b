"""Chords: a symbol's tones with functions and spellings, and names for every note heard over them.

Spelling follows the chord: the third of A7 is C♯, never D♭. The tables are in `qualities`, the reader of symbols in
`symbols`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from progressions.errors import ChordError, ProgressionsError, TwoReadingsError
from progressions.keys import Key, plain_root
from progressions.pitch import Spelled, neutral_name
from progressions.qualities import CHROMATIC, DEGREES, SEVENTHS, guide_functions
from progressions.suggestions import nearest_symbol
from progressions.symbols import (
    NO_CHORD_SYMBOL,
    Reading,
    canonical_quality,
    read_after_root,
    read_symbol,
    tone_functions,
)

_WITHOUT_SEVENTH = {"13": "6", "♭13": "♭6"}


@dataclass(frozen=True, slots=True)
class Tone:
    """One chord tone: its function in the symbol (R, ♭3, ♭7, 9 ... or "bass"), semitones above the root, its name."""

    function: str
    semitones: int
    pitch: Spelled


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord as its symbol means it; made by `parse_chord`.

    `symbol` is canonical ("E♭maj7", "C7/E", "N.C."), `quality` what stands between root and bass. `tones` run from
    the root up and end with a slash bass that is no tone of the chord otherwise. `root` is None for no chord.
    `scale` is the naming scale of the quality, as degrees, with the symbol's alterations in their places.
    `guide_tones` are the pitch classes of 3 and 7; on 6 chords 3 and 6; on sus 4 and ♭7; on triads 3; on °7 ♭3 and
    °7. A power chord has none, a sus triad its 4 (or 2) alone; a slash bass changes none.
    """

    symbol: str
    root: Spelled | None
    quality: str
    tones: tuple[Tone, ...]
    bass: Spelled | None = None
    scale: tuple[str, ...] = field(default=(), repr=False)
    guide_tones: tuple[int, ...] = field(default=(), repr=False)

    def __str__(self) -> str:
        return self.symbol

    @property
    def is_no_chord(self) -> bool:
        """True for N.C.: notes there are kept and not graded."""
        return self.root is None

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Pitch classes of all tones, a slash bass included; empty for N.C."""
        return frozenset(tone.pitch.pitch_class for tone in self.tones)

    @property
    def functions(self) -> tuple[str, ...]:
        return tuple(tone.function for tone in self.tones)

    @property
    def third(self) -> str | None:
        """ "major", "minor", or None for a chord without a third (5, sus, 11, N.C.)."""
        if "3" in self.functions:
            return "major"
        return "minor" if "♭3" in self.functions else None

    @property
    def has_sharp_nine(self) -> bool:
        return "♯9" in self.functions

    def function_of(self, pitch_class: int) -> str | None:
        """Function of a chord tone, None for any other pitch class."""
        for tone in self.tones:
            if tone.pitch.pitch_class == pitch_class % 12:
                return tone.function
        return None

    def degree_of(self, pitch_class: int) -> str:
        """Degree over the root: the function of a chord tone, else the naming scale's name, else a chromatic one.

        The sixth is 13 over a chord with a seventh, else 6. Raises ProgressionsError for N.C., that has no degrees.
        """
        function = self.function_of(pitch_class)
        return function if function is not None else self._outside_degree(self._semitones(pitch_class))

    def is_scale_tone(self, pitch_class: int) -> bool:
        """Whether the naming scale of the quality holds the pitch class (every chord tone of the scale included)."""
        return not self.is_no_chord and any(DEGREES[name][1] == self._semitones(pitch_class) for name in self.scale)

    def is_colour(self, pitch_class: int) -> bool:
        """Whether it is a 9, 13 or 6 of the naming scale, or over a minor third an 11, and no chord tone."""
        if self.function_of(pitch_class) is not None or not self.is_scale_tone(pitch_class):
            return False
        semitones = self._semitones(pitch_class)
        return semitones in (2, 9) or (semitones == 5 and self.third == "minor")

    def name_of(self, pitch_class: int) -> Spelled:
        """The spelling of any pitch class over this chord, by its function or degree; over N.C. the commonest."""
        if self.root is None:
            return neutral_name(pitch_class)
        for tone in self.tones:
            if tone.pitch.pitch_class == pitch_class % 12:
                return tone.pitch
        return self.root.up(*DEGREES[self._outside_degree(self._semitones(pitch_class))])

    def _semitones(self, pitch_class: int) -> int:
        if self.root is None:
            raise ProgressionsError("N.C. has no root: expected a chord to name a degree over")
        return (pitch_class - self.root.pitch_class) % 12

    def _outside_degree(self, semitones: int) -> str:
        return _degree_name(semitones, self.scale, self.functions)


def _degree_name(semitones: int, scale: tuple[str, ...], functions: tuple[str, ...]) -> str:
    """Name of a pitch outside the chord: by the scale first, then chromatically."""
    name = next((degree for degree in scale if DEGREES[degree][1] == semitones), CHROMATIC[semitones])
    if any(f in SEVENTHS for f in functions):
        return name
    return _WITHOUT_SEVENTH.get(name, name)


NO_CHORD = Chord(NO_CHORD_SYMBOL, None, "", ())


@lru_cache(maxsize=2048)
def parse_chord(text: str) -> Chord:
    """The chord of a symbol in any common dialect: "A7", "Bb-7", "CΔ7", "F#m7b5", "G7(b9,#11)", "C/E", "N.C.".

    Raises ChordError with the position inside the text, what was expected there, and the nearest symbol.
    """
    try:
        reading = read_symbol(text)
    except TwoReadingsError:
        raise
    except ChordError as error:
        raise ChordError(error.symbol, error.position, error.expected, nearest_symbol(text)) from None
    return NO_CHORD if reading is None else chord_of(reading)


def with_root(chord: Chord, root: Spelled) -> Chord:
    """The same chord on another root; a slash bass keeps its distance."""
    if chord.root is None:
        return chord
    bass = None if chord.bass is None else plain_root(root.up(*chord.root.interval_to(chord.bass)))
    reading = read_after_root(chord.quality, root, 0)
    return chord_of(Reading(root, reading.row, reading.modifiers, bass))


def transpose_chord(chord: Chord, semitones: int, prefer: Key) -> Chord:
    """The chord `semitones` higher, its root spelled as in the key `prefer`."""
    if chord.root is None:
        return chord
    return with_root(chord, prefer.spell(chord.root.pitch_class + semitones))


def chord_of(reading: Reading) -> Chord:
    """The chord of a symbol that has been taken apart."""
    functions, scale = tone_functions(reading.row, reading.modifiers)
    guides = tuple((reading.root.pitch_class + DEGREES[f][1]) % 12 for f in guide_functions(functions))
    tones = [Tone(f, DEGREES[f][1], reading.root.up(*DEGREES[f])) for f in functions]
    if reading.bass is not None:
        semitones = (reading.bass.pitch_class - reading.root.pitch_class) % 12
        if all(tone.semitones != semitones for tone in tones):
            tones.append(Tone(_bass_function(semitones, scale, functions), semitones, reading.bass))
    quality = canonical_quality(reading.row, reading.modifiers)
    slash = "" if reading.bass is None else f"/{reading.bass}"
    return Chord(f"{reading.root}{quality}{slash}", reading.root, quality, tuple(tones), reading.bass, scale, guides)


def _bass_function(semitones: int, scale: tuple[str, ...], functions: tuple[str, ...]) -> str:
    """A slash bass by its degree where the chord leaves that degree free (C/B♭: ♭7), else "bass" (C/E♭)."""
    name = _degree_name(semitones, scale, functions)
    taken = {DEGREES[f][0] for f in functions}
    return "bass" if DEGREES[name][0] in taken else name
