"""Landings and hangovers: every expectation is read off the rule by hand. C7 = C E G B♭, F7 = F A C E♭."""

from __future__ import annotations

from typing import Any

import pytest

from lines import Line, finals, grade_events, heard, timeline
from listener.graded import ChorusMeasures, Grade, Landing, Verdict
from listener.measures import measure_chorus
from listener.rules import Rules

NEAREST, SMOOTH, GUIDE, LEAP = Verdict.NEAREST, Verdict.SMOOTH, Verdict.GUIDE_TONE, Verdict.LEAP
CHANGES = "| C7 | F7 | F7 |"


def measured(line: Line, changes: str = CHANGES, chorus: int = 1, **time: Any) -> ChorusMeasures:
    over = timeline(changes, **time)
    graded = finals(grade_events(heard(line, over), over))
    return measure_chorus(chorus, graded, over, Rules(), over.time_map.rate_hz)


def into_f7(*line: tuple[Any, ...]) -> Landing:
    """The landing of bar 2, the second change of CHANGES."""
    return measured(line).landings[1]


@pytest.mark.parametrize(
    ("before", "landed", "motion", "verdicts"),
    [
        ("B♭3", "A3", -1, {NEAREST, SMOOTH, GUIDE}),  # ♭7 falls to 3
        ("A4", "C5", 3, {NEAREST}),  # B♭ and B lie between, and the A before does not count
        ("G3", "F4", 10, {LEAP}),  # A, C and E♭ lie between
        ("C4", "A4", 9, {GUIDE}),  # E♭ and F lie between, and the 3 is a guide tone
        ("E4", "F4", 1, {NEAREST, SMOOTH}),
        ("C4", "C4", 0, {NEAREST, SMOOTH}),  # struck again: nothing between
        ("E♭4", "F4", 2, {NEAREST, SMOOTH}),
    ],
)
def test_verdicts_of_a_landing(before: str, landed: str, motion: int, verdicts: set[Verdict]) -> None:
    landing = into_f7((before, 3, 0.4), (landed, 4, 1))
    assert (landing.motion_semitones, set(landing.verdicts)) == (motion, verdicts)
    assert (landing.bar, landing.beat, landing.chord, landing.degree) == (2, 1.0, "F7", "IV")


def test_a_landing_outside_the_chord_has_no_verdict() -> None:
    landing = into_f7(("C4", 3, 0.4), ("D4", 4, 1), ("G4", 5, 1))
    assert (landing.function, landing.grade, landing.verdicts, landing.delayed) == ("13", Grade.OUTSIDE, (), False)


@pytest.mark.parametrize(
    ("arrival", "beat", "delayed"),
    [
        ("A3", 4.5, True),
        ("A3", 5.0, True),  # one beat is still in time
        ("A3", 5.25, False),
        ("C4", 4.5, False),  # a chord tone, a major third away
    ],
)
def test_a_chord_tone_by_step_within_a_beat_is_a_delayed_landing(arrival: str, beat: float, delayed: bool) -> None:
    landing = into_f7(("B♭3", 3, 0.4), ("A♭3", 4, 0.4), (arrival, beat, 0.4))
    assert landing.delayed is delayed
    assert (landing.note_id, landing.function) == ((3, "3") if delayed else (2, "♭3"))


def test_a_common_tone_held_lands_and_the_next_attack_does_not() -> None:
    landing = into_f7(("C4", 3, 2.5), ("A3", 5.5, 0.5))
    assert (landing.note_id, landing.function, landing.held) == (1, "5", "common tone held")
    assert (landing.motion_semitones, set(landing.verdicts)) == (0, {NEAREST, SMOOTH})


def test_a_tone_of_the_new_chord_only_is_suspended_in() -> None:
    landing = into_f7(("C4", 2, 0.9), ("A3", 3, 2.5), ("F3", 5.5, 0.5))
    assert (landing.note_id, landing.function, landing.held) == (2, "3", "suspended in")
    assert landing.motion_semitones == -3


@pytest.mark.parametrize(
    "line",
    [
        [("C4", 3, 1.1), ("A3", 5, 1)],  # let go a tenth of a beat after the change
        [("C4", 3, 2), ("A3", 4, 1)],  # still ringing when the downbeat is struck
        [("G3", 3, 2.5), ("A3", 5.5, 1)],  # no tone of the new chord
    ],
)
def test_a_note_not_held_as_a_tone_of_the_new_chord_leaves_the_landing_to_the_next(line: Line) -> None:
    landing = into_f7(*line)
    assert (landing.note_id, landing.held, landing.function) == (2, None, "3")


def test_a_push_and_early_hands_are_the_landing() -> None:
    pushed = into_f7(("C4", 3, 0.4), ("A3", 3.6, 1.4), ("F3", 5, 1))
    assert (pushed.note_id, pushed.function, pushed.pushed, pushed.early) == (2, "3", True, False)
    early = into_f7(("C4", 3, 0.4), ("A3", 3.96, 1), ("F3", 5, 1))
    assert (early.note_id, early.function, early.pushed, early.early) == (2, "3", False, True)


def test_a_double_stop_lands_by_its_upper_note() -> None:
    landing = into_f7(("B♭3", 3, 0.4), ("F3", 4.0, 1), ("A3", 4.01, 1, {"voice": 1}))
    assert (landing.function, landing.motion_semitones) == ("3", -1)


def test_a_chord_without_a_note_up_to_a_bar_is_left_open() -> None:
    landing = into_f7(("C4", 3, 0.4), ("A3", 8.5, 1))
    assert (landing.open, landing.note_id, landing.function, landing.verdicts) == (True, None, None, ())


def test_notes_that_cannot_be_told_apart_do_not_leave_a_chord_open() -> None:
    landing = into_f7(("C4", 3, 0.4), ("A3", 4, 1, {"unsure": True}))
    assert (landing.open, landing.note_id, landing.function, landing.grade) == (False, 2, None, None)


def test_no_chord_and_equal_chords_are_not_landed_on() -> None:
    chorus = measured([("C4", 0, 1), ("C4", 8, 1)], "| C7 | N.C. | F7 | F7 |")
    assert [(at.bar, at.chord) for at in chorus.landings] == [(1, "C7"), (3, "F7")]


def test_a_seam_without_a_change_is_shown_and_not_counted() -> None:
    line = [("E4", 0, 1), ("A3", 4, 1), ("C4", 8, 1), ("E4", 12, 1), ("A3", 16, 1)]
    second = measured(line, "| C7 | F7 | C7 |", chorus=2, choruses=2)
    assert [(at.bar, at.function) for at in second.landings] == [(2, "3"), (3, None)]
    assert second.entry is not None
    assert (second.entry.bar, second.entry.function) == (1, "3")


def test_the_landing_on_the_closing_chord_is_told_once_it_is_played() -> None:
    line = [("E4", 0, 1), ("B3", 4, 1)]
    assert [at.bar for at in measured(line, "| C7 | G7 |").landings] == [1, 2]
    closing = measured([*line, ("C4", 8, 1)], "| C7 | G7 |").landings[2]
    assert (closing.bar, closing.degree, closing.function) == (3, "I", "R")


def test_changes_after_a_partial_chorus_was_left_are_not_open() -> None:
    over = timeline(CHANGES)
    graded = finals(grade_events(heard([("C4", 0, 1)], over), over))
    left_at = over.time_map.sample_at(3)
    part = measure_chorus(1, graded, over, Rules(), over.time_map.rate_hz, partial=True, until_sample=left_at)
    assert [at.bar for at in part.landings] == [1]
    assert part.partial


def test_hangover_is_what_fits_only_the_chord_before_up_to_a_bar() -> None:
    # E, G and B♭ over F7 are of C7 only; C is of both; the G of the second bar is too late to be one.
    line = [("C4", 3, 0.4), ("E4", 4, 0.5), ("G4", 5, 0.5), ("C4", 5.5, 0.5), ("B♭4", 6, 0.5), ("G4", 9, 0.5)]
    (late,) = measured(line).hangovers
    assert (late.bar, late.chord, late.degree, late.into, late.into_degree, late.notes) == (2, "C7", "I", "F7", "IV", 3)


def test_a_note_on_the_way_to_the_new_chord_is_no_hangover() -> None:
    # E over F7 is a semitone under the F that follows within a beat; B♭ a semitone over the A.
    assert measured([("C4", 3, 0.4), ("E4", 4, 0.5), ("F4", 4.5, 0.5), ("B♭3", 5, 0.5), ("A3", 5.5, 1)]).hangovers == ()


def test_a_third_approach_that_fits_only_the_chord_before_is_no_hangover() -> None:
    # Over C7 after F7, E♭ is ♭7 of the chord before, and here the ♭3 that rises.
    chorus = measured([("A3", 3, 0.4), ("E♭4", 4, 0.5), ("E4", 4.5, 1)], "| F7 | C7 |")
    assert chorus.hangovers == ()
    assert (chorus.landings[1].function, chorus.landings[1].delayed) == ("3", True)
