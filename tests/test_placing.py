"""Which chord a note belongs to. Every expected side is worked out by hand from the rule named in the test: at 60 bpm
a beat is a second, so early hands reach 0.06 beat before a change; C7 = C E G B♭, F7 = F A C E♭."""

from __future__ import annotations

import pytest

from lines import Line, grade
from listener.rules import Rules

CHANGES = "| C7 | F7 |"


def placed(changes: str, line: Line, **time: object) -> list[tuple[str | None, str]]:
    """Chord and how the note came to it, for each note of a line."""
    return [(g.chord, "early" if g.early else "pushed" if g.pushed else "onset") for g in grade(changes, line, **time)]


def test_a_note_belongs_to_the_chord_at_its_onset() -> None:
    line = [("E4", 1, 1), ("A4", 5, 1)]
    assert placed(CHANGES, line) == [("C7", "onset"), ("F7", "onset")]


def test_a_span_owns_its_first_sample_and_not_its_last() -> None:
    # Without windows before the change only the half-open span decides. One sample is 1/48000 of a beat.
    rules = Rules(early_hands_s=0.0, push_beats=0.0)
    assert placed(CHANGES, [("A4", 4, 1)], rules=rules) == [("F7", "onset")]
    assert placed(CHANGES, [("A4", 4 - 1 / 48000, 1)], rules=rules) == [("C7", "onset")]


@pytest.mark.parametrize(("changes", "choruses"), [("| C7 | C7 |", 1), ("| C7 |", 2)])
def test_the_same_symbol_again_and_a_seam_on_one_chord_are_no_change(changes: str, choruses: int) -> None:
    assert placed(changes, [("E4", 3.96, 1)], choruses=choruses) == [("C7", "onset")]


def test_early_hands_reach_60_ms_before_a_change() -> None:
    # B is in neither chord, so that no push can claim it.
    assert placed(CHANGES, [("B4", 3.94, 1)]) == [("F7", "early")]
    assert placed(CHANGES, [("B4", 3.939, 1)]) == [("C7", "onset")]


def test_early_hands_reach_a_sixth_of_a_beat_where_that_is_shorter() -> None:
    # At 240 bpm a sixth of a beat is 41.7 ms: 40 ms (0.16 beat) before the change is early, 45 ms (0.18) is not.
    assert placed(CHANGES, [("B4", 3.84, 1)], tempo=240) == [("F7", "early")]
    assert placed(CHANGES, [("B4", 3.82, 1)], tempo=240) == [("C7", "onset")]


def test_only_the_last_onset_before_the_change_is_early_hands() -> None:
    assert placed(CHANGES, [("B4", 3.945, 0.04), ("D4", 3.985, 1)]) == [("C7", "onset"), ("F7", "early")]


def test_both_notes_of_a_double_stop_are_early_hands() -> None:
    line = [("B3", 3.95, 1), ("D4", 3.97, 1, {"voice": 1})]
    assert placed(CHANGES, line) == [("F7", "early"), ("F7", "early")]


def test_an_onset_within_a_quarter_beat_after_the_change_takes_it_from_early_hands() -> None:
    assert placed(CHANGES, [("B4", 3.96, 0.1), ("A4", 4.2, 1)])[0] == ("C7", "onset")
    # On the quarter beat itself it is the second sixteenth, and the early note stands for the first.
    assert placed(CHANGES, [("B4", 3.96, 0.1), ("A4", 4.25, 1)])[0] == ("F7", "early")


def test_a_tone_of_the_old_chord_only_stays_there_when_the_first_beat_has_an_onset() -> None:
    # E is in C7 only.
    assert placed(CHANGES, [("E4", 3.96, 0.1), ("A4", 4.75, 1)])[0] == ("C7", "onset")
    assert placed(CHANGES, [("E4", 3.96, 0.1), ("A4", 5, 1)])[0] == ("F7", "early")
    # B is in neither chord: an onset on the second eighth does not hold it back.
    assert placed(CHANGES, [("B4", 3.96, 0.1), ("A4", 4.75, 1)])[0] == ("F7", "early")


def test_dead_notes_and_ghosts_do_not_take_the_downbeat_but_hammered_notes_do() -> None:
    for downbeat in [(None, 4.1, 0.1), ("A4", 4.1, 0.1, {"confidence": 0.1})]:
        assert placed(CHANGES, [("B4", 3.96, 0.1), downbeat])[0] == ("F7", "early")
    hammered = ("C5", 4.1, 0.5, {"gesture": "slurred", "slurred_from": 1})
    assert placed(CHANGES, [("B4", 3.96, 0.1), hammered])[0] == ("C7", "onset")


def test_a_push_takes_the_place_of_the_downbeat() -> None:
    [pushed] = grade(CHANGES, [("A4", 3.5, 1)])
    assert (pushed.chord, pushed.function, pushed.pushed) == ("F7", "3", True)
    assert (pushed.bar, pushed.beat) == (1, 4.5), "it was played before the change"
    assert placed(CHANGES, [("A4", 3.5, 0.4), ("C5", 4.25, 1)])[0] == ("F7", "pushed")


@pytest.mark.parametrize(
    ("why", "line"),
    [
        ("more than half a beat before the change", [("A4", 3.49, 1)]),
        ("not in the new chord", [("E4", 3.5, 1)]),
        ("another onset before the change", [("A4", 3.5, 0.25), ("G4", 3.75, 0.2)]),
        ("another onset on the downbeat", [("A4", 3.5, 0.5), ("F4", 4, 1)]),
        ("another onset within a quarter beat after the change", [("A4", 3.5, 0.5), ("F4", 4.24, 1)]),
    ],
)
def test_no_push(why: str, line: Line) -> None:
    assert placed(CHANGES, line)[0] == ("C7", "onset"), why


def test_a_pitch_class_of_both_chords_is_a_push_only_when_it_sounds_across_the_change() -> None:
    assert placed(CHANGES, [("C5", 3.5, 0.75)]) == [("F7", "pushed")]
    assert placed(CHANGES, [("C5", 3.5, 0.5)]) == [("C7", "onset")], "it ends with the old chord"
    assert placed(CHANGES, [("A4", 3.5, 0.25)]) == [("F7", "pushed")], "a tone of the new chord only need not"


def test_a_charted_push_moves_the_change_itself() -> None:
    assert placed("| C7:3.5 F7:0.5 | F7 |", [("A4", 3.5, 0.5), ("C5", 4, 1)]) == [("F7", "onset"), ("F7", "onset")]


def test_a_note_held_over_a_change_is_graded_once_in_the_chord_of_its_onset() -> None:
    [held] = grade(CHANGES, [("B♭4", 2, 4)])
    assert (held.chord, held.function) == ("C7", "♭7")


def test_pick_ups_are_kept_and_not_graded() -> None:
    [pick_up] = grade(CHANGES, [("E4", -1, 0.5)])
    assert (pick_up.chorus, pick_up.chord, pick_up.grade, pick_up.scored) == (None, None, None, False)
    assert pick_up.why_not == "pick-up"


def test_pick_ups_that_early_hands_or_a_push_claim_are_graded_in_the_first_chord() -> None:
    [early] = grade(CHANGES, [("B4", -0.04, 0.5)])
    [pushed] = grade(CHANGES, [("E4", -0.5, 1)])
    assert (early.chord, early.function, early.early, early.scored) == ("C7", "7", True, True)
    assert (pushed.chord, pushed.function, pushed.pushed, pushed.scored) == ("C7", "3", True, True)
    assert (pushed.chorus, pushed.bar, pushed.beat) == (1, 0, 4.5)
    followed = grade(CHANGES, [("E4", -0.5, 0.5), ("G4", 0, 1)])[0]
    assert followed.why_not == "pick-up", "the downbeat is struck, so it is no push"


def test_notes_over_the_closing_chord_are_graded_and_notes_after_it_are_not() -> None:
    # Two bars of C7 follow the last chorus: beats 8 to 16.
    closing, after = grade(CHANGES, [("E4", 10, 1), ("E4", 17, 1)])
    assert (closing.chord, closing.function, closing.chorus, closing.bar) == ("C7", "3", 1, 3)
    assert (after.chord, after.grade, after.scored, after.why_not) == (None, None, False, "after the end")


def test_notes_over_no_chord_are_kept_and_not_graded() -> None:
    over_none, claimed_by_none, early = grade("| C7 | N.C. | F7 |", [("E4", 5, 1), ("B4", 3.96, 0.5), ("A4", 7.96, 1)])
    assert (over_none.chord, over_none.grade, over_none.why_not) == ("N.C.", None, "no chord")
    assert claimed_by_none.chord == "C7", "there is no chord to be early for"
    assert (early.chord, early.function, early.early) == ("F7", "3", True)
