"""Measures of a chorus against hand counts, published check values and scipy."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from lines import RATE, Line, finals, grade_events, heard, midi, timeline
from listener.graded import ChorusMeasures
from listener.measures import measure_chorus
from listener.measures.intervals import median_interval, wilson
from listener.rules import Rules
from progressions.chart import parse_key
from progressions.forms import load_form
from progressions.timeline import Timeline, TimeMap

BLUES = "| C7 | C7 | C7 | C7 | F7 | F7 | C7 | C7 | G7 | F7 | C7 | C7 |"


def measured(
    line: Line, over: Timeline | str, chorus: int = 1, rules: Rules | None = None, **time: Any
) -> ChorusMeasures:
    over = timeline(over, **time) if isinstance(over, str) else over
    graded = finals(grade_events(heard(line, over), over, rules))
    return measure_chorus(chorus, graded, over, rules or Rules(), over.time_map.rate_hz)


def noodled(scale: str, bars: int = 12) -> Line:
    """Every note of the scale once a bar, evenly, none near enough to a change to stand for the next chord."""
    pitches = scale.split()
    step = 4 / len(pitches)
    return [(p + "4", 4 * bar + 0.1 + i * step, step / 2) for bar in range(bars) for i, p in enumerate(pitches)]


@pytest.mark.parametrize(
    ("scale", "expected"),
    [
        # Counted over twelve bars: I 8, IV 3, V 1. Minor pentatonic: 3, 3 and 2 of its five notes are tones of them.
        ("C E♭ F G B♭", "+0.02"),
        ("C E♭ F F♯ G B♭", "+0.02"),
        ("C D E G A", "+0.08"),
    ],
)
def test_fit_of_a_scale_noodled_over_a_blues(scale: str, expected: str) -> None:
    assert f"{measured(noodled(scale), BLUES).fit:+.2f}" == expected


def test_fit_is_the_mean_of_differences_with_its_error() -> None:
    # Three notes over C7 | F7 | G7 (F7 and G7 a bar each): E is in C7 alone: 1; C in F7, and in C7 for half of the
    # others' time: 1 - 1/2; A♭ in none: 0. Mean 1/2, standard deviation 1/2, error 1/2 over the root of 3.
    chorus = measured([("E4", 0, 1), ("C4", 5, 1), ("A♭3", 9, 1)], "| C7 | F7 | G7 |")
    assert chorus.fit == pytest.approx(0.5)
    assert chorus.fit_error == pytest.approx(0.5 / 3**0.5)


def test_fit_has_no_value_without_another_chord_or_note() -> None:
    assert measured([("E4", 0, 1)], "| C7 | C7 |").fit is None
    assert measured([], BLUES).fit is None


@given(st.lists(st.tuples(st.integers(3, 7), st.integers(0, 47)), min_size=1, max_size=30, unique_by=lambda t: t[1]))
@settings(max_examples=30, deadline=None)
def test_a_line_of_notes_common_to_all_chords_fits_none_better(places: list[tuple[int, int]]) -> None:
    line = [(f"C{octave}", beat + 0.1, 0.5) for octave, beat in sorted(places, key=lambda t: t[1])]
    assert measured(line, "| C7 | F7 | Am7 | D7 |" * 3).fit == 0  # C is in every one


@given(
    st.lists(st.tuples(st.integers(45, 75), st.integers(1, 6), st.integers(1, 6)), max_size=25),
    st.sampled_from(["D", "E♭", "E", "F", "G", "A", "B♭", "B"]),
)
@settings(max_examples=25, deadline=None)
def test_transposing_line_and_changes_changes_no_measure(steps: list[tuple[int, int, int]], key: str) -> None:
    def chorus(tonic: str, up: int) -> ChorusMeasures:
        over = Timeline(load_form("blues-quick-change", parse_key(tonic)), 1, TimeMap.steady(RATE, 60))
        line, beat = [], 0.0
        for pitch, length, rest in steps:
            line.append((f"C4{100 * (pitch + up - 60):+d}", beat, length / 4))
            beat += (length + rest - 1) / 4
        return _without_names(measured(line, over))

    up = round(midi(key + "4") - midi("C4"))
    assert chorus(key, up) == chorus("C", 0)


def _without_names(chorus: ChorusMeasures) -> ChorusMeasures:
    """The measures without what names a pitch: symbols and spellings."""
    return replace(
        chorus,
        landings=tuple(replace(at, chord="", name=None) for at in chorus.landings),
        hangovers=tuple(replace(late, chord="", into="") for late in chorus.hangovers),
        functions=tuple(("", function, count) for _, function, count in chorus.functions),
        unused=tuple(("", function) for _, function in chorus.unused),
        next_thing=chorus.next_thing.split(",")[-1],
    )


@given(st.integers(0, 40), st.integers(0, 40))
def test_wilson_interval_is_scipys(hits: int, more: int) -> None:
    of = hits + more
    if of == 0:
        assert wilson(0, 0) is None
        return
    outside = stats.binomtest(hits, of).proportion_ci(confidence_level=0.95, method="wilson")
    assert wilson(hits, of) == pytest.approx((outside.low, outside.high), abs=1e-9)


@pytest.mark.parametrize("n", [6, 8, 9, 10, 20, 30, 75])
def test_median_interval_takes_the_order_statistics_of_the_sign_test(n: int) -> None:
    rank = int(stats.binom.ppf(0.025, n, 0.5))  # the largest rank whose lower tail stays within 2.5 %
    assert median_interval([float(i) for i in range(1, n + 1)]) == (rank, n + 1 - rank)


def test_five_values_hold_no_interval_for_their_median() -> None:
    assert median_interval([1, 2, 3, 4, 5]) is None  # 1 - 2/32 = 94 %


def test_root_habit_is_called_only_when_the_interval_lies_above_the_masters_share() -> None:
    # Six landings on R of six: Wilson from 0.61. Two of six: from 0.10, under the masters' 0.30.
    changes = "| C7 | F7 | C7 | F7 | C7 | F7 |"
    roots = [("C4" if bar % 2 == 0 else "F4", 4 * bar, 1) for bar in range(6)]
    habit = measured(roots, changes)
    assert (habit.root_share, habit.root_habit, habit.guide_share) == (1.0, True, 0.0)
    mixed = measured([*roots[:2], ("E4", 8, 1), ("A4", 12, 1), ("G4", 16, 1), ("C5", 20, 1)], changes)
    assert (mixed.root_share, mixed.root_habit, mixed.guide_share) == (
        pytest.approx(2 / 6),
        False,
        pytest.approx(2 / 6),
    )


def arpeggios(bars_late: int) -> Line:
    """Root, 3, 5 and ♭7 of the chord of each bar of BLUES, played late, the last bars first."""
    roots = [0, 0, 0, 0, 5, 5, 0, 0, 7, 5, 0, 0]
    line = []
    for bar in range(12):
        root = roots[(bar - bars_late) % 12]
        line += [(f"C4{100 * (root + tone):+d}", 4 * bar + i + 0.1, 0.5) for i, tone in enumerate((0, 4, 7, 10))]
    return line


@pytest.mark.parametrize(("late", "told"), [(0, None), (1, -1), (2, -2), (-1, 1)])
def test_lost_place_is_told_by_the_shift_that_fits(late: int, told: int | None) -> None:
    chorus = measured(arpeggios(late), BLUES)
    assert chorus.lost_place_bars == told
    if told:
        assert chorus.next_thing == "C, the R of C7, on bar 1"


def test_functions_used_and_never_used_over_each_chord() -> None:
    chorus = measured([("E4", 0, 1), ("E4", 1, 1), ("D4", 2, 1), ("A3", 4, 1)], "| C7 | F7 |")
    assert chorus.functions == (("C7", "3", 2), ("C7", "9", 1), ("F7", "3", 1))
    assert chorus.unused == tuple(("C7", f) for f in ("R", "5", "♭7")) + tuple(("F7", f) for f in ("R", "5", "♭7"))


def test_thirds_played_resolved_and_left() -> None:
    line = [("E♭4", 0, 0.5), ("E4", 0.5, 0.5), ("E♭4", 2, 0.5), ("C4", 2.5, 0.5), ("E♭4", 4, 0.5), ("D4", 4.5, 0.5)]
    chorus = measured(line, "| C7 | C7 |")
    assert (chorus.thirds_played, chorus.thirds_resolved, chorus.thirds_left) == (3, 1, (("R", 1), ("9", 1)))


def test_phrases_end_with_a_rest_of_a_beat_and_silence_is_what_does_not_sound() -> None:
    # Two phrases: beats 1 to 2.75 (a rest of half a beat inside), and from beat 3 of bar 2 to its end.
    chorus = measured([("C4", 0, 0.5), ("E4", 1, 0.75), ("G4", 6, 2)], "| C7 | C7 |")
    assert chorus.phrases == ((1.0, 1, 1.75), (3.0, 2, 2.0))
    assert chorus.silence_share == pytest.approx(1 - 3.25 / 8)


def test_a_phrase_over_the_seam_belongs_to_the_chorus_in_which_it_starts() -> None:
    line = [("E4", 7, 0.9), ("C4", 8, 1), ("G4", 11, 1)]
    assert measured(line, "| C7 | C7 |", choruses=2).phrases == ((4.0, 2, pytest.approx(0.9)),)
    assert measured(line, "| C7 | C7 |", chorus=2, choruses=2).phrases == ((4.0, 1, 1.0),)


def swung(off: list[float], late: float = 0.0) -> Line:
    """A downbeat and an off-beat in each beat, the off-beat at the part of the beat given; all `late` beats behind."""
    line = []
    for beat, part in enumerate(off):
        line += [("C4", beat + late, 0.3), ("E4", beat + part + late, 0.2)]
    return line


def test_timing_tells_mean_and_spread_from_the_grid() -> None:
    # Triplet swing, 0.03 beat behind at 60 bpm: 30 ms behind, without spread; eleven pairs of ratio 2.
    timing = measured(swung([2 / 3] * 12, late=0.03), "| C7 | C7 | C7 |").timing
    assert (timing.notes, timing.pairs) == (24, 11)
    assert timing.mean_ms == pytest.approx(30, abs=0.1)
    assert timing.spread_ms == pytest.approx(0, abs=0.1)
    assert timing.swing_ratio == pytest.approx(2, abs=0.001)


def test_ten_milliseconds_at_200_bpm_move_a_ratio_of_2_to_between_1_7_and_2_3() -> None:
    beat_ms = 60_000 / 200
    off = [(200 + shift) / beat_ms for shift in (-10, 0, 10, 0) * 3]
    timing = measured(swung(off), "| C7 | C7 | C7 |", tempo=200).timing
    assert timing.swing_low is not None
    assert timing.swing_high is not None
    told = [round(value, 1) for value in (timing.swing_low, timing.swing_ratio or 0, timing.swing_high)]
    assert told == [1.7, 2.0, 2.3]


def test_off_beats_are_measured_from_the_players_own_ratio_once_eight_pairs_exist() -> None:
    # Off-beats at 0.6 of the beat lie between the slots of eighth and triplet; as the player's own they are in time.
    own = measured(swung([0.6] * 12), "| C7 | C7 | C7 |").timing
    assert own.swing_ratio == pytest.approx(1.5, abs=0.001)
    assert own.spread_ms == pytest.approx(0, abs=0.1)
    few = measured(swung([0.6] * 6), "| C7 | C7 | C7 |").timing
    assert (few.pairs, few.swing_ratio, few.swing_low) == (5, None, None)
    assert few.spread_ms == pytest.approx(1000 * stats.tstd([0, 2 / 3 - 0.6] * 6), abs=0.1)


def test_under_eight_notes_no_timing_is_told() -> None:
    timing = measured([("C4", beat, 0.5) for beat in range(7)], "| C7 | C7 |").timing
    assert (timing.notes, timing.mean_ms, timing.spread_ms) == (7, None, None)


def test_the_next_thing_is_the_guide_tone_that_tells_the_change_with_most_to_mend() -> None:
    # E, G and B♭ hang over into F7. Its 3, A, is not in C7.
    line = [("E4", 0, 1), ("B♭4", 2, 1), ("E4", 4, 0.5), ("G4", 5, 0.5), ("B♭4", 6, 0.5), ("B3", 8, 1), ("F4", 9, 1)]
    assert measured(line, "| C7 | F7 | G7 |").next_thing == "A, the 3 of F7, on bar 2"


def test_the_next_thing_may_be_a_guide_tone_that_was_never_played() -> None:
    # Landings on 3 everywhere and no hangover; of eight notes over C7 none is its ♭7.
    line = [(pitch, beat, 0.5) for beat, pitch in enumerate(["E4", "G4", "C4", "E4", "G4", "C4", "E4", "G4"])]
    line += [("A3", 8, 0.5), ("E♭4", 9, 0.5), ("A3", 10, 0.5), ("F3", 11, 0.5)]
    assert measured(line, "| C7 | C7 | F7 |").next_thing == "B♭, the ♭7 of C7, on bar 1"


def test_a_silent_chorus_has_measures() -> None:
    chorus = measured([], BLUES)
    assert (chorus.notes, chorus.fit, chorus.root_share, chorus.guide_share, chorus.silence_share) == (
        0,
        None,
        None,
        None,
        1,
    )
    assert all(at.open for at in chorus.landings)
    assert [at.bar for at in chorus.landings] == [1, 5, 7, 9, 10, 11]
    assert chorus.next_thing


def test_grades_are_counted_in_the_chorus_of_the_onset() -> None:
    line = [("E4", 0, 1), ("D4", 1, 1), (None, 2, 0.1), ("E4", 8, 1), ("E4", -2, 1)]
    first = measured(line, "| C7 | F7 |", choruses=2)
    assert (first.notes, first.scored, first.chord_tones, first.colour, first.dead_notes) == (2, 2, 1, 1, 1)
    assert measured(line, "| C7 | F7 |", chorus=2, choruses=2).scored == 1


def test_colour_as_chord_tone_leaves_the_fit_as_it_is() -> None:
    line = noodled("C D E G A")
    played, counted = measured(line, BLUES), measured(line, BLUES, rules=Rules(colour_is_chord_tone=True))
    assert counted.chord_tones > played.chord_tones
    assert counted.fit == played.fit


def test_expected_shares_of_the_minor_pentatonic_are_those_of_the_fit() -> None:
    # The sum itself, in fractions: I, IV, V last 8, 3 and 1 bars and hold 3, 3 and 2 of five notes.
    share, bars = {"I": Fraction(3, 5), "IV": Fraction(3, 5), "V": Fraction(2, 5)}, {"I": 8, "IV": 3, "V": 1}
    total = Fraction(0)
    for own in bars:
        others = [c for c in bars if c != own]
        elsewhere = sum(share[c] * bars[c] for c in others) / sum(bars[c] for c in others)
        total += (share[own] - elsewhere) * Fraction(bars[own], 12)
    assert measured(noodled("C E♭ F G B♭"), BLUES).fit == pytest.approx(float(total))
