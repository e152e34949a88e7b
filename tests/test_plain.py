"""Plain lines: what is told, in which order, and in which signs."""

from dataclasses import replace

from listener.events import Gesture, Note
from listener.graded import Explained, Grade, Graded, GradeFinal, GradeOpened, Shade
from listener.plain import PlainLines, note_line
from progressions.chart import parse_chart
from progressions.timeline import Timeline, TimeMap

RATE = 1000  # at 60 bpm a beat is 1000 samples
CHART = """key: A
meter: 4/4
| A7 | % | D7 E7 |
"""


def timeline(choruses: int = 2) -> Timeline:
    return Timeline(parse_chart(CHART), choruses, TimeMap.steady(RATE, 60.0), closing_bars=2)


THIRD = Graded(
    note=Note(1, 1500, 2000, 61.0),
    chorus=1,
    bar=1,
    beat=2.5,
    span=0,
    chord="A7",
    function="3",
    name="C♯",
    grade=Grade.CHORD_TONE,
)
FLAT_THIRD = replace(THIRD, function="♭3", name="C", grade=Grade.THIRD_APPROACH, resolved=True, third=True)


def test_a_note_is_told_by_place_name_function_and_grade() -> None:
    assert note_line(THIRD) == "bar 1 beat 2.5  C♯  3 of A7  chord tone"


def test_third_approach_carries_its_arrow_and_that_it_resolved() -> None:
    line = note_line(FLAT_THIRD)
    assert line == "bar 1 beat 2.5  C  ♭3 of A7  third approach ↑  ♭3→3"


def test_outside_notes_are_told_in_three_shades_with_their_explanation() -> None:
    on_the_way = replace(
        THIRD,
        function="♯4",
        name="D♯",
        grade=Grade.OUTSIDE,
        shade=Shade.ON_THE_WAY,
        explained=Explained.CHROMATIC_APPROACH,
    )
    assert note_line(on_the_way).endswith("♯4 of A7  on the way  chromatic approach")
    colour = replace(
        THIRD, function="13", name="F♯", grade=Grade.OUTSIDE, shade=Shade.COLOUR, explained=Explained.SCALE_TONE
    )
    assert note_line(colour).endswith("13 of A7  colour  scale tone")


def test_marks_are_words() -> None:
    line = note_line(replace(THIRD, pushed=True, key_degree="♭3", scored=False, why_not="ghost"))
    assert line.endswith("chord tone  pushed  blue third of the key  not scored: ghost")


def test_dead_notes_and_pick_ups_have_a_line_of_their_own() -> None:
    dead = replace(THIRD, note=Note(1, 0, 10, None, Gesture.DEAD), function=None, name=None, grade=None)
    assert note_line(dead) == "bar 1 beat 2.5  dead note"
    pick_up = replace(THIRD, chorus=None, bar=None, beat=None, chord=None, function=None, name=None, grade=None)
    assert note_line(pick_up) == "before the first bar  C♯4  not graded"  # MIDI 61 is C♯4, where C4 is 60


def test_a_beat_is_never_rounded_up_to_the_next() -> None:
    assert note_line(replace(THIRD, beat=4.9999)).startswith("bar 1 beat 4.99  ")
    assert note_line(replace(THIRD, beat=3.0)).startswith("bar 1 beat 3  ")


def test_chords_come_once_and_again_with_each_chorus() -> None:
    lines = PlainLines(timeline()).push([], 40 * RATE)
    assert lines == [
        "chorus 1 bar 1  A7  I",
        "chorus 1 bar 3  D7  IV",
        "chorus 1 bar 3 beat 3  E7  V",
        "chorus 2 bar 1  A7  I",
        "chorus 2 bar 3  D7  IV",
        "chorus 2 bar 3 beat 3  E7  V",
        "chorus 2 bar 4  A7  I  closing chord",
    ]


def test_no_chord_is_told_before_it_sounds() -> None:
    plain = PlainLines(timeline())
    assert plain.push([], -1) == []
    assert plain.push([], 0) == ["chorus 1 bar 1  A7  I"]
    assert plain.push([], 8 * RATE - 1) == []
    assert plain.push([], 8 * RATE) == ["chorus 1 bar 3  D7  IV"]


def test_only_final_grades_are_told_and_lines_keep_the_order_of_the_stream() -> None:
    plain = PlainLines(timeline())
    events = [GradeOpened(1, THIRD, 1600), GradeFinal(1, THIRD, 3000)]
    assert plain.push(events, 9 * RATE) == [
        "chorus 1 bar 1  A7  I",
        "bar 1 beat 2.5  C♯  3 of A7  chord tone",
        "chorus 1 bar 3  D7  IV",
    ]


def test_lines_are_the_same_however_the_stream_is_cut() -> None:
    events = [GradeFinal(1, THIRD, 3000), GradeFinal(2, replace(THIRD, bar=2), 8500)]
    whole = PlainLines(timeline()).push(events, 12 * RATE)
    cut = PlainLines(timeline())
    pieces = [
        cut.push([e for e in events if at - 500 < e.told_sample <= at], at) for at in range(0, 12 * RATE + 1, 500)
    ]
    assert [line for piece in pieces for line in piece] == whole


def test_ascii_lines_where_the_output_has_no_more() -> None:
    plain = PlainLines(timeline(), ascii_only=True)
    assert plain.push([GradeFinal(1, FLAT_THIRD, 10)], 10)[1] == "bar 1 beat 2.5  C  b3 of A7  third approach ^  b3->3"
    report = plain.report(("Chorus 1   fit +0.14", "♭3→3  4 of 6"))
    assert report == ["", "Chorus 1   fit +0.14", "  b3->3  4 of 6", ""]
