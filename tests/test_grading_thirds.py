"""The third approach, ♭3→3, and where a ♭3 goes otherwise. Over C7 the ♭3 is E♭ (300 cents), the 3 is E (400).

Every expected side is worked out by hand from the rule that the test names; at 60 bpm a beat is a second.
"""

from __future__ import annotations

import pytest

from lines import RATE, Line, grade, midi
from listener.graded import Explained, Grade, Graded, Shade

BEND_FROM_FLAT_THIRD = {"gesture": "bend", "from_midi": "E♭4"}


def first(changes: str, line: Line, **how: object) -> Graded:
    return grade(changes, line, **how)[0]


def thirds(changes: str, line: Line) -> list[bool | None]:
    """What each note adds to thirds played: resolved True or False, None where it adds nothing."""
    return [g.third for g in grade(changes, line)]


@pytest.mark.parametrize(
    ("how", "second"),
    [
        ("a fretted note", {}),
        ("a hammer", {"gesture": "slurred", "slurred_from": 1}),
        ("a slide", {"gesture": "slide", "slurred_from": 1}),
        ("a bend from a pitch that stood", {"gesture": "bend", "slurred_from": 1}),
    ],
)
def test_a_flat_third_that_rises_to_the_third_is_an_approach(how: str, second: dict[str, object]) -> None:
    approach, third = grade("| C7 |", [("E♭4", 0, 0.5), ("E4", 0.5, 1, second)])
    assert (approach.grade, approach.function) == (Grade.THIRD_APPROACH, "♭3"), how
    assert (approach.resolved, approach.third, approach.explained, approach.shade) == (True, True, None, None)
    assert (third.grade, third.third) == (Grade.CHORD_TONE, None), "it is told once"


@pytest.mark.parametrize(
    ("why", "line"),
    [
        ("on the end of the beat after it", [("E♭4", 0, 1), ("E4", 2, 1)]),
        ("after repeats of the same ♭3", [("E♭4", 0, 1), ("E♭4", 1.5, 1), ("E♭4", 3, 0.5), ("E4", 4.5, 0.3)]),
        ("after one other note within a whole tone of the 3", [("E♭4", 0, 1), ("F♯4", 1, 0.5), ("E4", 1.5, 1)]),
        ("after one other note below", [("E♭4", 0, 1), ("D4", 1, 0.5), ("E4", 1.5, 1)]),
        ("after a repeat and one other", [("E♭4", 0, 1), ("F4", 1, 0.5), ("E♭4", 1.5, 0.5), ("E4", 2, 1)]),
        ("from a blues third of 319 cents, by 50", [("E♭4+19", 0, 1), ("E4-31", 1, 1)]),
        ("by 150 cents, from 260 to 410", [("E♭4-40", 0, 1), ("E4+10", 1, 1)]),
    ],
)
def test_it_resolves(why: str, line: Line) -> None:
    assert first("| C7 | % |", line).grade is Grade.THIRD_APPROACH, why


@pytest.mark.parametrize(
    ("why", "line"),
    [
        ("later than a beat after its end", [("E♭4", 0, 1), ("E4", 2.01, 1)]),
        ("an octave up", [("E♭4", 0, 1), ("E5", 1, 1)]),
        ("an octave down", [("E♭4", 0, 1), ("E3", 1, 1)]),
        ("in another voice", [("E♭4", 0, 1), ("E4", 1, 1, {"voice": 1})]),
        ("after two other notes", [("E♭4", 0, 1), ("F4", 1, 0.25), ("D4", 1.25, 0.25), ("E4", 1.5, 1)]),
        ("after a note farther than a whole tone from the 3", [("E♭4", 0, 1), ("G4", 1, 0.5), ("E4", 1.5, 1)]),
        ("a rise of less than 50 cents", [("E♭4+45", 0, 1), ("E4-10", 1, 1)]),
        ("a rise of more than 150 cents", [("E♭4-45", 0, 1), ("E4+10", 1, 1)]),
        ("a rise that does not arrive at 350", [("E♭4-10", 0, 1), ("E♭4+45", 1, 1)]),
        ("a repeat more than a beat after its end", [("E♭4", 0, 0.5), ("E♭4", 1.6, 1), ("F4", 3, 0.5)]),
    ],
)
def test_it_does_not_resolve(why: str, line: Line) -> None:
    flat_third = first("| C7 | % |", line)
    assert (flat_third.grade, flat_third.resolved) == (Grade.OUTSIDE, False), why


def test_the_third_may_fall_in_the_next_chord_if_that_holds_the_same_pitch_class() -> None:
    line = [("E♭4", 3.25, 0.75), ("E4", 4, 1)]
    assert first("| C7 | Am7 |", line).resolved is True, "E is the 5 of Am7"
    assert first("| C7 | F7 |", line).resolved is False, "F7 = F A C E♭ has no E"
    # Two changes on it is no longer the next chord, though A9 = A C♯ E G B holds the E.
    short = [("E♭4", 2.5, 0.3), ("E4", 3.75, 0.2), ("A4", 4.1, 0.2)]
    assert first("| C7:3 D♭7:0.5 A9:0.5 | D7 |", short).resolved is False


def test_a_flat_third_bent_at_once_into_the_third_is_a_chord_tone_and_a_resolved_third() -> None:
    [bent] = grade("| C7 |", [("E4", 0, 1, BEND_FROM_FLAT_THIRD)])
    assert (bent.grade, bent.function, bent.resolved, bent.third) == (Grade.CHORD_TONE, "3", True, True)
    from_elsewhere = {"gesture": "slide", "from_midi": "D4"}
    assert thirds("| C7 |", [("E4", 0, 1, from_elsewhere)]) == [None]
    assert thirds("| C7 |", [("G4", 0, 1, {"gesture": "bend", "from_midi": "E♭4"})]) == [None], "it goes to the 5"
    assert thirds("| Cm7 |", [("E4", 0, 1, BEND_FROM_FLAT_THIRD)]) == [None]


def test_a_bend_from_a_flat_third_that_stood_is_told_by_that_note_alone() -> None:
    slurred = {**BEND_FROM_FLAT_THIRD, "slurred_from": 1}
    assert thirds("| C7 |", [("E♭4", 0, 0.5), ("E4", 0.5, 1, slurred)]) == [True, None]


def _contour(*pitches: float) -> tuple[tuple[int, float], ...]:
    return tuple((i * RATE // 100, pitch) for i, pitch in enumerate(pitches))


@pytest.mark.parametrize(
    ("why", "pitch", "fields", "resolved"),
    [
        ("300 + 60 = 360", "E♭4", {"rise_cents": 60.0, "gesture": "curl"}, True),
        ("319 + 31 = 350", "E♭4+19", {"rise_cents": 31.0, "gesture": "curl"}, True),
        ("319 + 30 = 349", "E♭4+19", {"rise_cents": 30.0, "gesture": "curl"}, False),
        ("less than 25 is no curl", "E♭4+40", {"rise_cents": 24.0}, False),
        ("vibrato is no curl", "E♭4+30", {"rise_cents": 60.0, "gesture": "vibrato"}, False),
    ],
)
def test_a_curl_resolves_when_it_arrives_at_the_third(
    why: str, pitch: str, fields: dict[str, object], resolved: bool
) -> None:
    curled = first("| C7 |", [(pitch, 0, 1, fields)])
    assert (curled.resolved, curled.third) == (resolved, resolved), why
    assert curled.grade is (Grade.THIRD_APPROACH if resolved else Grade.OUTSIDE)


def test_a_curl_is_measured_from_the_start_of_its_contour() -> None:
    low, high = midi("E♭4"), midi("E♭4+60")
    curl = {"gesture": "curl", "rise_cents": 60.0, "contour": _contour(*[low] * 4, *[high] * 5)}
    [settled_low] = grade("| C7 |", [("E♭4+30", 0, 1, curl)])
    assert (settled_low.grade, settled_low.resolved) == (Grade.THIRD_APPROACH, True)
    # Where the rise comes early the note settles on the 3: a chord tone, and a ♭3 that rose all the same.
    [settled_high] = grade("| C7 |", [("E♭4+60", 0, 1, curl)])
    assert (settled_high.grade, settled_high.low_third, settled_high.third) == (Grade.CHORD_TONE, True, True)


def test_repeats_add_one_to_thirds_played_whether_resolved_or_not() -> None:
    assert thirds("| C7 |", [("E♭4", 0, 0.5), ("E♭4", 0.5, 0.5), ("E4", 1, 1)]) == [None, True, None]
    assert thirds("| C7 |", [("E♭4", 0, 0.5), ("E♭4", 0.5, 0.5), ("C4", 1, 1)]) == [None, False, None]
    into_a_bend = [("E♭4", 0, 0.5), ("E4", 0.5, 1, BEND_FROM_FLAT_THIRD)]
    assert thirds("| C7 |", into_a_bend) == [None, True]
    into_a_curl = [("E♭4", 0, 0.5), ("E♭4", 0.5, 1, {"gesture": "curl", "rise_cents": 60.0})]
    assert thirds("| C7 |", into_a_curl) == [None, True]
    assert all(g.resolved for g in grade("| C7 |", into_a_curl))


def test_over_a_sharp_nine_chord_the_flat_third_is_a_chord_tone_that_may_still_rise() -> None:
    rising = first("| C7♯9 |", [("E♭4", 0, 1), ("E4", 1, 1)])
    assert (rising.grade, rising.function, rising.resolved, rising.third) == (Grade.CHORD_TONE, "♯9", True, True)
    staying = first("| C7♯9 |", [("E♭4", 0, 1), ("C4", 1, 1)])
    assert (staying.grade, staying.resolved, staying.third, staying.left) == (Grade.CHORD_TONE, None, None, None)


def test_over_a_minor_chord_there_is_no_approach() -> None:
    minor = first("| Cm7 |", [("E♭4", 0, 1), ("E4", 1, 1)])
    assert (minor.grade, minor.function, minor.resolved, minor.third) == (Grade.CHORD_TONE, "♭3", None, None)


@pytest.mark.parametrize(
    ("left", "shade", "line"),
    [
        ("R", Shade.OUTSIDE, [("E♭4", 0, 1), ("C4", 1, 1)]),
        ("9", Shade.ON_THE_WAY, [("E♭4", 0, 1), ("D4", 1, 1)]),
        ("4", Shade.ON_THE_WAY, [("E♭4", 0, 1), ("F4", 1, 1)]),
        ("stays", Shade.OUTSIDE, [("E♭4", 0, 1)]),
        ("stays", Shade.OUTSIDE, [("E♭4", 0, 1), ("C4", 2.1, 1)]),
        ("R", Shade.OUTSIDE, [("E♭4", 0, 0.5), ("E♭4", 1, 0.5), ("C4", 2, 1)]),
    ],
)
def test_a_flat_third_that_does_not_rise_tells_where_it_went(left: str, shade: Shade, line: Line) -> None:
    gone = first("| C7 |", line)
    assert (gone.grade, gone.explained, gone.left, gone.shade) == (
        Grade.OUTSIDE,
        Explained.FLAT_THIRD_LEFT,
        left,
        shade,
    )


@pytest.mark.parametrize(
    ("explained", "line"),
    [
        (Explained.PLAIN, [("E♭4", 0, 1), ("G4", 1, 1)]),
        (Explained.PLAIN, [("E♭4", 0, 1), ("C5", 1, 1)]),  # up to R is no fall
        # By whole tones from the 4 down to D♭, which is none of R, 9 and 4.
        (Explained.PASSING, [("F4", 0, 1), ("E♭4", 1, 0.5), ("D♭4", 1.5, 1)]),
    ],
)
def test_a_flat_third_that_leaps_is_explained_as_any_outside_note(explained: Explained, line: Line) -> None:
    index = [pitch for pitch, *_ in line].index("E♭4")
    leaping = grade("| C7 |", line)[index]
    assert (leaping.explained, leaping.left, leaping.third) == (explained, None, False)
