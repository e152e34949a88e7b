"""The grade of a note: notes in, grades out. Every expected side is worked out by hand from the rule that the test
names, over chords whose tones are common practice: C7 = C E G B♭, F7 = F A C E♭. At 60 bpm a beat is a second."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lines import RATE, Line, finals, grade, grade_events, heard, notes, tell, timeline
from listener.events import Final, Note, Opened, Watermark, Withdrawn
from listener.graded import (
    ChorusFinal,
    Explained,
    Grade,
    Graded,
    GradeFinal,
    GradeOpened,
    GradeRevised,
    GradeWithdrawn,
    Shade,
)
from listener.grading import Grader
from listener.rules import Rules


def first(changes: str, line: Line, **how: object) -> Graded:
    """The grade of the first note of a line."""
    return grade(changes, line, **how)[0]


def told_events(changes: str, line: Line, **time: object) -> list[object]:
    over = timeline(changes, **time)
    return list(grade_events(heard(line, over), over))


# --- from sound to notes


def test_each_note_of_a_double_stop_is_graded_in_its_own_voice() -> None:
    # ♭3 under 5: the ♭3 rises in its voice, and the 5 that is struck with it does not stand between.
    line = [("E♭4", 0, 1), ("G4", 0.02, 1, {"voice": 1}), ("E4", 1, 1), ("G4", 1, 1, {"voice": 1})]
    flat_third, fifth, third, _ = grade("| C7 |", line)
    assert (flat_third.grade, flat_third.resolved) == (Grade.THIRD_APPROACH, True)
    assert (fifth.function, third.function) == ("5", "3")
    crossed = [("E♭4", 0, 1), ("E4", 1, 1, {"voice": 1})]
    assert first("| C7 |", crossed).resolved is False, "the 3 sounds in another voice"


def test_notes_that_start_within_25_ms_are_a_double_stop_and_not_a_step() -> None:
    assert first("| C7 |", [("E♭4", 0, 1), ("E4", 0.025, 1)]).resolved is False
    assert first("| C7 |", [("E♭4", 0, 0.03), ("E4", 0.03, 1)]).resolved is True
    hammered = {"gesture": "slurred", "slurred_from": 1}
    assert first("| C7 |", [("E♭4", 0, 0.02), ("E4", 0.02, 1, hammered)]).resolved is True, "a slur is no double stop"


def test_a_dead_note_has_no_grade() -> None:
    dead = first("| C7 |", [(None, 1, 0.1)])
    assert (dead.grade, dead.function, dead.scored, dead.why_not) == (None, None, False, "dead note")
    assert (dead.chord, dead.bar, dead.beat) == ("C7", 1, 2.0)


@pytest.mark.parametrize(
    ("field", "why_not"),
    [({"confidence": 0.34}, "ghost"), ({"unsure": True}, "unsure"), ({"touches_gap": True}, "lost input")],
)
def test_a_ghost_an_unsure_note_and_one_that_touches_a_gap_are_shown_and_not_scored(
    field: dict[str, object], why_not: str
) -> None:
    shown = first("| C7 |", [("E4", 0, 1, field)])
    assert (shown.function, shown.grade) == ("3", Grade.CHORD_TONE)
    assert (shown.scored, shown.why_not) == (False, why_not)


def test_a_note_more_than_18_db_under_the_median_of_the_last_eight_is_a_ghost() -> None:
    # Nine notes: the oldest, at -40 dB, has left the window of eight, whose median is -20 dB.
    levels = [-40.0, -26.0, -20.0, -20.0, -20.0, -20.0, -20.0, -14.0, -14.0]
    before = [("E4", i / 2, 0.4, {"level_db": level}) for i, level in enumerate(levels)]
    for level, scored in [(-38.0, True), (-38.1, False)]:
        assert grade("| C7 | % |", [*before, ("G4", 5, 1, {"level_db": level})])[-1].scored is scored


def test_a_late_slur_is_no_ghost_however_far_its_string_has_decayed() -> None:
    # a ♭3 that has rung for two beats and is then bent into the 3: the arrival has no attack whose level could be told
    loud = [("C4", i / 4, 0.2, {"level_db": -10.0}) for i in range(8)]
    bent = ("E4", 4, 1, {"level_db": -40.0, "slurred_from": 9, "gesture": "bend"})
    told = grade("| C7 | % |", [*loud, ("E♭4", 2, 2, {"level_db": -10.0}), bent])
    assert told[-1].scored
    assert told[-2].resolved


def test_ghosts_and_unsure_notes_resolve_nothing_and_do_not_stand_between() -> None:
    for field in ({"confidence": 0.1}, {"unsure": True}):
        assert first("| C7 |", [("E♭4", 0, 1), ("E4", 1, 1, field)]).resolved is False
        assert first("| C7 |", [("E♭4", 0, 1), ("A4", 1, 0.5, field), ("E4", 1.5, 1)]).resolved is True


# --- chord tones


@pytest.mark.parametrize(
    ("chord", "pitch", "function", "name"),
    [
        ("C7", "C4", "R", "C"),
        ("C7", "B♭4", "♭7", "B♭"),
        ("A7", "C♯4", "3", "C♯"),
        ("Cm7", "E♭4", "♭3", "E♭"),
        ("Cm7♭5", "G♭4", "♭5", "G♭"),
        ("C7♯5", "G♯4", "♯5", "G♯"),
        ("C6", "A4", "6", "A"),
        ("Cmaj7", "B4", "7", "B"),
        ("C°7", "A4", "°7", "B𝄫"),
        ("C9", "D4", "9", "D"),
        ("C7♯9", "E♭4", "♯9", "D♯"),
        ("C7sus4", "F4", "4", "F"),
        ("C7/D", "D3", "9", "D"),
    ],
)
def test_a_chord_tone_carries_its_function_as_spelled_in_the_symbol(
    chord: str, pitch: str, function: str, name: str
) -> None:
    tone = first(f"| {chord} |", [(pitch, 1, 1)])
    assert (tone.grade, tone.function, tone.name, tone.explained) == (Grade.CHORD_TONE, function, name, None)


@pytest.mark.parametrize(
    ("pitch", "function", "low"),
    [
        ("E♭4-51", "9", False),
        ("E♭4-50", "♭3", False),
        ("E♭4+49", "♭3", False),
        ("E♭4+50", "3", True),
        ("E4-26", "3", True),
        ("E4-25", "3", False),
        ("E4+49", "3", False),
        ("E4+50", "4", False),
    ],
)
def test_the_third_begins_at_350_cents_and_is_low_below_375(pitch: str, function: str, low: bool) -> None:
    # E♭ is 300 cents over C, E is 400.
    heard_note = first("| C7 |", [(pitch, 1, 1)])
    assert (heard_note.function, heard_note.low_third) == (function, low)


def test_a_low_third_is_told_only_where_there_is_a_major_third() -> None:
    assert first("| Cm7 |", [("E4-40", 1, 1)]).low_third is False
    assert first("| C7sus4 |", [("E4-40", 1, 1)]).low_third is False


# --- outside, the first explanation that fits


@pytest.mark.parametrize(
    ("explained", "line"),
    [
        (Explained.ENCLOSURE, [("F4", 0, 0.5), ("D♯4", 0.5, 0.5), ("E4", 1, 1)]),  # whole tone and semitone around 3
        (Explained.ENCLOSURE, [("A4", 0, 0.5), ("F4", 0.5, 0.5), ("G4", 1.5, 1)]),  # whole tones, a beat and a half
        (Explained.SCALE_TONE, [("A4", 0, 0.5), ("F4", 0.5, 0.5), ("G4", 1.51, 1)]),  # longer than that
        (Explained.SCALE_TONE, [("A4", 0, 0.5), ("G♯4", 0.5, 0.5), ("G4", 1, 1)]),  # both from above
        (Explained.CHROMATIC_APPROACH, [("F♯4", 0, 0.5), ("G4", 1.5, 1)]),  # within a beat after its end
        (Explained.PLAIN, [("F♯4", 0, 0.5), ("G4", 1.51, 1)]),  # later than that
        (Explained.CHROMATIC_APPROACH, [("F4", 0, 1), ("E4", 1, 1)]),  # a scale tone, but this fits first
        (Explained.SCALE_TONE, [("F4", 0, 1), ("G4", 1, 1)]),
        (Explained.SCALE_TONE, [("D4", 0, 1), ("G4", 1, 1)]),
        (Explained.PLAIN, [("F♯4", 0, 1), ("C4", 1, 1)]),
    ],
)
def test_an_outside_note_carries_what_it_was(explained: Explained, line: Line) -> None:
    outside = first("| C7 |", line)
    assert (outside.grade, outside.explained) == (Grade.OUTSIDE, explained)


def test_the_second_note_of_an_enclosure_is_one_too() -> None:
    _, second, third = grade("| C7 |", [("F4", 0, 0.5), ("D4", 0.5, 0.5), ("E4", 1, 1)])
    assert second.explained is Explained.ENCLOSURE
    assert third.grade is Grade.CHORD_TONE


def test_passing_is_stepwise_on_between_two_graded_notes() -> None:
    # F to A by F♯ and G♯ in C7: G♯ is in no scale, and A, a whole tone or semitone on, is no chord tone.
    run = [("F♯4", 0, 0.5), ("G♯4", 0.5, 0.5), ("A4", 1, 0.5)]
    assert grade("| C7 |", run)[1].explained is Explained.PASSING
    turning = [("F♯4", 0, 0.5), ("G♯4", 0.5, 0.5), ("F♯4", 1, 0.5)]
    assert grade("| C7 |", turning)[1].explained is Explained.PLAIN, "it turns back"
    leaping = [("F4", 0, 0.5), ("G♯4", 0.5, 0.5), ("A4", 1, 0.5)]
    assert grade("| C7 |", leaping)[1].explained is Explained.PLAIN, "it is reached by a leap"
    from_pick_up = [("F♯4", -1, 0.5), ("G♯4", 0, 0.5), ("A4", 0.5, 0.5)]
    assert grade("| C7 |", from_pick_up)[1].explained is Explained.PLAIN, "a pick-up is not graded"


def test_an_approach_may_lead_into_the_next_chord() -> None:
    # G♯ is in neither chord; A is the 3 of F7 and no tone of C7.
    assert first("| C7 | F7 |", [("G♯4", 3.5, 0.5), ("A4", 4, 1)]).explained is Explained.CHROMATIC_APPROACH
    assert first("| C7 | C7 |", [("G♯4", 3.5, 0.5), ("A4", 4, 1)]).explained is Explained.PLAIN


def test_an_approach_to_a_pushed_note_waits_for_the_push_to_be_known() -> None:
    # A at beat 3.5 stands for the downbeat of F7 at 4, which is known a quarter beat later, at 4.25. G♯ ends at 3.
    over = timeline("| C7 | F7 |")
    line = [("G♯4", 2.9, 0.1), ("A4", 3.5, 1)]
    assert finals(grade_events(heard(line, over), over))[0].explained is Explained.CHROMATIC_APPROACH
    struck_again = [*line, ("A4", 4.1, 1)]
    assert finals(grade_events(heard(struck_again, over), over))[0].explained is Explained.PLAIN


@pytest.mark.parametrize(
    ("chord", "pitch", "shade"),
    [
        ("C7", "D4", Shade.COLOUR),
        ("C7", "A4", Shade.COLOUR),
        ("C", "A4", Shade.COLOUR),
        ("Cm7", "F4", Shade.COLOUR),  # 11 over minor
        ("C7", "F4", Shade.OUTSIDE),  # 4 over dominant
        ("C7", "D♭4", Shade.OUTSIDE),
    ],
)
def test_the_third_grade_is_split_by_colour(chord: str, pitch: str, shade: Shade) -> None:
    alone = first(f"| {chord} |", [(pitch, 1, 1)])
    assert (alone.grade, alone.shade) == (Grade.OUTSIDE, shade)


def test_approach_enclosure_and_passing_are_on_the_way_and_colour_stays_colour() -> None:
    assert first("| C7 |", [("F♯4", 0, 1), ("G4", 1, 1)]).shade is Shade.ON_THE_WAY
    assert first("| C7 |", [("F4", 0, 0.5), ("D♯4", 0.5, 0.5), ("E4", 1, 1)]).shade is Shade.ON_THE_WAY
    assert first("| C7 |", [("D4", 0, 0.5), ("F4", 0.5, 0.5), ("E4", 1, 1)]).shade is Shade.COLOUR
    assert first("| C7 |", [("G4", 0, 1)]).shade is None, "only the third grade is split"


def test_a_setting_counts_colour_as_chord_tones() -> None:
    counted = first("| C7 |", [("D4", 1, 1)], rules=Rules(colour_is_chord_tone=True))
    assert (counted.grade, counted.function, counted.shade) == (Grade.CHORD_TONE, "9", None)
    kept_out = first("| C7 |", [("F4", 1, 1)], rules=Rules(colour_is_chord_tone=True))
    assert kept_out.grade is Grade.OUTSIDE


@pytest.mark.parametrize("chord", ["C5", "C7sus4"])
def test_without_a_third_in_the_chord_both_thirds_are_outside_and_named(chord: str) -> None:
    flat, major = grade(f"| {chord} |", [("E♭4", 0, 1), ("E4", 1, 1)])
    assert (flat.grade, flat.function, flat.resolved, flat.third) == (Grade.OUTSIDE, "♭3", None, None)
    assert (major.grade, major.function) == (Grade.OUTSIDE, "3")


def test_the_blue_third_of_the_key_is_told_over_every_chord() -> None:
    over_four, over_one, sixth = grade("| F7 | C7 |", [("E♭4", 1, 1), ("E♭4", 5, 1), ("D4", 7, 0.2)])
    assert (over_four.function, over_four.key_degree) == ("♭7", "♭3")
    assert (over_one.function, over_one.key_degree) == ("♭3", "♭3")
    assert sixth.key_degree is None
    assert first("key: C minor\n| Cm7 |", [("E♭4", 1, 1)]).key_degree is None, "it is the plain third there"


# --- open and final


def told(changes: str, line: Line, **time: object) -> dict[int, float]:
    """The beat at which each grade became final, the watermark going on by a hundredth of a beat."""
    over = timeline(changes, **time)
    played = notes(line, over)
    end = round(over.time_map.sample_at(over.end_beat))
    waiting = [e for e in tell(played) if not isinstance(e, Watermark)]
    grader, out = Grader(over, Rules(), RATE), []
    for now in range(0, end, RATE // 100):
        due = [e for e in waiting if e.told_sample <= now]
        waiting = waiting[len(due) :]
        sounding = [n.onset_sample for n in played if n.onset_sample <= now < (n.offset_sample or 0)]
        out += grader.push([*due, Watermark(min([now, *sounding]))], now)
    return {e.id: e.told_sample / over.time_map.sample_at(1) for e in out if isinstance(e, GradeFinal)}


@pytest.mark.parametrize(
    ("why", "line", "beat"),
    [
        ("one beat after its offset", [("G4", 1, 0.5)], 2.5),
        ("a quarter beat after a change that may claim the next note", [("G♯4", 2.9, 0.1), ("A4", 3.5, 0.6)], 4.25),
        ("a change that can claim neither is not waited for", [("G♯4", 2.2, 0.1), ("A4", 3, 0.2)], 3.3),
        ("a repeated ♭3: one beat after the last sounding", [("E♭4", 0, 0.5), ("E♭4", 1, 0.5), ("E♭4", 2, 0.5)], 3.5),
        ("a dead note has no grade to wait for", [(None, 1, 0.1)], 1.1),
        ("early hands of an old tone: the first beat of the new chord", [("E4", 3.95, 0.01)], 5.0),
    ],
)
def test_a_grade_is_final_at_its_deadline_and_not_before(why: str, line: Line, beat: float) -> None:
    assert told("| C7 | F7 |", line)[1] == pytest.approx(beat, abs=0.0101), why
    assert told("| C7 | F7 |", line)[1] >= beat - 1e-9, why


def test_a_grade_is_shown_at_once_changes_in_place_and_is_final_once() -> None:
    over = timeline("| C7 |")
    out = grade_events(heard([("E♭4", 0, 1), ("E4", 1, 1)], over), over)
    of_flat_third = [e for e in out if not isinstance(e, ChorusFinal) and e.id == 1]
    assert isinstance(of_flat_third[0], GradeOpened)
    assert of_flat_third[0].told_sample == 0
    assert of_flat_third[0].graded.function == "♭3"
    rise = [e for e in of_flat_third if isinstance(e, GradeRevised) and e.graded.resolved]
    assert [e.told_sample for e in rise] == [RATE], "the approach is told as soon as the 3 sounds"
    assert isinstance(of_flat_third[-1], GradeFinal)
    assert sum(isinstance(e, GradeFinal) for e in of_flat_third) == 1


def test_what_comes_after_the_deadline_explains_nothing_however_late_the_watermark() -> None:
    # F and D stand around E within 1.4 beats, but F, that ends at 0.2, is final at 1.2; D, that ends at 1, is open.
    over = timeline("| C7 |")
    line = [("F4", 0, 0.2), ("D4", 0.8, 0.2), ("E4", 1.4, 1)]
    at_the_end_only = [e for e in heard(line, over) if not isinstance(e, Watermark)]
    for events in (heard(line, over), at_the_end_only):
        early, late, _ = finals(grade_events(events, over))
        assert (early.explained, late.explained) == (Explained.SCALE_TONE, Explained.ENCLOSURE)


def test_a_growing_contour_is_no_news() -> None:
    over = timeline("| C7 |")
    sounding = Note(1, 0, None, 64.0)
    growing = [Opened(1, replace(sounding, contour=tuple((s, 64.0) for s in range(n))), n) for n in range(1, 20)]
    assert len(Grader(over, Rules(), RATE).push(growing, 20)) == 1


def test_a_withdrawn_note_is_withdrawn_and_explains_nothing_any_more() -> None:
    over = timeline("| C7 |")
    grader = Grader(over, Rules(), RATE)
    flat_third, third = notes([("E♭4", 0, 0.9), ("E4", 1, 1)], over)
    grader.push([Opened(1, flat_third, RATE), Opened(2, third, RATE)], RATE)
    out = grader.push([Withdrawn(2, RATE + 10)], RATE + 10)
    assert out[0] == GradeWithdrawn(2, RATE + 10)
    assert isinstance(out[1], GradeRevised)
    assert out[1].graded.grade is Grade.OUTSIDE
    ended = grader.finish(2 * RATE)
    assert [e.id for e in ended if isinstance(e, GradeFinal)] == [1]


def test_an_ear_that_breaks_its_word_is_refused() -> None:
    over = timeline("| C7 |")
    grader = Grader(over, Rules(), RATE)
    [note] = notes([("E4", 0, 1)], over)
    grader.push([Opened(1, note, RATE), Final(1, RATE), Watermark(3 * RATE)], 3 * RATE)
    with pytest.raises(ValueError, match="note 1 changed after its grade was final"):
        grader.push([Withdrawn(1, 3 * RATE)], 3 * RATE)
    with pytest.raises(ValueError, match="before the watermark 144000"):
        grader.push([Opened(2, replace(note, id=2), 3 * RATE)], 3 * RATE)


def test_finish_makes_final_what_is_known_and_ends_what_sounds() -> None:
    grader = Grader(timeline("| C7 | % |"), Rules(), RATE)
    grader.push([Opened(1, Note(1, 0, None, 64.0), 100)], 100)
    [ended] = grader.finish(RATE)
    assert isinstance(ended, GradeFinal)
    assert (ended.graded.note.offset_sample, ended.graded.function, ended.told_sample) == (RATE, "3", RATE)


def test_a_chorus_is_final_when_its_last_note_is_though_it_resolves_in_the_next() -> None:
    # Chorus 1 ends at beat 4; the ♭3 of its last eighth ends there and is open until beat 5.
    out = told_events("| C7 |", [("E♭4", 3.4, 0.6), ("E4", 4.5, 1)], choruses=2)
    made_final = [type(e).__name__ for e in out if isinstance(e, GradeFinal | ChorusFinal)]
    assert made_final[:2] == ["GradeFinal", "ChorusFinal"]
    resolved = next(e.graded for e in out if isinstance(e, GradeFinal))
    assert (resolved.chorus, resolved.resolved, resolved.third) == (1, True, True)
    assert [e.chorus for e in out if isinstance(e, ChorusFinal)] == [1, 2]


def test_a_chorus_without_a_note_is_final_when_it_is_over() -> None:
    grader = Grader(timeline("| C7 |", choruses=2), Rules(), RATE)
    assert grader.push([Watermark(4 * RATE - 1)], 4 * RATE) == []
    assert grader.push([Watermark(4 * RATE)], 4 * RATE) == [ChorusFinal(1, 4 * RATE)]


@pytest.mark.parametrize(("left_at_beat", "over"), [(3.9, []), (4.1, [1])])
def test_a_chorus_left_inside_its_last_bar_is_over_and_one_left_before_is_not(
    left_at_beat: float, over: list[int]
) -> None:
    grader = Grader(timeline("| C7 | F7 |"), Rules(), RATE)
    out = grader.finish(round(left_at_beat * RATE))
    assert [e.chorus for e in out if isinstance(e, ChorusFinal)] == over
