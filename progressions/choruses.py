"""The choruses one after the other: every bar with its beats, every chord with its span, and the time they take.

Beat 0 is the first beat of chorus 1. A pick-up comes before it; in later choruses it is the end of the bar before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from progressions.changes import TEMPO_BPM, Chart, ChartChord, Meter, PlayedBar
from progressions.chords import Chord
from progressions.errors import ProgressionsError
from progressions.keys import Key
from progressions.timemap import Segment, TimeMap


@dataclass(frozen=True, slots=True)
class Span:
    """One chord symbol as it comes up, from `start_beat` up to but not including `end_beat`.

    `chorus`, `bar` (both from 1) and `beat` (from 0 in the bar) tell where it is written; a charted push comes
    `pushed` beats before that. `closing` marks the chord after the last chorus, whose bars count on in that chorus.
    """

    index: int
    chord: Chord
    key: Key
    chorus: int
    bar: int
    start_beat: Fraction
    end_beat: Fraction
    closing: bool = False
    beat: Fraction = Fraction(0)
    pushed: Fraction = Fraction(0)

    @property
    def written_beat(self) -> Fraction:
        """Where the chart writes it, a push left aside."""
        return self.start_beat + self.pushed


@dataclass(frozen=True, slots=True)
class PlacedBar:
    """A bar in its place: `chorus` and `bar` count from 1, the closing chord's bars count on."""

    chorus: int
    bar: int
    start_beat: Fraction
    chords: tuple[ChartChord, ...]
    meter: Meter
    key: Key

    @property
    def end_beat(self) -> Fraction:
        return self.start_beat + self.meter.beats_per_bar


def closing_chord(chart: Chart) -> Chord:
    """The first chord of the chart on its tonic, or else its first chord."""
    chords = [c.chord for bar in chart.played for c in bar.chords]
    tonic = chart.key.tonic.pitch_class
    return next((c for c in chords if c.root is not None and c.root.pitch_class == tonic), chords[0])


def placed_bars(chart: Chart, choruses: int, closing_bars: int) -> tuple[PlacedBar, ...]:
    """Every bar from beat 0 on; those of the closing chord, in the meter of the last bar, at the end."""
    placed: list[PlacedBar] = []
    at = 0
    ahead = (*chart.played[:-1], _with_pickup(chart, chart.played[-1]))
    for chorus in range(1, choruses + 1):
        for number, bar in enumerate(chart.played if chorus == choruses else ahead, 1):
            placed.append(PlacedBar(chorus, number, Fraction(at), bar.chords, bar.meter, bar.key))
            at += bar.meter.beats_per_bar
    meter = chart.played[-1].meter
    closing = ChartChord(Fraction(0), Fraction(meter.beats_per_bar), closing_chord(chart))
    for number in range(len(chart.played) + 1, len(chart.played) + 1 + closing_bars):
        placed.append(PlacedBar(choruses, number, Fraction(at), (closing,), meter, chart.key))
        at += meter.beats_per_bar
    return tuple(placed)


def _with_pickup(chart: Chart, last: PlayedBar) -> PlayedBar:
    """The last bar with the pick-up at its end; where that begins without a chord, the bar's own chord goes on."""
    chords = () if chart.pickup is None else chart.pickup.chords
    sounding = next((place for place, c in enumerate(chords) if not c.chord.is_no_chord), None)
    if chart.pickup is None or sounding is None:
        return last
    start = last.meter.beats_per_bar - chart.pickup.beats
    cut = start + chords[sounding].beat
    kept = [replace(c, duration=min(c.duration, cut - c.beat)) for c in last.chords if c.beat < cut]
    return replace(last, chords=(*kept, *(replace(c, beat=start + c.beat) for c in chords[sounding:])))


def spans_of(chart: Chart, bars: Sequence[PlacedBar], end_of_form: int) -> tuple[Span, ...]:
    """The chords of all bars up to index `end_of_form`, then the closing chord, one span over all its bars."""
    spans: list[Span] = []
    meter = chart.meter if chart.pickup is not None else chart.played[-1].meter
    for bar in bars[:end_of_form]:
        for c in bar.chords:
            pushed = c.push_beats(chart.swing, bar.meter, meter)
            start = bar.start_beat + c.beat
            if pushed and spans:
                spans[-1] = replace(spans[-1], end_beat=start - pushed)
            places = (bar.chorus, bar.bar, start - pushed, start + c.duration)
            span = Span(len(spans), c.chord, bar.key, *places, beat=c.beat, pushed=pushed)
            spans.append(span)
        meter = bar.meter
    closing = bars[end_of_form:]
    if closing:
        first, end = closing[0], closing[-1].end_beat
        chord = first.chords[0].chord
        spans.append(Span(len(spans), chord, first.key, first.chorus, first.bar, first.start_beat, end, closing=True))
    return tuple(spans)


def pickup_spans(chart: Chart, first: Span) -> tuple[Span, ...]:
    """The chords of the pick-up, in bar 0 of chorus 1 and up to the `first` span; index -1, as they are no spans of
    the form: notes there are kept and not graded."""
    if chart.pickup is None:
        return ()
    found: list[Span] = []
    for c in chart.pickup.chords:
        pushed = c.push_beats(chart.swing, chart.meter, chart.meter)
        start = c.beat - chart.pickup.beats - pushed
        beat = chart.meter.beats_per_bar - chart.pickup.beats + c.beat
        if found:
            found[-1] = replace(found[-1], end_beat=start)
        found.append(Span(-1, c.chord, chart.key, 1, 0, start, first.start_beat, beat=beat, pushed=pushed))
    return tuple(found)


def time_map_of(chart: Chart, choruses: int, rate_hz: int, tempo_bpm: float, first_sample: int = 0) -> TimeMap:
    """The time that `choruses` of a chart take when it is played at `tempo_bpm`, beat 0 at `first_sample`.

    Tempi of sections keep their ratio to that of the chart. Raises ProgressionsError where one leaves the range.
    """
    check_tempi(chart, tempo_bpm)
    steady = TimeMap.steady(rate_hz, tempo_bpm, first_sample)
    return TimeMap(rate_hz, tuple(_segments(chart, choruses, steady.segments[0])))


def check_tempi(chart: Chart, tempo_bpm: float) -> None:
    """Raises ProgressionsError where a section's tempo leaves the range when the chart is played at `tempo_bpm`."""
    for bar in chart.bars:
        if bar.tempo_bpm is not None and chart.tempo_bpm is not None:
            section_bpm = Fraction(bar.tempo_bpm) * Fraction(tempo_bpm) / Fraction(chart.tempo_bpm)
            if not TEMPO_BPM[0] <= section_bpm <= TEMPO_BPM[1]:
                told = f"at {tempo_bpm:g} bpm the section at {bar.tempo_bpm:g} would go at {float(section_bpm):.0f}"
                raise ProgressionsError(f"{told}: expected {TEMPO_BPM[0]:g} to {TEMPO_BPM[1]:g} bpm")


def _segments(chart: Chart, choruses: int, first: Segment) -> Iterator[Segment]:
    """A segment wherever the pace changes."""
    pace, segment, beat = Fraction(1), first, 0
    for _ in range(choruses):
        for bar in chart.played:
            if bar.pace != pace:
                sample = segment.sample + (beat - segment.beat) * segment.samples_per_beat
                if beat:
                    yield segment
                pace, segment = bar.pace, Segment(Fraction(beat), sample, first.samples_per_beat / bar.pace)
            beat += bar.meter.beats_per_bar
    yield segment
