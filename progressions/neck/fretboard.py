"""The fretboard: a tuning, a number of frets and a capo, and what lies where on it.

Frets count from the capo, as in tab: fret 0 is the open string over the capo. Strings count from the highest, 1, as
players count them. Chords are named as they sound.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.neck.tunings import Tuning, standard_tuning
from progressions.pitch import Spelled

FRETS = range(12, 37)
CAPO = range(12)
ZONE_FRETS = 5  # a zone is frets f to f + 4
LEAST_FRETS = 12  # beyond a capo: an octave, so that every root lies on every string


@dataclass(frozen=True, slots=True)
class Fretboard:
    """A neck with `frets` frets from the nut and a capo at fret `capo` (0: none)."""

    tuning: Tuning = field(default_factory=standard_tuning)
    frets: int = 22
    capo: int = 0
    open_midis: tuple[int, ...] = field(init=False, repr=False, compare=False)
    """What the open strings sound over the capo, from the lowest."""

    def __post_init__(self) -> None:
        if self.frets not in FRETS:
            raise ProgressionsError(f"{self.frets} frets: expected {FRETS[0]} to {FRETS[-1]}")
        if self.capo not in CAPO:
            raise ProgressionsError(f"capo at fret {self.capo}: expected 0 (none) to {CAPO[-1]}")
        if self.last_fret < LEAST_FRETS:
            raise ProgressionsError(
                f"capo at fret {self.capo} of {self.frets}: expected at least {LEAST_FRETS} frets beyond it"
            )
        object.__setattr__(self, "open_midis", tuple(midi + self.capo for midi in self.tuning.midis))

    @property
    def last_fret(self) -> int:
        """The highest fret, counted from the capo."""
        return self.frets - self.capo

    @property
    def strings(self) -> int:
        return len(self.tuning.strings)

    def midi_at(self, string: int, fret: int) -> int:
        """What sounds on a string (1 the highest) at a fret counted from the capo."""
        return self.open_midis[self.strings - string] + fret


@dataclass(frozen=True, slots=True)
class FrettedNote:
    """A note of a chord at its place: `string` from 1, the highest; `fret` from the capo; `finger` 1 to 4, 0 open.

    `function` and `name` are told in the chord.
    """

    string: int
    fret: int
    midi: int
    function: str
    name: Spelled
    finger: int = 0


Told = Mapping[int, tuple[str, Spelled]]  # pitch class -> function and spelling


def told_tones(chord: Chord) -> Told:
    """Function and name of each chord tone by pitch class."""
    told: dict[int, tuple[str, Spelled]] = {}
    for tone in chord.tones:
        told.setdefault(tone.pitch.pitch_class, (tone.function, tone.pitch))
    return told


def places(open_midis: tuple[int, ...], lowest_fret: int) -> dict[int, tuple[int, int]]:
    """Each pitch that the hand reaches at frets `lowest_fret` to + 4, from the lowest: MIDI -> (string from 0, fret).

    Where a pitch lies twice, the higher string is taken: its fret is the nearer to the first finger, so that the hand
    keeps still.
    """
    found: dict[int, tuple[int, int]] = {}
    for string, open_midi in enumerate(open_midis):
        for fret in range(lowest_fret, lowest_fret + ZONE_FRETS):
            found[open_midi + fret] = (string, fret)
    return dict(sorted(found.items()))
