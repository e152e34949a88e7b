"""Bars as they are written: meter, chords, and the signs that stand at a bar."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.keys import Key

NUMERATORS = range(2, 13)
DENOMINATORS = (4, 8)


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter as written. Tempo counts beats: quarters, or dotted quarters where eighths go by three (6/8, 12/8)."""

    numerator: int = 4
    denominator: int = 4

    def __post_init__(self) -> None:
        if self.numerator not in NUMERATORS or self.denominator not in DENOMINATORS:
            raise ProgressionsError(f"meter {self}: expected 2 to 12 over 4 or 8, such as 4/4")

    def __str__(self) -> str:
        return f"{self.numerator}/{self.denominator}"

    @property
    def is_compound(self) -> bool:
        """Whether a beat is three eighths long."""
        return self.denominator == 8 and self.numerator % 3 == 0 and self.numerator > 3

    @property
    def beats_per_bar(self) -> int:
        """4/4: 4, 3/4: 3, 12/8: 4 dotted beats, 6/8: 2, 5/8: 5 eighths."""
        return self.numerator // 3 if self.is_compound else self.numerator

    @property
    def eighths_per_beat(self) -> int:
        """2 for a quarter, 3 for a dotted quarter, 1 where eighths themselves are counted."""
        return 3 if self.is_compound else 8 // self.denominator


@dataclass(frozen=True, slots=True)
class ChartChord:
    """One chord symbol of a bar: `beat` counts from 0 within the bar, `duration` is in beats, both as written.

    A `pushed` chord comes an eighth before its written place: the change itself moves.
    """

    beat: Fraction
    duration: Fraction
    chord: Chord
    pushed: bool = False

    def push_beats(self, swing: float | None, meter: Meter, before: Meter) -> Fraction:
        """How long before its written place it comes, in beats of where it arrives; 0 where it is not pushed.

        `before` is the meter of the bar before. An eighth that leads into a beat is the short one of a swung pair.
        """
        if not self.pushed:
            return Fraction(0)
        eighths = (meter if self.beat else before).eighths_per_beat
        if eighths == 2 and self.beat.denominator == 1 and swing is not None:
            return 1 / (1 + Fraction(swing).limit_denominator(1000))
        return Fraction(1, eighths)


@dataclass(frozen=True, slots=True)
class Bar:
    """The chords of one bar, in order and without gaps, and what is written at it.

    `repeats_back` is 1 for a bar written as %, 2 for each of the two bars written as one %%; `chords` hold what it
    stands for. `section`, `meter`, `key` and `tempo_bpm` are signs that stand before the bar and hold until the next.
    `opens_repeat` is |: before the bar, `endings` the numbers of the bracket that begins with it, and `times` the :|
    after it: how often the passage is played, 0 where none is repeated.
    """

    chords: tuple[ChartChord, ...]
    repeats_back: int = 0
    section: str = ""
    meter: Meter | None = None
    key: Key | None = None
    tempo_bpm: float | None = None
    opens_repeat: bool = False
    endings: tuple[int, ...] = ()
    times: int = 0

    @property
    def beats(self) -> Fraction:
        return sum((chord.duration for chord in self.chords), Fraction(0))

    @property
    def has_signs_before(self) -> bool:
        """Whether anything but chords is written before or at the beginning of the bar."""
        signs = (self.section, self.meter, self.key, self.tempo_bpm, self.opens_repeat, self.endings)
        return any(sign not in ("", None, False, ()) for sign in signs)


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """A bar as it comes up: `written` is the index of the bar it is read from.

    `pace` is how many beats of it go into one beat of the chart's tempo: 3/2 for a section half as fast again, 2/3
    for dotted quarters among quarters.
    """

    chords: tuple[ChartChord, ...]
    written: int
    meter: Meter
    key: Key
    pace: Fraction


class BarFault(ProgressionsError):
    """Something wrong with one bar of a chart; `bar` is its index, -1 for the pick-up."""

    def __init__(self, bar: int, found: str, expected: str) -> None:
        self.bar, self.found, self.expected = bar, found, expected
        place = f"bar {bar + 1}" if bar >= 0 else "the pick-up"
        super().__init__(f"{place}: {found}; expected {expected}")
