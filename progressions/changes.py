"""Changes as values: meter, bars with their chords, and the chart that holds them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from progressions.chords import Chord, with_root
from progressions.errors import ProgressionsError
from progressions.keys import Key

NUMERATORS = range(2, 13)
DENOMINATORS = (4, 8)
TEMPO_BPM = (30.0, 320.0)
SWING = (1.0, 3.0)


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


@dataclass(frozen=True, slots=True)
class ChartChord:
    """One chord symbol of a bar: `beat` counts from 0 within the bar, `duration` is in beats."""

    beat: Fraction
    duration: Fraction
    chord: Chord


@dataclass(frozen=True, slots=True)
class Bar:
    """The chords of one bar, in order and without gaps."""

    chords: tuple[ChartChord, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """The changes of one chorus. `tempo_bpm` and `swing` (long to short eighth) are None where the chart leaves them.

    Raises ProgressionsError where a value is out of range, there is no bar, or chords do not fill their bar.
    """

    title: str
    key: Key
    meter: Meter
    tempo_bpm: float | None
    swing: float | None
    bars: tuple[Bar, ...]

    def __post_init__(self) -> None:
        if not self.bars:
            raise ProgressionsError(f"chart {self.title!r} is empty: expected at least one bar")
        if self.title != self.title.strip() or len(self.title.splitlines()) > 1:
            raise ProgressionsError(f"title {self.title!r}: expected one line without blanks around it")
        check_range("tempo", self.tempo_bpm, TEMPO_BPM, " bpm")
        check_range("swing", self.swing, SWING, "")
        for number, bar in enumerate(self.bars, 1):
            at = Fraction(0)
            for chord in bar.chords:
                if chord.beat != at or chord.duration <= 0:
                    raise ProgressionsError(f"bar {number}: expected its chords one after the other without gaps")
                at += chord.duration
            if at != self.meter.beats_per_bar:
                raise ProgressionsError(f"bar {number} has {at} beats: expected {self.meter.beats_per_bar}")


def check_range(what: str, value: float | None, limits: tuple[float, float], unit: str) -> None:
    """Raises ProgressionsError where a given value lies outside its limits."""
    if value is not None and not limits[0] <= value <= limits[1]:
        raise ProgressionsError(f"{what} {value:g}{unit}: expected {limits[0]:g} to {limits[1]:g}{unit}")


def transpose_chart(chart: Chart, key: Key) -> Chart:
    """The chart with every root on the same degree of the new key's tonic, spelled there; the mode stays the chart's.

    A root that would need a double accidental takes its plain name: ♭VI of G♭ is D.
    """
    bars = tuple(
        Bar(tuple(ChartChord(c.beat, c.duration, _moved(c.chord, chart.key, key)) for c in bar.chords))
        for bar in chart.bars
    )
    return Chart(chart.title, Key(key.tonic, chart.key.minor), chart.meter, chart.tempo_bpm, chart.swing, bars)


def _moved(chord: Chord, old: Key, new: Key) -> Chord:
    return chord if chord.root is None else with_root(chord, new.at_degree(*old.degree(chord.root)))
