"""A chart as it sounds once through: repeats played out, pushed chords an eighth early where they are heard."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from operator import itemgetter

from progressions.bars import Bar, ChartChord, PlayedBar
from progressions.changes import Chart
from progressions.chords import Chord

_Change = tuple[Fraction, Chord]  # eighths from the first downbeat, and the chord from there on


def as_sounding(chart: Chart) -> Chart:
    """The same changes without repeats and pushes. A pushed first chord comes early where the form begins again."""
    changes: list[_Change] = []
    at = Fraction(0)
    if chart.pickup is not None:
        at = -chart.pickup.beats * chart.meter.eighths_per_beat
        changes += _changes(chart.pickup, at, chart.meter.eighths_per_beat)
    at, starts = Fraction(0), []
    for bar in chart.played:
        starts.append(at)
        changes += _changes(Bar(bar.chords), at, bar.meter.eighths_per_beat)
        at += _beats(bar) * bar.meter.eighths_per_beat
    if chart.pickup is None and changes[0][0] < 0:
        first = changes[0][1]
        changes = [(Fraction(0), first), *changes[1:], (at - 1, first)]
    bars = [
        replace(_cut(changes, start, bar.meter.eighths_per_beat, _beats(bar)), section=chart.bars[bar.written].section)
        for start, bar in zip(starts, chart.played, strict=True)
    ]
    pickup = None
    if chart.pickup is not None:
        eighths = chart.meter.eighths_per_beat
        pickup = _cut(changes, -chart.pickup.beats * eighths, eighths, chart.pickup.beats)
    return replace(chart, bars=tuple(_signed(chart, bars)), pickup=pickup)


def _changes(bar: Bar, start: Fraction, eighths_per_beat: int) -> list[_Change]:
    return [(start + c.beat * eighths_per_beat - (1 if c.pushed else 0), c.chord) for c in bar.chords]


def _beats(bar: PlayedBar) -> Fraction:
    return sum((chord.duration for chord in bar.chords), Fraction(0))


def _cut(changes: Sequence[_Change], start: Fraction, eighths_per_beat: int, beats: Fraction) -> Bar:
    """The bar from `start` on: the chord that sounds there and those that come in it."""
    end = start + beats * eighths_per_beat
    first = bisect_right(changes, start, key=itemgetter(0))
    inside = [(start, changes[first - 1][1]), *changes[first : bisect_left(changes, end, key=itemgetter(0))]]
    ends = [*(at for at, _ in inside[1:]), end]
    return Bar(
        tuple(
            ChartChord((at - start) / eighths_per_beat, (stop - at) / eighths_per_beat, chord)
            for (at, chord), stop in zip(inside, ends, strict=True)
        )
    )


def _signed(chart: Chart, bars: Sequence[Bar]) -> list[Bar]:
    """The bars with signs of meter, key and tempo where these change in the order of playing."""
    signed = []
    meter, key, pace = chart.meter, chart.key, Fraction(1)
    for bar, played in zip(bars, chart.played, strict=True):
        quarters_before, quarters = pace * meter.eighths_per_beat, played.pace * played.meter.eighths_per_beat
        tempo = None
        if chart.tempo_bpm is not None and quarters != quarters_before:
            tempo = float(Fraction(chart.tempo_bpm) * played.pace)
        signed.append(
            replace(
                bar,
                meter=None if played.meter == meter else played.meter,
                key=None if played.key == key else played.key,
                tempo_bpm=tempo,
            )
        )
        meter, key, pace = played.meter, played.key, played.pace
    return signed
