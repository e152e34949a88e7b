"""Exercises over changes, judged by the rules of the line: by the grader, and by a reading of the notes of its own."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import cycle, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lines import finals, grade_events, tell, timeline
from listener.cli import main
from listener.errors import Exit
from listener.events import Note
from listener.graded import ChorusMeasures, Verdict
from listener.measures import measure_chorus
from listener.rules import Rules
from progressions.chords import parse_chord
from progressions.errors import ProgressionsError
from progressions.forms import form_key, form_names, load_form
from progressions.keys import parse_key
from progressions.lines import EXERCISES, RHYTHMS, Line, Wish, make_line
from progressions.neck import FORM_NAMES, TUNINGS, Fretboard, parse_tuning, zone_at
from progressions.timeline import Timeline, TimeMap

STANDARD = Fretboard()
BLUES = load_form("blues", parse_key("A"))
law = settings(deadline=None, max_examples=40)

SYMBOLS = "C7 F7 G7 Am7 Dm7♭5 B°7 E♭maj7 A7♯9 D♭9 F♯m7♭5 G7alt Cm6 E7sus4 B♭13 Gm11 A♭+ D5 C/E F♯7(♭9) N.C."
symbols = st.sampled_from(SYMBOLS.split(" "))
cells = st.one_of(
    symbols,
    st.lists(symbols, min_size=2, max_size=4).map(" ".join),
    st.tuples(symbols, symbols).map(lambda two: f"{two[0]}:5/2 {two[1]}:3/2"),
    st.tuples(symbols, symbols).map(lambda two: f"<{two[0]} <{two[1]}"),  # pushed by an eighth
)
charts = st.builds(
    lambda swing, bars, waltz: f"key: C\nswing: {swing}\n| C7 | {' | '.join(bars)} | [3/4] {waltz} |",
    st.sampled_from(["1", "2:1"]),
    st.lists(cells, min_size=1, max_size=6),
    symbols,
)
wishes = st.builds(
    Wish,
    zone=st.sampled_from(FORM_NAMES),
    rhythm=st.sampled_from(sorted(RHYTHMS)),
    direction=st.sampled_from([None, "up", "down"]),
    seed=st.integers(0, 1000),
)


def measured(line: Line, over: Timeline) -> ChorusMeasures:
    """The line as the grader and the measures take it, played exactly."""
    at = over.time_map.sample_at
    played = [
        Note(id, round(at(note.beat)), round(at(note.end_beat)), float(note.midi))
        for id, note in enumerate(line.notes, start=1)
    ]
    graded = finals(grade_events(tell(played), over))
    return measure_chorus(1, graded, over, Rules(), over.time_map.rate_hz)


def steady(name: str) -> Timeline:
    return Timeline(load_form(name, form_key(name)), 1, TimeMap.steady(48000, 120))


@law
@given(charts, wishes)
def test_every_landing_of_the_connection_is_nearest_by_the_grader(changes: str, wish: Wish) -> None:
    over = timeline(changes)
    chorus = measured(make_line("connection", over.chart, STANDARD, wish), over)
    assert chorus.chord_tones == chorus.scored
    for landing in chorus.landings[1:]:  # nothing stands before the first
        assert Verdict.NEAREST in landing.verdicts, landing
        assert (landing.delayed, landing.open, landing.held) == (False, False, None)


@law
@given(charts, wishes)
def test_the_connection_is_unbroken_keeps_its_zone_and_turns_first_at_its_edge(changes: str, wish: Wish) -> None:
    over = timeline(changes)
    line = make_line("connection", over.chart, STANDARD, wish)
    low = zone_at(parse_chord("C7"), STANDARD, str(wish.zone)).lowest_fret
    under_hand = {midi + fret for midi in STANDARD.tuning.midis for fret in range(low, low + 5)}
    assert line.notes[0].beat == 0
    assert {note.fret - low for note in line.notes} <= set(range(5))
    direction = 0
    for before, note in pairwise(line.notes):
        span = over.span_at_beat(note.beat)
        assert span is not None
        rests = [s for s in over.spans if s.chord.is_no_chord and before.end_beat <= s.start_beat < note.beat]
        assert note.beat == before.end_beat + sum(s.end_beat - s.start_beat for s in rests)
        moved = 1 if note.midi > before.midi else -1
        assert note.midi != before.midi  # a common tone is left, not repeated
        tones = [midi for midi in sorted(under_hand) if midi % 12 in span.chord.pitch_classes]
        ahead = [midi for midi in tones if (midi - before.midi) * direction > 0]
        if direction and ahead:
            assert moved == direction  # it turns at the edge and nowhere else
        assert not [midi for midi in tones if before.midi < midi < note.midi or note.midi < midi < before.midi]
        direction = moved


@pytest.mark.parametrize(
    ("name", "zone", "rhythm"), list(zip(form_names(), cycle(FORM_NAMES), cycle(RHYTHMS), strict=False))
)
def test_the_connection_over_the_forms_of_the_library_lands_nearest(name: str, zone: str, rhythm: str) -> None:
    over = steady(name)
    chorus = measured(make_line("connection", over.chart, STANDARD, Wish(zone, rhythm)), over)
    assert len(chorus.landings) > 1
    assert all(Verdict.NEAREST in landing.verdicts for landing in chorus.landings[1:])


@law
@given(st.sampled_from(sorted(TUNINGS)), st.sampled_from(form_names()), st.integers(0, 8), st.integers(0, 99))
def test_in_any_tuning_the_connection_lands_nearest(tuning: str, name: str, fret: int, seed: int) -> None:
    over, board = steady(name), Fretboard(parse_tuning(tuning))
    line = make_line("connection", over.chart, board, Wish(str(fret), seed=seed))
    assert all(fret <= note.fret <= fret + 4 for note in line.notes)
    assert all(Verdict.NEAREST in landing.verdicts for landing in measured(line, over).landings[1:])


@law
@given(charts, wishes, st.sampled_from(sorted(EXERCISES)))
def test_every_note_of_a_line_is_what_its_string_and_fret_sound(changes: str, wish: Wish, exercise: str) -> None:
    chart = timeline(changes).chart
    line = make_line(exercise, chart, STANDARD, wish)
    assert line == make_line(exercise, chart, STANDARD, wish)  # the same seed, the same line
    for note in line.notes:
        assert STANDARD.midi_at(note.string, note.fret) == note.midi
        chord = line.chord_at(note.beat)
        assert chord is not None
        assert note.name.pitch_class == note.midi % 12
        assert note.end_beat <= chord.end_beat
        degree = chord.chord.function_of(note.midi)
        assert degree == note.function or (degree, note.function, chord.chord.third) == (None, "♭3", "major")


def test_another_seed_makes_another_line() -> None:
    for exercise in ("connection", "guide-tones", "degrees", "mixture"):
        assert len({make_line(exercise, BLUES, STANDARD, Wish(seed=seed)).notes for seed in range(12)}) > 1


def test_a_guide_tone_line_lands_on_guide_tones_by_step() -> None:
    # ii–V–I in C: the 7 of Dm7 falls to the 3 of G7, the 7 of G7 to the 3 of C (common practice of voice leading).
    for zone in FORM_NAMES:
        for seed in range(8):
            over = timeline("| Dm7 | G7 | Cmaj7 |")
            chorus = measured(make_line("guide-tones", over.chart, STANDARD, Wish(zone, seed=seed)), over)
            assert all(Verdict.GUIDE_TONE in landing.verdicts for landing in chorus.landings)
            assert all(abs(landing.motion_semitones or 0) <= 2 for landing in chorus.landings[1:])


@law
@given(wishes)
def test_every_blue_third_resolves_by_the_grader(wish: Wish) -> None:
    over = Timeline(BLUES, 1, TimeMap.steady(48000, 120))
    line = make_line("blue-thirds", BLUES, STANDARD, wish)
    form = [note for note in line.notes if note.beat < 48]
    chorus = measured(line, over)
    assert chorus.thirds_played == chorus.thirds_resolved == len(form) // 2
    assert chorus.third_approaches == chorus.chord_tones == len(form) // 2
    # every chord of the form has one or more major thirds under the hand
    assert {int(note.beat) // 4 for note in form} == set(range(12))


def test_arpeggios_from_each_degree_start_from_each_degree() -> None:
    line = make_line("degrees", timeline("| G7 | G7 |").chart, STANDARD, Wish("E"))
    starts = [note.function for note in line.notes if note.beat % 2 == 0 and note.beat < 8]
    assert sorted(starts) == sorted(["R", "3", "5", "♭7"])
    groups = [[n for n in line.notes if at <= n.beat < at + 2] for at in range(0, 8, 2)]
    assert all(len({note.function for note in group}) == 4 for group in groups)


def test_the_arpeggio_drill_string_by_string() -> None:
    # G7, E form, by hand: the shape 3 5 3 4 3 3; from the root at string 6 fret 3 up to the G at string 1 fret 3,
    # down to the root, which is the lowest tone under the hand; the shape again.
    line = make_line("arpeggios", timeline("key: G\n| G7 |").chart, STANDARD, Wish("E"))
    up = [(6, 3), (5, 2), (5, 5), (4, 3), (4, 5), (3, 4), (2, 3), (2, 6), (1, 3)]
    shape = [(6, 3), (5, 5), (4, 3), (3, 4), (2, 3), (1, 3)]
    assert [(n.string, n.fret) for n in line.notes] == [*shape, *up, *up[-2::-1], *shape]
    assert [n.beat for n in line.notes[:6]] == [Fraction(0)] * 6


def test_the_arpeggio_drill_goes_under_its_root_and_back() -> None:
    # G7, A form: the root at string 5 fret 10; under it D at string 6 fret 10 and F at fret 13.
    line = make_line("arpeggios", timeline("key: G\n| G7 |").chart, STANDARD, Wish("A"))
    single = [note for note in line.notes if sum(n.beat == note.beat for n in line.notes) == 1]
    assert [(n.string, n.fret) for n in (single[0], single[-1])] == [(5, 10), (5, 10)]
    lowest = min(range(len(single)), key=lambda at: single[at].midi)
    assert (single[lowest].string, single[lowest].fret) == (6, 10)
    assert [(n.string, n.fret) for n in single[lowest:]] == [(6, 10), (6, 13), (5, 10)]


def test_the_drill_without_a_zone_goes_through_all_five_of_each_chord() -> None:
    line = make_line("arpeggios", load_form("two-five-one", parse_key("C")), STANDARD)
    assert [(mark.chord.symbol, mark.zone) for mark in line.chords[:5]] == [
        ("Dm7", f"{form} form")
        for form in ("D", "C", "A", "G", "E")  # from the nut up
    ]
    assert len(line.chords) == 15


def test_a_guide_tone_line_takes_the_other_guide_tone_where_a_chord_goes_on() -> None:
    line = make_line("guide-tones", timeline("| G7 | G7 | G7 |").chart, STANDARD)
    assert {(a.function, b.function) for a, b in pairwise(line.notes)} == {("3", "♭7"), ("♭7", "3")}


def test_a_line_never_crosses_a_gap_of_the_tuning() -> None:
    # Drop D at fret 4: B2, the 3 of G, lies on no string, so the line keeps to strings 5 to 1.
    chart = timeline("key: G\n| G | C |").chart
    line = make_line("connection", chart, Fretboard(parse_tuning("drop D")), Wish("4"))
    assert {note.string for note in line.notes} <= {1, 2, 3, 4, 5}


def test_a_change_off_the_grid_begins_a_note_of_its_own() -> None:
    # Three chords in a bar of four beats change at 4/3 and 8/3, which no eighth meets.
    line = make_line("connection", timeline("| C7 F7 G7 |").chart, STANDARD)
    beats = [note.beat for note in line.notes]
    assert Fraction(4, 3) in beats
    assert Fraction(8, 3) in beats
    assert all(later - earlier >= Fraction(1, 4) for earlier, later in pairwise(beats))


def test_eighths_of_twelve_eight_go_by_three() -> None:
    line = make_line("connection", timeline("key: C\nmeter: 12/8\n| C7 | F7 |").chart, STANDARD)
    assert len([note for note in line.notes if note.beat < 8]) == 24


@pytest.mark.parametrize("exercise", sorted(EXERCISES))
def test_tab_keeps_to_80_columns_and_tells_every_fret(exercise: str, capsys: pytest.CaptureFixture[str]) -> None:
    for rhythm in RHYTHMS:
        wish = ["--changes", "jazz-blues", "--key", "Db", "--zone", "G", "--rhythm", rhythm, "--seed", "3"]
        assert main(["lines", exercise, *wish]) == Exit.DONE
        drawn = capsys.readouterr().out.splitlines()
        assert max(map(len, drawn)) <= 80
        line = make_line(exercise, load_form("jazz-blues", parse_key("Db")), STANDARD, Wish("G", rhythm, seed=3))
        numbers = [cell for row in drawn if "|" in row for cell in row[3:].replace("|", "-").split("-") if cell]
        assert len(numbers) == len(line.notes)


def test_the_document_of_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    wish = ["--changes", "two-five-one", "--key", "Bb", "--zone", "A", "--direction", "up", "--seed", "5"]
    assert main(["lines", "connection", *wish, "--json"]) == Exit.DONE
    document = json.loads(capsys.readouterr().out)
    assert (document["schema"], document["seed"], document["chords"][0]["chord"]) == ("bluethird/line/1", 5, "Cm7")
    first, second = document["notes"][:2]
    assert second["midi"] > first["midi"]
    assert (second["beat"], first["duration"]) == (0.5, 0.5)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["connection", "--zone", "Q"], "zone 'Q' of A7"),
        (["connection", "--zone", "40"], "expected 0 to 18"),
        (["connection", "--seed", "-1"], "seed -1"),
        (["connection", "--changes", "nothing.txt"], "is no file and no form"),
        (["connection", "--tuning", "A0 A1 A2 A3 A4 A5"], "in one register"),
    ],
)
def test_a_bad_wish_gets_one_sentence_and_code_4(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["lines", *arguments]) == Exit.BAD_INPUT
    (complaint,) = capsys.readouterr().err.splitlines()
    assert words in complaint


def test_an_unknown_exercise_or_rhythm_is_refused_with_the_names() -> None:
    with pytest.raises(ProgressionsError, match="expected one of arpeggios, connection"):
        make_line("scales", BLUES, STANDARD)
    with pytest.raises(ProgressionsError, match="expected one of eighths, triplets, sixteenths"):
        Wish(rhythm="halves")


def test_the_grader_hears_chord_tones_alone_in_a_mixture_of_ways() -> None:
    over = Timeline(BLUES, 1, TimeMap.steady(48000, 120))
    chorus = measured(make_line("mixture", BLUES, STANDARD, Wish(seed=4)), over)
    assert chorus.outside == 0
    assert chorus.thirds_played == chorus.thirds_resolved
