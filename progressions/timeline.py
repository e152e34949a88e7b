"""`Timeline`: the changes unrolled over choruses and laid on a `TimeMap`.

Beat 0 is the first beat of chorus 1; beats in charts are rational, so every change has one exact place. A span owns
its first sample, not its last: a change at a place between two samples belongs to the later one.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from fractions import Fraction

from progressions.changes import Chart, Meter
from progressions.choruses import (
    PlacedBar,
    Span,
    check_tempi,
    closing_chord,
    pickup_spans,
    placed_bars,
    spans_of,
    time_map_of,
)
from progressions.errors import ProgressionsError
from progressions.timemap import Beat, TimeMap

__all__ = [
    "Change",
    "PlacedBar",
    "Position",
    "Span",
    "TimeMap",
    "Timeline",
    "check_tempi",
    "closing_chord",
    "time_map_of",
]


@dataclass(frozen=True, slots=True)
class Change:
    """The start of a symbol whose pitch classes differ from those before; `before` is None at the very first.

    `sample` is the first whole sample of the new chord.
    """

    index: int
    beat: Fraction
    sample: int
    before: Span | None
    after: Span


@dataclass(frozen=True, slots=True)
class Position:
    """A place in the changes; all three count from 1, `beat` with its fraction."""

    chorus: int
    bar: int
    beat: float


@dataclass(frozen=True, slots=True)
class Timeline:
    """A chart looped `choruses` times, then `closing_bars` bars of the closing chord, laid on a time map.

    The closing chord is the first chord of the chart that stands on the tonic, or else its first chord. `bars` are
    all bars from beat 0 on, `pickup` the chords that lead into the first of them: no span of the form, since notes
    before the first beat are not graded.
    """

    chart: Chart
    choruses: int
    time_map: TimeMap
    closing_bars: int = 2
    bars: tuple[PlacedBar, ...] = field(init=False, repr=False, compare=False)
    pickup: tuple[Span, ...] = field(init=False, repr=False, compare=False)
    spans: tuple[Span, ...] = field(init=False, repr=False, compare=False)
    changes: tuple[Change, ...] = field(init=False, repr=False, compare=False)
    _span_samples: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _change_samples: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _bar_samples: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.choruses < 1 or self.closing_bars < 0:
            raise ProgressionsError(
                f"{self.choruses} choruses, {self.closing_bars} closing bars: expected at least 1, 0"
            )
        bars, first = placed_bars(self.chart, self.choruses, self.closing_bars), self.time_map.first_sample_of
        spans = spans_of(self.chart, bars, len(bars) - self.closing_bars)
        changes = _changes(spans, self.time_map)
        object.__setattr__(self, "bars", bars)
        object.__setattr__(self, "spans", spans)
        object.__setattr__(self, "pickup", pickup_spans(self.chart, spans[0]))
        object.__setattr__(self, "changes", changes)
        ends = (*(span.start_beat for span in spans), spans[-1].end_beat)
        object.__setattr__(self, "_span_samples", tuple(first(beat) for beat in ends))
        object.__setattr__(self, "_change_samples", tuple(change.sample for change in changes))
        starts = (*(bar.start_beat for bar in bars), bars[-1].end_beat)
        object.__setattr__(self, "_bar_samples", tuple(first(beat) for beat in starts))

    @property
    def meter(self) -> Meter:
        """Of the first bar, the pick-up and the count-in."""
        return self.chart.meter

    @property
    def bars_per_chorus(self) -> int:
        """Bars of a chorus as it is played, repeats included."""
        return len(self.chart.played)

    @property
    def beats_per_bar(self) -> int:
        """Of the first bar; `bar_at_beat` knows those of another meter."""
        return self.chart.meter.beats_per_bar

    @property
    def has_one_meter(self) -> bool:
        return all(bar.meter == self.chart.meter for bar in self.chart.played)

    @property
    def end_beat(self) -> Fraction:
        """Where the closing chord ends."""
        return self.spans[-1].end_beat

    def with_time_map(self, time_map: TimeMap) -> Timeline:
        """The same changes on another time map, such as this one's with a step."""
        return Timeline(self.chart, self.choruses, time_map, self.closing_bars)

    def span_at(self, sample: int) -> Span | None:
        """The chord that owns a sample; None before the first chord and after the closing one."""
        at = bisect_right(self._span_samples, sample) - 1
        return self.spans[at] if 0 <= at < len(self.spans) else None

    def span_at_beat(self, beat: Beat) -> Span | None:
        """The chord at a beat, exactly; None before the first chord and after the closing one."""
        exact = Fraction(beat)
        at = bisect_right(self.spans, exact, key=lambda span: span.start_beat) - 1
        return self.spans[at] if at >= 0 and exact < self.end_beat else None

    def position_at(self, sample: int) -> Position | None:
        """Chorus, bar and beat of a sample, None before beat 0. Bars of the closing chord, and after it, count on."""
        at = bisect_right(self._bar_samples, sample) - 1
        if at < 0:
            return None
        beat = self.time_map.beat_at(sample)
        bar = self.bars[min(at, len(self.bars) - 1)]
        per_bar, after = bar.meter.beats_per_bar, 0
        if at == len(self.bars):
            after = max(1, math.floor((beat - float(bar.start_beat)) / per_bar))
        # The bar was found among whole samples; rounding of the float beat must not fall out of it.
        inside = beat - float(bar.start_beat) - after * per_bar
        return Position(bar.chorus, bar.bar + after, 1.0 + min(max(inside, 0.0), math.nextafter(per_bar, 0.0)))

    def bar_at_beat(self, beat: Beat) -> PlacedBar:
        """The bar at a beat; the first one before beat 0, the last one after the end."""
        return self.bars[max(bisect_right(self.bars, beat, key=lambda bar: bar.start_beat) - 1, 0)]

    def bar_and_beat(self, beat: float) -> tuple[int, float]:
        """Bar of its chorus and beat in it, both from 1, of a beat up to the end; before beat 0 bars count down from
        0 in the first meter."""
        if beat < 0:
            bars, inside = divmod(beat, self.beats_per_bar)
            return int(bars) + 1, inside + 1
        bar = self.bar_at_beat(beat)
        return bar.bar, beat - float(bar.start_beat) + 1

    def bars_away(self, beat: Fraction, bars: int) -> Fraction:
        """The beat some `bars` after a beat of a chorus (before it where negative), in the form taken as a loop.

        In a bar that is too short for it, the last moment there.
        """
        here, length = self.bar_at_beat(beat), self.bars_per_chorus
        there = self.bars[(here.chorus - 1) * length + (here.bar - 1 + bars) % length]
        inside = min(beat - here.start_beat, there.meter.beats_per_bar - Fraction(1, 1000))
        return there.start_beat + inside

    def last_bar_beat(self, chorus: int) -> Fraction:
        """First beat of the last bar of a chorus (from 1)."""
        return self.bars[chorus * self.bars_per_chorus - 1].start_beat

    def chorus_beats(self, chorus: int) -> tuple[Fraction, Fraction]:
        """First beat of a chorus (from 1) and the beat after its last."""
        if not 1 <= chorus <= self.choruses:
            raise ProgressionsError(f"chorus {chorus}: expected 1 to {self.choruses}")
        length = self.bars_per_chorus
        return self.bars[(chorus - 1) * length].start_beat, self.bars[chorus * length - 1].end_beat

    def chorus_samples(self, chorus: int) -> tuple[int, int]:
        """First sample of a chorus (from 1) and the sample after its last."""
        start, end = self.chorus_beats(chorus)
        return self.time_map.first_sample_of(start), self.time_map.first_sample_of(end)

    def span_samples(self, span: Span) -> tuple[int, int]:
        """First sample of a span and the sample after its last."""
        if span.index < 0:
            return self.time_map.first_sample_of(span.start_beat), self.time_map.first_sample_of(span.end_beat)
        return self._span_samples[span.index], self._span_samples[span.index + 1]

    def change_after(self, sample: int) -> Change | None:
        """The first change later than a sample."""
        at = bisect_right(self._change_samples, sample)
        return self.changes[at] if at < len(self.changes) else None

    def change_at_or_before(self, sample: int) -> Change | None:
        """The last change at a sample or before it."""
        at = bisect_right(self._change_samples, sample) - 1
        return self.changes[at] if at >= 0 else None

    def changes_between(self, start_sample: int, end_sample: int) -> tuple[Change, ...]:
        """Changes from `start_sample` up to but not including `end_sample`."""
        first = bisect_left(self._change_samples, start_sample)
        return self.changes[first : bisect_left(self._change_samples, end_sample)]

    def degree(self, span: Span) -> str:
        """Roman numeral of the chord in its key, lower case over a minor third; "N.C." for no chord."""
        if span.chord.root is None:
            return span.chord.symbol
        return span.key.roman(span.chord.root, span.chord.third == "minor")


def _changes(spans: tuple[Span, ...], time_map: TimeMap) -> tuple[Change, ...]:
    changes: list[Change] = []
    before: Span | None = None
    for span in spans:
        if before is None or span.chord.pitch_classes != before.chord.pitch_classes:
            sample = time_map.first_sample_of(span.start_beat)
            changes.append(Change(len(changes), span.start_beat, sample, before, span))
        before = span
    return tuple(changes)
