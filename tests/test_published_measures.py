"""Measures of 24 transcribed solos over blues changes against the figures counted on them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from statistics import fmean

import pytest

from listener.graded import ChorusMeasures, Grade, Verdict
from listener.measures import MASTERS_GUIDE_SHARE, MASTERS_ROOT_SHARE, measure_chorus
from listener.measures.fit import chord_weights, fit
from listener.measures.line import played_notes
from listener.rules import Rules
from progressions.changes import Bar
from progressions.chords import Chord, parse_chord
from progressions.timeline import Timeline
from published_solos import graded_solos


@cache
def measures() -> tuple[ChorusMeasures, ...]:
    """Each solo as one chorus."""
    return tuple(
        measure_chorus(1, [heard.graded for heard in line], over, Rules(), over.time_map.rate_hz)
        for over, line in graded_solos(Rules())
    )


def test_solos_fit_their_changes_as_counted() -> None:
    fits = [chorus.fit for chorus in measures() if chorus.fit is not None]
    print(f"fit {fmean(fits):+.3f}, {min(fits):+.3f} to {max(fits):+.3f}")
    assert len(fits) == 24
    assert f"{fmean(fits):+.2f}" == "+0.11"
    assert f"{max(fits):+.2f}" == "+0.23"


def test_the_lowest_fit_is_that_of_a_solo_over_suspended_chords() -> None:
    # Counted as 0.00, where the chord types of the database take a suspended chord for a plain dominant seventh. Taken
    # as they are written its chords fit better.
    lowest, plain = [], []
    for chorus, (over, line) in zip(measures(), graded_solos(Rules()), strict=True):
        bars = tuple(Bar(tuple(replace(c, chord=as_typed(c.chord)) for c in bar.chords)) for bar in over.chart.bars)
        typed = Timeline(replace(over.chart, bars=bars), 1, over.time_map)
        notes = played_notes([heard.graded for heard in line], over, Rules(), over.time_map.rate_hz)
        told = fit([note for note in notes if note.scored], typed, chord_weights(typed.spans)).difference
        assert told is not None
        assert chorus.fit is not None
        plain.append(told)
        lowest.append(chorus.fit)
    print(f"with the database's chord types {min(plain):+.3f}, with the chords as written {min(lowest):+.3f}")
    assert min(plain) == pytest.approx(0, abs=0.005)
    assert f"{fmean(plain):+.2f}" == "+0.11"


def as_typed(chord: Chord) -> Chord:
    """A chord by the database's type alone: dominants without extensions, alterations and suspensions."""
    quality = {"maj9♯11": "maj7"}.get(chord.quality, "7" if chord.quality[:1] in ("7", "9", "1") else chord.quality)
    return chord if chord.root is None else parse_chord(f"{chord.root}{quality}")


def test_masters_land_on_roots_and_guide_tones_as_counted() -> None:
    tones = [at for chorus in measures() for at in chorus.landings if at.grade is Grade.CHORD_TONE]
    roots = fmean(at.function == "R" for at in tones)
    guides = fmean(Verdict.GUIDE_TONE in at.verdicts for at in tones)
    print(f"{len(tones)} landings on chord tones: R {roots:.1%}, guide tones {guides:.1%}")
    assert roots == pytest.approx(MASTERS_ROOT_SHARE, abs=0.015)
    assert guides == pytest.approx(MASTERS_GUIDE_SHARE, abs=0.015)


def test_no_master_loses_the_place() -> None:
    assert [chorus.lost_place_bars for chorus in measures()] == [None] * 24


def test_swing_ratios_lie_where_published_ones_do() -> None:
    # Ride-cymbal ratios run from 3.5:1 slow to 1:1 fast (Friberg and Sundström, Music Perception 19, 2002).
    ratios = [chorus.timing.swing_ratio for chorus in measures() if chorus.timing.swing_ratio is not None]
    assert len(ratios) >= 15
    assert all(1.0 <= ratio <= 3.5 for ratio in ratios)
