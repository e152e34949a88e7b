"""The five lines and the summary. The playing in the example is invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lines import Line, finals, grade_events, heard, timeline
from listener.graded import ChorusMeasures, Grade, Hangover, Landing, Timing
from listener.measures import measure_chorus
from listener.report import chorus_report, landing_strip
from listener.rules import Rules
from listener.summary import summary

ROMAN_NUMERALS = {"A7": "I", "D7": "IV", "E7": "V"}


def landed(bar: int, chord: str, function: str | None, grade: Grade | None = Grade.CHORD_TONE) -> Landing:
    is_open = function is None
    return Landing(
        3, bar, 1.0, chord, ROMAN_NUMERALS[chord], is_open, function=function, grade=None if is_open else grade
    )


CHORUS = ChorusMeasures(
    chorus=3,
    partial=False,
    notes=60,
    scored=58,
    chord_tones=30,
    third_approaches=4,
    colour=10,
    on_the_way=6,
    outside=8,
    fit=0.14,
    fit_error=0.05,
    thirds_played=6,
    thirds_resolved=4,
    thirds_left=(("R", 2),),
    landings=(
        landed(5, "D7", "R"),
        landed(7, "A7", "5"),
        landed(9, "E7", None),
        landed(10, "D7", "3"),
        landed(11, "A7", "R"),
    ),
    hangovers=(Hangover(10, "E7", "V", "D7", "IV", 1), Hangover(5, "A7", "I", "D7", "IV", 3)),
    root_share=0.5,
    root_interval=(0.15, 0.85),
    root_habit=False,
    guide_share=0.25,
    functions=(("A7", "R", 10), ("A7", "3", 6), ("D7", "R", 5)),
    unused=(("D7", "3"),),
    phrases=((2.0, 1, 6.0), (4.5, 4, 9.0)),
    silence_share=0.4,
    dead_notes=1,
    timing=Timing(40, 18.0, 24.0, 1.8, 1.6, 2.1, 12),
    lost_place_bars=None,
    next_thing="F♯, the 3 of D7, on bar 5",
    entry=landed(1, "A7", "3"),
)

EXAMPLE = """\
Chorus 3   fit +0.14 (before +0.09)
1 I:3   5 IV:R   7 I:5   9 V:open   10 IV:3   11 I:R
♭3→3  4 of 6
late leaving I at bar 5, 3 notes
next: F♯, the 3 of D7, on bar 5"""


def test_the_five_lines_of_the_example() -> None:
    assert "\n".join(chorus_report(CHORUS, replace(CHORUS, chorus=2, fit=0.09))) == EXAMPLE


def test_the_five_lines_in_ascii() -> None:
    lines = chorus_report(CHORUS, ascii_only=True)
    assert lines[0] == "Chorus 3   fit +0.14"
    assert lines[2] == "b3->3  4 of 6"
    assert lines[4] == "next: F#, the 3 of D7, on bar 5"
    assert all(line.isascii() for line in lines)


def test_what_stands_where_there_is_nothing_to_tell() -> None:
    bare = replace(
        CHORUS, partial=True, fit=None, thirds_played=0, thirds_resolved=0, hangovers=(), landings=(), entry=None
    )
    assert chorus_report(bare, CHORUS)[:4] == (
        "Chorus 3, partial   fit – (before +0.14)",
        "one chord, no change to land on",
        "♭3→3  none played",
        "late leaving: none",
    )
    assert chorus_report(replace(bare, partial=False, notes=0), CHORUS)[0] == "Chorus 3   silent, 1 dead note"


@pytest.mark.parametrize(("bars", "words"), [(-1, "a bar behind the chart"), (2, "2 bars ahead of the chart")])
def test_a_lost_place_is_told_beside_the_fit(bars: int, words: str) -> None:
    assert chorus_report(replace(CHORUS, fit=-0.001, lost_place_bars=bars))[0] == f"Chorus 3   fit +0.00   {words}"


def test_the_strip_marks_landings_outside_and_unknown_and_groups_a_bar() -> None:
    landings = (
        landed(1, "A7", "4", Grade.OUTSIDE),
        landed(1, "D7", "♭7"),
        replace(landed(2, "E7", "R"), function=None, grade=None),
    )
    assert landing_strip(replace(CHORUS, entry=None, landings=landings)) == "1 I:(4) IV:♭7   2 V:?"


def test_a_strip_of_many_changes_counts_them() -> None:
    landings = tuple(landed(bar, "A7" if bar % 2 else "D7", "R" if bar % 4 else "3") for bar in range(1, 33))
    assert landing_strip(replace(CHORUS, entry=None, landings=landings)) == "32 landings: R 24  3 8"
    fifteen = landing_strip(replace(CHORUS, entry=None, landings=landings[:15]))
    assert fifteen.startswith("1:R 2:R 3:R 4:3 5:R")


@pytest.mark.parametrize("ascii_only", [False, True])
def test_every_line_fits_78_columns(ascii_only: bool) -> None:
    played = "R ♭3 ♭5 ♭7 9 11 ♭13 ♯4 7 3 5 13 ♭9 6 4 2 ♯5 ♭6"
    long = replace(
        CHORUS,
        functions=tuple(("B♭m7♭5", function, 20) for function in played.split()),
        hangovers=(Hangover(12, "B♭m7♭5", "♭vii", "E♭maj9♯11", "♭III", 12),) * 9,
        next_thing="F♯, " * 40,
    )
    lines = [*chorus_report(long, long, ascii_only=ascii_only), *summary([long] * 4, ascii_only=ascii_only)]
    assert max(len(line) for line in lines) <= 78
    assert not ascii_only or all(line.isascii() for line in lines)


def test_the_summary_shows_the_masters_figures_beside_the_players() -> None:
    text = "\n".join(summary([CHORUS]))
    # Wilson for 2 of 4: 15 to 85 %; for 0 of 4: 0 to 49 % (scipy.stats.binomtest(k, 4).proportion_ci(method="wilson")).
    assert "on R        2 of 4, 15 to 85 % (masters 30 %)" in text
    assert "guide tones 0 of 4, 0 to 49 % (masters 40 %)" in text
    assert "masters over dominant sevenths 49 %" in text


def test_the_summary_tells_every_measure_of_a_played_line() -> None:
    changes = "| C7 | F7 | C7 | G7 |"
    line: Line = [("E♭4", 0, 0.5), ("E4", 0.5, 0.5), ("D4", 2, 1), ("E4", 4, 0.5), ("G4", 5, 0.5), ("B♭4", 6, 0.5)]
    line += [("C4", 8 + k / 2, 0.4) for k in range(4)] + [("A♭4", 12, 1)]
    over = timeline(changes)
    graded = finals(grade_events(heard(line, over), over))
    text = "\n".join(summary([measure_chorus(1, graded, over, Rules(), over.time_map.rate_hz)]))
    for words in (
        "Grades of 11 notes",
        "third approach",
        "colour",
        "left open",
        "I for IV at bar 2: 3 notes in 1 chorus",
        "never",
        "5 phrases, 1.0 to 2.5 beats",  # rests of a beat or more at beats 2, 4, 7 and 11
        "spread",
        "1 of 1",
    ):
        assert words in text, text


def test_a_sitting_without_a_note_has_one_line() -> None:
    silent = replace(CHORUS, notes=0, scored=0, dead_notes=0)
    assert summary([silent]) == summary([]) == ("No notes were heard.",)


def test_no_word_praises_blames_or_counts_points() -> None:
    text = " ".join([*chorus_report(CHORUS, CHORUS), *summary([CHORUS, replace(CHORUS, lost_place_bars=1)])]).lower()
    for word in ("score:", "points", "good", "great", "well done", "wrong", "bad", "error", "mistake", "perfect", "★"):
        assert word not in text
