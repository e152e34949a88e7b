"""Changes as plain text, as they stand on a stand chart: read and checked, transposed, written.

    title: Twelve-bar blues
    key: A
    meter: 4/4
    tempo: 80
    swing: 2:1
    # a comment stands on a line of its own
    | [pick-up] E7:1 |
    [A]
    |: A7 | D7 | A7 | % |
    | D7 | %% | A7:3 E7:1 |
    |1 A7 F♯7 | Bm7 <E7 :|2 A7/E N.C. | [3/4] A7 ||

A bar stands between two bar lines, on as many lines as one likes; || is one bar line. Several chords share a bar
evenly, or by the beats given after a colon.

    %  %%          the bar before again; one sign for two bars, the two before again (𝄍 and 𝄎 mean the same)
    |:  :|  :|x3   a repeat, played twice or as often as told; without |: it goes back to the beginning
    |1  :|2  |1,3  endings; the last one goes on without a :|
    <E7            a push: the chord comes an eighth early, and the change with it (the short eighth where it swings)
    [A] [Intro]    a section, before the bar where it begins or on a line of its own
    [3/4]          another meter from this bar on; note values keep their length, unless a tempo stands beside it
    [key: C]       another key from this bar on: nothing sounds otherwise, but degrees count from there
    [tempo: 120]   another tempo from this bar on, in beats of the meter there; the chart needs a tempo at the top
    [pick-up]      the first bar is a pick-up, every chord with its beats. It comes before the first beat of the first
                   chorus; from then on it belongs to the last bar of the form and takes its end, unless it is N.C.

Chords are symbols in any dialect, or throughout degrees of the key (I7, ♭VII7, ii-7, ii–V, IV/5 with the bass as a
degree): such a chart can be had in every key. Signs of meter, key and tempo hold on the page until the next one.
"""

from __future__ import annotations

from progressions.changes import Bar, Chart, ChartChord, Meter, transpose_chart
from progressions.chart.reading import parse_chart
from progressions.chart.writing import cells, write_chart, write_degrees
from progressions.keys import Key, parse_key

__all__ = [
    "Bar",
    "Chart",
    "ChartChord",
    "Key",
    "Meter",
    "cells",
    "parse_chart",
    "parse_key",
    "transpose_chart",
    "write_chart",
    "write_degrees",
]
