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
from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.keys import Key
from progressions.timemap import Beat, TimeMap

__all__ = ["Change", "Position", "Span", "TimeMap", "Timeline", "closing_chord"]


@dataclass(frozen=True, slots=True)
class Span:
    """One chord symbol as it comes up, from `start_beat` up to but not including `end_beat`.

    `chorus` and `bar` count from 1 and tell where it starts; `closing` marks the chord after the last chorus, whose
    bars count on in that chorus.
    """

    index: int
    chord: Chord
    key: Key
    chorus: int
    bar: int
    start_beat: Fraction
    end_beat: Fraction
    closing: bool = False


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

    The closing chord is the first chord of the chart that stands on the tonic, or else its first chord.
    """

    chart: Chart
    choruses: int
    time_map: TimeMap
    closing_bars: int = 2
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
        spans, first = _unrolled(self.chart, self.choruses, self.closing_bars), self.time_map.first_sample_of
        changes = _changes(spans, self.time_map)
        bars = self.choruses * self.bars_per_chorus + self.closing_bars
        object.__setattr__(self, "spans", spans)
        object.__setattr__(self, "changes", changes)
        ends = (*(span.start_beat for span in spans), spans[-1].end_beat)
        object.__setattr__(self, "_span_samples", tuple(first(beat) for beat in ends))
        object.__setattr__(self, "_change_samples", tuple(change.sample for change in changes))
        starts = (Fraction(bar * self.beats_per_bar) for bar in range(bars + 1))
        object.__setattr__(self, "_bar_samples", tuple(first(beat) for beat in starts))

    @property
    def meter(self) -> Meter:
        return self.chart.meter

    @property
    def bars_per_chorus(self) -> int:
        return len(self.chart.bars)

    @property
    def beats_per_bar(self) -> int:
        return self.chart.meter.beats_per_bar

    @property
    def end_beat(self) -> Fraction:
        """Where the closing chord ends."""
        return self.spans[-1].end_beat

    def with_time_map(self, time_map: TimeMap) -> Timeline:
        """The same changes on another time map, such as this one's with a step."""
        return Timeline(self.chart, self.choruses, time_map, self.closing_bars)

    def span_at(self, sample: int) -> Span | None:
        """The chord that owns a sample; None before beat 0 and after the closing chord."""
        at = bisect_right(self._span_samples, sample) - 1
        return self.spans[at] if 0 <= at < len(self.spans) else None

    def span_at_beat(self, beat: Beat) -> Span | None:
        """The chord at a beat, exactly; None before beat 0 and after the closing chord."""
        exact = Fraction(beat)
        at = bisect_right(self.spans, exact, key=lambda span: span.start_beat) - 1
        return self.spans[at] if at >= 0 and exact < self.end_beat else None

    def position_at(self, sample: int) -> Position | None:
        """Chorus, bar and beat of a sample, None before beat 0. Bars of the closing chord, and after it, count on."""
        per_bar, bar = self.beats_per_bar, bisect_right(self._bar_samples, sample) - 1
        if bar < 0:
            return None
        beat = self.time_map.beat_at(sample)
        if bar == len(self._bar_samples) - 1:
            bar = max(bar, math.floor(beat / per_bar))
        chorus = min(bar // self.bars_per_chorus, self.choruses - 1)
        # The bar was found among whole samples; rounding of the float beat must not fall out of it.
        inside = min(max(beat - bar * per_bar, 0.0), math.nextafter(per_bar, 0.0))
        return Position(chorus + 1, bar - chorus * self.bars_per_chorus + 1, 1.0 + inside)

    def chorus_beats(self, chorus: int) -> tuple[Fraction, Fraction]:
        """First beat of a chorus (from 1) and the beat after its last."""
        if not 1 <= chorus <= self.choruses:
            raise ProgressionsError(f"chorus {chorus}: expected 1 to {self.choruses}")
        length = Fraction(self.bars_per_chorus * self.beats_per_bar)
        return (chorus - 1) * length, chorus * length

    def chorus_samples(self, chorus: int) -> tuple[int, int]:
        """First sample of a chorus (from 1) and the sample after its last."""
        start, end = self.chorus_beats(chorus)
        return self.time_map.first_sample_of(start), self.time_map.first_sample_of(end)

    def span_samples(self, span: Span) -> tuple[int, int]:
        """First sample of a span and the sample after its last."""
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


def closing_chord(chart: Chart) -> Chord:
    """The first chord of the chart on its tonic, or else its first chord."""
    chords = [c.chord for bar in chart.bars for c in bar.chords]
    tonic = chart.key.tonic.pitch_class
    return next((c for c in chords if c.root is not None and c.root.pitch_class == tonic), chords[0])


def _unrolled(chart: Chart, choruses: int, closing_bars: int) -> tuple[Span, ...]:
    spans: list[Span] = []
    per_bar = chart.meter.beats_per_bar
    for chorus in range(choruses):
        for bar, content in enumerate(chart.bars):
            start = Fraction((chorus * len(chart.bars) + bar) * per_bar)
            for c in content.chords:
                at = start + c.beat
                spans.append(Span(len(spans), c.chord, chart.key, chorus + 1, bar + 1, at, at + c.duration))
    if closing_bars:
        start, bar = Fraction(choruses * len(chart.bars) * per_bar), len(chart.bars) + 1
        end = start + closing_bars * per_bar
        spans.append(Span(len(spans), closing_chord(chart), chart.key, choruses, bar, start, end, closing=True))
    return tuple(spans)


def _changes(spans: tuple[Span, ...], time_map: TimeMap) -> tuple[Change, ...]:
    changes: list[Change] = []
    before: Span | None = None
    for span in spans:
        if before is None or span.chord.pitch_classes != before.chord.pitch_classes:
            sample = time_map.first_sample_of(span.start_beat)
            changes.append(Change(len(changes), span.start_beat, sample, before, span))
        before = span
    return tuple(changes)
