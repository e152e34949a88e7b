"""Changes as values: the chart that holds written bars, how they are played, and the same in another key."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from progressions.bars import Bar, BarFault, ChartChord, Meter, PlayedBar
from progressions.chords import Chord, parse_chord
from progressions.errors import ProgressionsError
from progressions.keys import Key
from progressions.repeats import playing_order

__all__ = [
    "SWING",
    "TEMPO_BPM",
    "Bar",
    "BarFault",
    "Chart",
    "ChartChord",
    "Meter",
    "PlayedBar",
    "check_range",
    "moved_key",
    "transpose_chart",
]

TEMPO_BPM = (30.0, 320.0)
SWING = (1.0, 3.0)
LONGEST_SECTION_NAME = 20


@dataclass(frozen=True, slots=True)
class Chart:
    """The changes of one chorus. `tempo_bpm` and `swing` (long to short eighth) are None where the chart leaves them.

    `bars` are those on the page, with their repeats and signs; `played` is one chorus in the order of playing.
    Meter, key and tempo are those of the first bar; a sign at a bar holds on the page until the next one. Note values
    keep their length across a change of meter that has no tempo of its own. `pickup` is the incomplete bar before
    the first one.

    Raises ProgressionsError where a value is out of range, there is no bar, chords do not fill their bar, or signs
    do not fit together; BarFault where one bar is to blame.
    """

    title: str
    key: Key
    meter: Meter
    tempo_bpm: float | None
    swing: float | None
    bars: tuple[Bar, ...]
    pickup: Bar | None = None
    played: tuple[PlayedBar, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.bars:
            raise ProgressionsError(f"chart {self.title!r} is empty: expected at least one bar")
        if self.title != self.title.strip() or len(self.title.splitlines()) > 1:
            raise ProgressionsError(f"title {self.title!r}: expected one line without blanks around it")
        check_range("tempo", self.tempo_bpm, TEMPO_BPM, " bpm")
        check_range("swing", self.swing, SWING, "")
        written = tuple(_in_force(self))
        for at, bar in enumerate(written):
            _check_bar(self, at, bar.meter)
        if self.pickup is not None:
            _check_pickup(self, self.pickup, written)
        played = tuple(written[at] for at in playing_order(self.bars))
        _check_pushes(self, played)
        object.__setattr__(self, "played", played)


def check_range(what: str, value: float | None, limits: tuple[float, float], unit: str) -> None:
    """Raises ProgressionsError where a given value lies outside its limits."""
    if value is not None and not limits[0] <= value <= limits[1]:
        raise ProgressionsError(f"{what} {value:g}{unit}: expected {limits[0]:g} to {limits[1]:g}{unit}")


def _in_force(chart: Chart) -> Iterator[PlayedBar]:
    """Every written bar with the meter, key and pace that hold there."""
    meter, key, pace = chart.meter, chart.key, Fraction(1)
    for at, bar in enumerate(chart.bars):
        if bar.meter is not None:
            pace *= Fraction(meter.eighths_per_beat, bar.meter.eighths_per_beat)
            meter = bar.meter
        if bar.tempo_bpm is not None:
            check_range("tempo", bar.tempo_bpm, TEMPO_BPM, " bpm")
            if chart.tempo_bpm is None:
                raise BarFault(at, "a tempo of its own in a chart without one", "a line such as tempo: 80 at the top")
            pace = Fraction(bar.tempo_bpm) / Fraction(chart.tempo_bpm)
        key = key if bar.key is None else bar.key
        yield PlayedBar(bar.chords, at, meter, key, pace)


def _check_bar(chart: Chart, at: int, meter: Meter) -> None:
    bar = chart.bars[at]
    beats = _checked_beats(at, bar)
    if beats != meter.beats_per_bar:
        expected = f"{meter.beats_per_bar} beats in {meter}"
        if at == len(chart.bars) - 1 and chart.pickup is not None:
            expected += ": the last bar is written whole, and the pick-up takes its end when the form comes round"
        raise BarFault(at, f"{beats} beats in the bar", expected)
    if at == 0 and (bar.meter, bar.key, bar.tempo_bpm) != (None, None, None):
        raise BarFault(
            0, "a sign before the first bar", "meter, key and tempo of the beginning in the lines at the top"
        )
    if bar.section and not _is_section_name(bar.section):
        raise BarFault(at, f"section {bar.section!r}", "a short name such as A, B2 or Intro, without : [ ] |")
    _check_repeat_sign(chart.bars, at)


def _checked_beats(at: int, bar: Bar) -> Fraction:
    """How many beats the chords of a bar fill, one after the other."""
    place = Fraction(0)
    for chord in bar.chords:
        if chord.beat != place or chord.duration <= 0:
            raise BarFault(at, "chords that overlap or leave gaps", "its chords one after the other without gaps")
        place += chord.duration
    return place


def _is_section_name(name: str) -> bool:
    plain = name == " ".join(name.split()) and not any(sign in name for sign in ":[]|")
    return plain and len(name) <= LONGEST_SECTION_NAME and not name[0].isdigit() and name.lower() not in PICKUP_WORDS


PICKUP_WORDS = ("pick-up", "pickup")


def _check_repeat_sign(bars: Sequence[Bar], at: int) -> None:
    """% and %% stand for what is before them; the signs of a pair are at its outer sides."""
    back = bars[at].repeats_back
    if back == 0:
        return
    if back not in (1, 2) or at < back or bars[at - back].chords != bars[at].chords:
        raise BarFault(at, "a repeated bar that differs", "the chords of one or two bars before")
    if back == 2:
        first = _is_first_of_pair(bars, at)
        if first and (at + 1 == len(bars) or bars[at + 1].repeats_back != 2 or bars[at].times):
            raise BarFault(at, "half of a two-bar repeat", "both its bars")
        if not first and bars[at].has_signs_before:
            raise BarFault(at, "a sign inside a two-bar repeat", "signs before it")


def _is_first_of_pair(bars: Sequence[Bar], at: int) -> bool:
    run = 0
    while run < at and bars[at - run - 1].repeats_back == 2:
        run += 1
    return run % 2 == 0


def _check_pickup(chart: Chart, pickup: Bar, written: Sequence[PlayedBar]) -> None:
    if pickup != Bar(pickup.chords) or not pickup.chords:
        raise BarFault(-1, "a sign at the pick-up", "chords alone, and signs from the first bar on")
    if _checked_beats(-1, pickup) >= min(chart.meter.beats_per_bar, written[-1].meter.beats_per_bar):
        raise BarFault(-1, f"{pickup.beats} beats", "fewer beats than the first and the last bar have")
    if written[-1].meter.eighths_per_beat != chart.meter.eighths_per_beat:
        raise BarFault(-1, f"beats of {chart.meter} that lead on from {written[-1].meter}", "a last bar of like beats")


def _check_pushes(chart: Chart, played: Sequence[PlayedBar]) -> None:
    """A pushed chord has to leave something of the chord before it, also where the form comes round."""
    before, meter = played[-1].chords[-1], played[-1].meter
    if chart.pickup is not None:
        meter = chart.meter
        for before_it, chord in pairwise(chart.pickup.chords):
            _check_push(-1, chord, before_it, meter, meter)
        if chart.pickup.chords[0].pushed:
            raise BarFault(-1, "its first chord pushed", "a pick-up that begins on its written place")
        before = chart.pickup.chords[-1]
    for bar in played:
        for chord in bar.chords:
            _check_push(bar.written, chord, before, bar.meter, meter)
            before, meter = chord, bar.meter


def _check_push(at: int, chord: ChartChord, before: ChartChord, meter: Meter, meter_before: Meter) -> None:
    if chord.pushed and before.duration <= chord.push_beats(None, meter, meter_before):
        raise BarFault(at, f"{chord.chord} pushed", "a chord before it that is longer than an eighth")


def transpose_chart(chart: Chart, key: Key) -> Chart:
    """The chart with every root on the same degree of the new key's tonic, spelled there; the mode stays the chart's.

    Keys of sections move along. A root that would need a double accidental takes its plain name: ♭VI of G♭ is D.
    """
    home = Key(key.tonic, chart.key.minor)
    bars: list[Bar] = []
    old, new = chart.key, home
    for bar in chart.bars:
        sign = None
        if bar.key is not None:
            old, new = bar.key, moved_key(bar.key, chart.key, home)
            sign = new
        back = bar.repeats_back
        chords = bars[-back].chords if back else _moved(bar, old, new)
        bars.append(replace(bar, chords=chords, key=sign))
    pickup = None if chart.pickup is None else Bar(_moved(chart.pickup, chart.key, home))
    return replace(chart, key=home, bars=tuple(bars), pickup=pickup)


def moved_key(section: Key, old: Key, new: Key) -> Key:
    """The key of a section where the chart goes from key `old` to `new`: the same degree of it, in its usual name."""
    if old == new:
        return section
    return Key(new.at_degree(*old.degree(section.tonic)), section.minor).usual()


def _moved(bar: Bar, old: Key, new: Key) -> tuple[ChartChord, ...]:
    return tuple(replace(c, chord=_moved_chord(c.chord, old, new)) for c in bar.chords)


def _moved_chord(chord: Chord, old: Key, new: Key) -> Chord:
    """The same degree of the new key, a slash bass by its own degree."""
    if chord.root is None:
        return chord
    slash = "" if chord.bass is None else f"/{new.at_degree(*old.degree(chord.bass))}"
    return parse_chord(f"{new.at_degree(*old.degree(chord.root))}{chord.quality}{slash}")
