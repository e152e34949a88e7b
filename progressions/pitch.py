"""Spelled notes, pitch classes, MIDI note numbers, Hz and cents.

Equal temperament with A4 = 440 Hz unless told otherwise (ISO 16:1975); note numbers are those of the MIDI 1.0
specification with middle C = C4 = 60. A pitch in MIDI may be a float: 69.5 is a quarter tone above A4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, overload

from progressions.errors import ProgressionsError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

A4_HZ = 440.0
A4_MIDI = 69
LETTERS = "CDEFGAB"
NATURAL_PITCH_CLASS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ACCIDENTAL_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
ACCIDENTAL_VALUES = {"b": -1, "♭": -1, "#": 1, "♯": 1, "𝄫": -2, "𝄪": 2}
_NEUTRAL_NAMES = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")


@dataclass(frozen=True, slots=True, order=True)
class Spelled:
    """A note name without octave: a letter A to G and an accidental from -2 (𝄫) to 2 (𝄪)."""

    letter: str
    accidental: int = 0

    def __post_init__(self) -> None:
        if self.letter not in NATURAL_PITCH_CLASS:
            raise ProgressionsError(f"note letter {self.letter!r}: expected one of A to G")
        if self.accidental not in ACCIDENTAL_SIGNS:
            raise ProgressionsError(f"accidental {self.accidental}: expected -2 to 2")

    def __str__(self) -> str:
        return self.letter + ACCIDENTAL_SIGNS[self.accidental]

    @property
    def pitch_class(self) -> int:
        """0 (C) to 11 (B)."""
        return (NATURAL_PITCH_CLASS[self.letter] + self.accidental) % 12

    def up(self, steps: int, semitones: int) -> Spelled:
        """The note `steps` letters and `semitones` above: (2, 4) is a major third, (2, 3) a minor one.

        Where that would need more than a double accidental, the nearest letter that can spell it is taken.
        """
        return _up(self.letter, self.accidental, steps, semitones % 12)

    def interval_to(self, other: Spelled) -> tuple[int, int]:
        """Letters (0 to 6) and semitones (0 to 11) up to `other`, octaves aside."""
        steps = (LETTERS.index(other.letter) - LETTERS.index(self.letter)) % 7
        return steps, (other.pitch_class - self.pitch_class) % 12

    def simplest(self) -> Spelled:
        """Itself, or for a double accidental and for E♯, B♯, C♭, F♭ the plainer name of the same key."""
        plain = self.pitch_class in (0, 4, 5, 11) and self.accidental != 0
        return neutral_name(self.pitch_class) if plain or abs(self.accidental) == 2 else self


@lru_cache(maxsize=4096)
def _up(start: str, start_accidental: int, steps: int, semitones: int) -> Spelled:
    """`Spelled.up` by plain values: the same few hundred intervals are asked for over and over."""
    pitch_class = (NATURAL_PITCH_CLASS[start] + start_accidental + semitones) % 12
    first = (LETTERS.index(start) + steps) % 7
    for shift in (0, 1, -1):
        letter = LETTERS[(first + shift) % 7]
        accidental = _signed(pitch_class - NATURAL_PITCH_CLASS[letter])
        if abs(accidental) <= 2:
            return Spelled(letter, accidental)
    name = Spelled(start, start_accidental)
    raise ProgressionsError(f"no spelling {steps} letters and {semitones} semitones above {name}")


def _signed(semitones: int) -> int:
    """The same interval, octaves aside, from -6 to 5."""
    return (semitones + 6) % 12 - 6


def parse_spelled(text: str) -> Spelled:
    """A note name such as "C", "F#", "B♭", "Ebb"; the letter is a capital. Raises ProgressionsError."""
    spelled, end = read_spelled(text, 0)
    if spelled is None or end != len(text):
        raise ProgressionsError(f"note name {text!r}: expected a letter A to G with ♯ or ♭ (# or b), such as F♯")
    return spelled


def read_spelled(text: str, start: int, longest: int = 2) -> tuple[Spelled | None, int]:
    """The note name that begins at `start` with at most `longest` half steps of accidentals, and where it ends."""
    if start >= len(text) or text[start] not in NATURAL_PITCH_CLASS:
        return None, start
    end, accidental = start + 1, 0
    while end < len(text) and text[end] in ACCIDENTAL_VALUES:
        value = ACCIDENTAL_VALUES[text[end]]
        if accidental * value < 0 or abs(accidental + value) > longest:
            break
        accidental, end = accidental + value, end + 1
    return Spelled(text[start], accidental), end


def neutral_name(pitch_class: int) -> Spelled:
    """The commonest name of a pitch class where neither chord nor key says more: C C♯ D E♭ E F F♯ G A♭ A B♭ B."""
    return parse_spelled(_NEUTRAL_NAMES[pitch_class % 12])


def midi_name(midi: int, spelled: Spelled | None = None) -> str:
    """Name with octave, "C♯4". `spelled` chooses the name (B♯3 and C4 are both 60) and has to fit the number."""
    name = neutral_name(midi) if spelled is None else spelled
    if name.pitch_class != midi % 12:
        raise ProgressionsError(f"MIDI note {midi} is no {name}: expected pitch class {midi % 12}")
    # The octave number goes with the letter, not with the sound: B♯3 sounds as C4.
    return f"{name}{(midi - name.accidental) // 12 - 1}"


@overload
def hz_to_midi(hz: float, a4_hz: float = ...) -> float: ...
@overload
def hz_to_midi(hz: npt.NDArray[np.floating], a4_hz: float = ...) -> npt.NDArray[np.float64]: ...
def hz_to_midi(hz: float | npt.NDArray[np.floating], a4_hz: float = A4_HZ) -> float | npt.NDArray[np.float64]:
    """MIDI pitch of a frequency in Hz. A single value has to be above 0, else ProgressionsError.

    In an array of any shape, frames without pitch (0, negative or nan, as pitch trackers mark them) become nan.
    """
    if isinstance(hz, int | float):
        if not (hz > 0.0 and math.isfinite(hz)):
            raise ProgressionsError(f"frequency {hz} Hz: expected a finite value above 0")
        return A4_MIDI + 12.0 * math.log2(hz / a4_hz)
    import numpy as np

    values = np.asarray(hz, dtype=np.float64)
    voiced = np.where(values > 0.0, values, np.nan)
    return np.asarray(A4_MIDI + 12.0 * np.log2(voiced / a4_hz), dtype=np.float64)


@overload
def midi_to_hz(midi: float, a4_hz: float = ...) -> float: ...
@overload
def midi_to_hz(midi: npt.NDArray[np.floating], a4_hz: float = ...) -> npt.NDArray[np.float64]: ...
def midi_to_hz(midi: float | npt.NDArray[np.floating], a4_hz: float = A4_HZ) -> float | npt.NDArray[np.float64]:
    """Frequency in Hz of a MIDI pitch (float or array)."""
    if isinstance(midi, int | float):
        return float(a4_hz * 2.0 ** ((midi - A4_MIDI) / 12.0))
    import numpy as np

    values = np.asarray(midi, dtype=np.float64)
    return np.asarray(a4_hz * np.exp2((values - A4_MIDI) / 12.0), dtype=np.float64)


def cents_between(midi_a: float, midi_b: float) -> float:
    """Cents from `midi_a` up to `midi_b`; negative where `midi_b` is lower."""
    return 100.0 * (midi_b - midi_a)
