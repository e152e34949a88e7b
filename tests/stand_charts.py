"""Charts of every kind for laws: all signs that a chart can hold, drawn so that they fit together."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from progressions.chart import Bar, Chart, ChartChord, Key, Meter
from progressions.chords import parse_chord
from progressions.pitch import LETTERS, Spelled
from progressions.qualities import QUALITY_SPELLINGS

ROOTS = st.builds(Spelled, st.sampled_from(LETTERS), st.integers(-1, 1))
KEYS = st.builds(Key, ROOTS, st.booleans())
CHORDS = st.builds(
    lambda root, quality, bass: parse_chord(f"{root}{quality}{bass and f'/{bass}'}"),
    ROOTS,
    st.sampled_from(sorted(QUALITY_SPELLINGS)),
    st.just("") | st.just("") | ROOTS,
) | st.just(parse_chord("N.C."))
SECTIONS = st.sampled_from(["", "", "A", "B2", "Intro"])


@st.composite
def chords_of_a_bar(draw: st.DrawFn, beats: int) -> tuple[ChartChord, ...]:
    weights = draw(st.lists(st.integers(1, 8), min_size=1, max_size=4))
    at, before, chords = Fraction(0), Fraction(0), []
    for weight in weights:
        length = Fraction(weight * beats, sum(weights))
        # an eighth is a beat at the most, so a chord longer than that can always be cut short by a push
        chords.append(ChartChord(at, length, draw(CHORDS), before > 1 and draw(st.booleans())))
        at, before = at + length, length
    return tuple(chords)


@st.composite
def passages(draw: st.DrawFn) -> list[dict[str, object]]:
    """Signs of some bars in a row: played once, repeated, or repeated with endings."""
    bars: list[dict[str, object]] = [{} for _ in range(draw(st.integers(1, 3)))]
    kind = draw(st.sampled_from(["once", "repeat", "endings"]))
    if kind != "once":
        bars[0]["opens_repeat"] = True
    if kind == "repeat":
        bars[-1]["times"] = draw(st.integers(2, 4))
    if kind == "endings":
        first = draw(st.integers(1, 2))
        for numbers in (tuple(range(1, first + 1)), (first + 1,)):
            ending: list[dict[str, object]] = [{} for _ in range(draw(st.integers(1, 2)))]
            ending[0]["endings"] = numbers
            ending[-1]["times"] = 2 if numbers[0] == 1 else 0
            bars += ending
    return bars


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    meters = st.builds(Meter, st.integers(2, 12), st.sampled_from([4, 8]))
    meter = first = draw(meters)
    tempo_bpm = draw(st.none() | st.floats(30, 320))
    bars: list[Bar] = []
    for place in (p for passage in draw(st.lists(passages(), min_size=1, max_size=3)) for p in passage):
        before = bars[-1] if bars else None
        signs = dict(place, section=draw(SECTIONS))
        if before is not None and draw(st.booleans()):
            meter = draw(meters)
            signs |= {"meter": meter, "key": draw(st.none() | KEYS)}
            signs["tempo_bpm"] = None if tempo_bpm is None else draw(st.none() | st.floats(30, 320))
        if before is not None and before.beats == meter.beats_per_bar and draw(st.booleans()):
            bars.append(Bar(before.chords, 1, **signs))
        else:
            bars.append(Bar(draw(chords_of_a_bar(meter.beats_per_bar)), **signs))
        if len(bars) > 1 and bars[-2].beats == bars[-1].beats and draw(st.booleans()):
            times = bars[-1].times  # a :| after the last bar goes after the %% that takes its place
            bars[-1] = replace(bars[-1], times=0)
            bars += [Bar(bars[-2].chords, 2), Bar(bars[-1].chords, 2, times=times)]
    pickup = None
    if meter.eighths_per_beat == first.eighths_per_beat and draw(st.booleans()):
        half = ChartChord(Fraction(0), Fraction(1, 2), draw(CHORDS))
        pickup = Bar((half, replace(half, beat=half.duration, chord=draw(CHORDS))))
    title = " ".join(draw(st.text(max_size=20)).split())
    return Chart(title, draw(KEYS), first, tempo_bpm, draw(st.none() | st.floats(1, 3)), tuple(bars), pickup)
