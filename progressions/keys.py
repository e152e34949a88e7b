"""Keys: a tonic and a mode, the spelling that follows from them, and roman numerals."""

from __future__ import annotations

import re
from dataclasses import dataclass

from progressions.errors import ProgressionsError
from progressions.pitch import Spelled, parse_spelled

# Letters and semitones above the tonic by which a chromatic root is spelled when nothing tells otherwise:
# 1 ♭2 2 ♭3 3 4 ♯4 5 ♭6 6 ♭7 7.
_DEGREE_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
_MAJOR_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
SIGNS = {-1: "♭", 0: "", 1: "♯"}
_MODE_WORDS = {"": False, "maj": False, "major": False, "m": True, "min": True, "minor": True, "-": True}
_KEY_TEXT = re.compile(r"([A-G][b♭#♯]?)\s*([a-z-]*)")


@dataclass(frozen=True, slots=True)
class Key:
    """A key; `str` gives "A" or "C minor", which `parse_key` reads back."""

    tonic: Spelled
    minor: bool = False

    def __str__(self) -> str:
        return f"{self.tonic} minor" if self.minor else str(self.tonic)

    @property
    def fifths(self) -> int:
        """Sharps of the key signature, flats as a negative number: A is 3, C minor -3."""
        return "FCGDAEB".index(self.tonic.letter) - 1 + 7 * self.tonic.accidental - (3 if self.minor else 0)

    def usual(self) -> Key:
        """Itself, or the name that musicians write where its signature has more than six signs (A♭ minor: G♯)."""
        return self if abs(self.fifths) <= 6 else Key(_plainest_tonic(self), self.minor)

    def spell(self, pitch_class: int) -> Spelled:
        """The plain name of a pitch class in this key: the third of E♭ minor is G♭, the fourth of F♯ is B."""
        semitones = (pitch_class - self.tonic.pitch_class) % 12
        return plain_root(self.tonic.up(_DEGREE_STEPS[semitones], semitones))

    def degree(self, root: Spelled) -> tuple[int, int]:
        """Degree 0 to 6 of the major scale on the tonic and its accidental -1 to 1: F♯ in C is (3, 1), ♯IV.

        A root whose letter is too far off (D in G♭ for ♭VI) is told by its sound: 1 ♭2 2 ♭3 3 4 ♯4 5 ♭6 6 ♭7 7.
        """
        steps, semitones = self.tonic.interval_to(root)
        accidental = (semitones - _MAJOR_SEMITONES[steps] + 6) % 12 - 6
        if abs(accidental) > 1:
            steps = _DEGREE_STEPS[semitones]
            accidental = semitones - _MAJOR_SEMITONES[steps]
        return steps, accidental

    def at_degree(self, steps: int, accidental: int) -> Spelled:
        """The root on a degree of the major scale on the tonic: (6, -1) in A is G, ♭VII."""
        return plain_root(self.tonic.up(steps, (_MAJOR_SEMITONES[steps] + accidental) % 12))

    def roman(self, root: Spelled, minor_third: bool = False) -> str:
        """Roman numeral of a root, lower case for a chord with a minor third: "I", "♭VII", "ii"."""
        steps, accidental = self.degree(root)
        numeral = NUMERALS[steps]
        return SIGNS[accidental] + (numeral.lower() if minor_third else numeral)


def _plainest_tonic(key: Key) -> Spelled:
    """The tonic that gives the sounding key the fewest signs."""
    sounding = key.tonic.pitch_class
    names = (Spelled(letter, accidental) for letter in "CDEFGAB" for accidental in (-1, 0, 1))
    return min((n for n in names if n.pitch_class == sounding), key=lambda name: abs(Key(name, key.minor).fifths))


def plain_root(root: Spelled) -> Spelled:
    """A chord root as charts write it: never with a double accidental (E𝄫 becomes D)."""
    return root.simplest() if abs(root.accidental) == 2 else root


def parse_key(text: str) -> Key:
    """A key such as "A", "Bb", "C minor", "F#m". Raises ProgressionsError."""
    match = _KEY_TEXT.fullmatch(text.strip())
    if match is None or match[2] not in _MODE_WORDS:
        raise ProgressionsError(f"key {text!r}: expected a tonic from A to G with ♯ or ♭, and minor or nothing")
    return Key(parse_spelled(match[1]), _MODE_WORDS[match[2]])
