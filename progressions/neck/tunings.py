"""Tunings: the open strings from the lowest to the highest, a table of the usual ones, and any other as text.

    drop D
    E A D G B E
    D2 A2 D3 G3 A3 D4

Without octave numbers the lowest string is the one nearest to the usual one of a guitar with so many strings, and each
further string the next note of its name above the string before. The tunings of the table are common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from progressions.errors import ProgressionsError
from progressions.pitch import NATURAL_PITCH_CLASS, Spelled, midi_name, read_spelled

STRINGS = range(6, 9)
LOWEST_MIDI, HIGHEST_MIDI = 21, 88  # A0 to E6: from below any bass guitar to above any high string
WIDEST_STEP = 12  # semitones between neighbours
_USUAL_LOWEST_MIDI = {6: 40, 7: 35, 8: 30}  # E2, B1, F♯1
STANDARD = "standard"
_OCTAVE = re.compile(r"-?\d")

# Name -> open strings, low string first.
TUNINGS: dict[str, str] = {
    STANDARD: "E2 A2 D3 G3 B3 E4",
    "half step down": "E♭2 A♭2 D♭3 G♭3 B♭3 E♭4",
    "whole step down": "D2 G2 C3 F3 A3 D4",
    "drop D": "D2 A2 D3 G3 B3 E4",
    "drop C": "C2 G2 C3 F3 A3 D4",
    "double drop D": "D2 A2 D3 G3 B3 D4",
    "open G": "D2 G2 D3 G3 B3 D4",
    "open D": "D2 A2 D3 F♯3 A3 D4",
    "open E": "E2 B2 E3 G♯3 B3 E4",
    "open A": "E2 A2 E3 A3 C♯4 E4",
    "open C": "C2 G2 C3 G3 C4 E4",
    "open D minor": "D2 A2 D3 F3 A3 D4",
    "DADGAD": "D2 A2 D3 G3 A3 D4",
    "all fourths": "E2 A2 D3 G3 C4 F4",
    "baritone": "B1 E2 A2 D3 F♯3 B3",
    "seven strings": "B1 E2 A2 D3 G3 B3 E4",
    "seven strings, drop A": "A1 E2 A2 D3 G3 B3 E4",
    "eight strings": "F♯1 B1 E2 A2 D3 G3 B3 E4",
    "eight strings, drop E": "E1 B1 E2 A2 D3 G3 B3 E4",
}


@dataclass(frozen=True, slots=True)
class OpenString:
    """The pitch of an open string and how it is spelled."""

    midi: int
    name: Spelled

    def __post_init__(self) -> None:
        if not LOWEST_MIDI <= self.midi <= HIGHEST_MIDI:
            low, high = midi_name(LOWEST_MIDI), midi_name(HIGHEST_MIDI)
            raise ProgressionsError(f"open string {self}: expected {low} to {high}")

    def __str__(self) -> str:
        return midi_name(self.midi, self.name)


@dataclass(frozen=True, slots=True)
class Tuning:
    """Six to eight open strings from the lowest to the highest; `str` gives text that `parse_tuning` reads back."""

    strings: tuple[OpenString, ...]

    def __post_init__(self) -> None:
        if len(self.strings) not in STRINGS:
            raise ProgressionsError(f"tuning of {len(self.strings)} strings: expected {STRINGS[0]} to {STRINGS[-1]}")
        for lower, higher in pairwise(self.strings):
            if not 0 <= higher.midi - lower.midi <= WIDEST_STEP:
                raise ProgressionsError(
                    f"tuning with {higher} after {lower}: expected strings from low to high, an octave apart at most"
                )

    def __str__(self) -> str:
        return format_tuning(self)

    @property
    def midis(self) -> tuple[int, ...]:
        return tuple(string.midi for string in self.strings)

    @property
    def steps(self) -> tuple[int, ...]:
        """Semitones from each string to the next: 5 5 5 4 5 in standard tuning."""
        return tuple(higher - lower for lower, higher in pairwise(self.midis))

    @property
    def third_at(self) -> int | None:
        """The string (from 0, the lowest) that has a major third above it, where all else is fourths; else None."""
        if sorted(self.steps) != [4] + [5] * (len(self.steps) - 1):
            return None
        return self.steps.index(4)


def format_tuning(tuning: Tuning) -> str:
    """The tuning's name if it has one, else its strings with their octaves: "D2 A2 D3 G3 A3 E4"."""
    return _names().get(tuning.strings) or notes_of(tuning)


def notes_of(tuning: Tuning) -> str:
    """The strings with their octaves, low string first."""
    return " ".join(str(string) for string in tuning.strings)


def parse_tuning(text: str) -> Tuning:
    """The tuning of a name of the table or of note names, low string first, blanks or hyphens between them or none.

    Raises ProgressionsError that names the place.
    """
    wanted = " ".join(text.replace("_", " ").split())
    named = _tunings().get(wanted.casefold())
    return _read_notes(text) if named is None else named


def standard_tuning(strings: int = 6) -> Tuning:
    """The usual tuning of a guitar with six, seven or eight strings. Raises ProgressionsError for other numbers."""
    names = {6: STANDARD, 7: "seven strings", 8: "eight strings"}
    if strings not in names:
        raise ProgressionsError(f"{strings} strings: expected {STRINGS[0]} to {STRINGS[-1]}")
    return _tunings()[names[strings]]


def _read_notes(text: str) -> Tuning:
    names: list[Spelled] = []
    octaves: list[int | None] = []
    place = 0
    while place < len(text):
        if text[place] in " \t,-":
            place += 1
            continue
        name, end = read_spelled(text, place)
        if name is None:
            known = ", ".join(TUNINGS)
            raise ProgressionsError(
                f"tuning {_short(text)}, character {place + 1}: expected note names from low to high, such as "
                f"D A D G B E or D2 A2 D3 G3 B3 E4, or one of {known}"
            )
        octave = _OCTAVE.match(text, end)
        names.append(name)
        octaves.append(None if octave is None else int(octave[0]))
        place = end if octave is None else octave.end()
    if len(names) not in STRINGS:
        raise ProgressionsError(f"tuning {_short(text)} has {len(names)} strings: expected 6 to 8")
    midis: list[int] = []
    for name, number in zip(names, octaves, strict=True):
        if number is not None:
            midis.append(12 * (number + 1) + NATURAL_PITCH_CLASS[name.letter] + name.accidental)
        elif midis:
            midis.append(midis[-1] + ((name.pitch_class - midis[-1] - 1) % 12 + 1))
        else:
            usual = _USUAL_LOWEST_MIDI[len(names)]
            midis.append(usual + (name.pitch_class - usual + 6) % 12 - 6)
    return Tuning(tuple(OpenString(midi, name) for midi, name in zip(midis, names, strict=True)))


def _short(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:39] + "…")


@cache
def _tunings() -> dict[str, Tuning]:
    """By name in lower case."""
    return {name.casefold(): _read_notes(strings) for name, strings in TUNINGS.items()}


@cache
def _names() -> dict[tuple[OpenString, ...], str]:
    return {_tunings()[name.casefold()].strings: name for name in TUNINGS}
