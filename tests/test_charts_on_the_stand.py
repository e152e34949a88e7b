"""Charts as they stand on a stand: repeats, endings, pick-ups, pushes, meters, sections, degrees, and the page.

What is expected follows from common practice of written music and from arithmetic; it was written out by hand.
"""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lines import RATE, finals, grade_events, notes, tell
from listener.band import Band
from listener.chartview import WIDTH, chart_lines
from listener.cli import main
from listener.dashboard import DashboardModel, render
from listener.errors import Exit
from listener.measures import measure_chorus
from listener.rules import Rules
from progressions.chart import Bar, Chart, parse_chart, parse_key, transpose_chart, write_chart, write_degrees
from progressions.chords import parse_chord
from progressions.degrees import degree_text, parse_degree
from progressions.errors import ChartError, ChordError, ProgressionsError
from progressions.forms import form_names, load_form
from progressions.keys import Key
from progressions.timeline import Position, Timeline, TimeMap, time_map_of
from stand_charts import KEYS, charts

STAND = """title: On the stand
key: F
meter: 4/4
tempo: 120
swing: 2
| [pick-up] C7:1 |
[A]
|: F6 Dm7 | Gm7 <C7 | %% |
|1 F6 | C7 :|2 F6 | % |
[B]
| [key: D♭] [tempo: 180] E♭m7:3 A♭7:1 | D♭maj7/F | [3/4] C7alt | [4/4] N.C. |
"""


def played(chart: Chart) -> str:
    return " | ".join(" ".join(c.chord.symbol for c in bar.chords) for bar in chart.played)


def test_a_chart_keeps_its_written_form() -> None:
    assert write_chart(parse_chart(STAND)) == STAND


def test_repeats_and_endings_are_played_as_written() -> None:
    body = "F6 Dm7 | Gm7 C7 | F6 Dm7 | Gm7 C7"
    assert played(parse_chart(STAND)) == (f"{body} | F6 | C7 | {body} | F6 | F6 | E♭m7 A♭7 | D♭maj7/F | C7alt | N.C.")


# Letters stand for bars; what is played was written out by hand.
@pytest.mark.parametrize(
    ("bars", "order"),
    [
        ("| A | B |", "A B"),
        ("|: A | B :|", "A B A B"),
        ("| A | B :| C |", "A B A B C"),  # without |: back to the beginning
        ("| A |: B :|x3 C |", "A B B B C"),
        ("|: A :|: B :|", "A A B B"),
        ("|: A | B |1 C :|2 D |", "A B C A B D"),
        ("|: A |1,3 B :|2 C :|4 D | E |", "A B A C A B A D E"),
        ("|: A |1,2 B :|3 C | D |", "A B A B A C D"),
        ("|: A |1-3 B :|4 C |: D :|", "A B A B A B A C D D"),
        ("| A | B |1 C :|2 D ||", "A B C A B D"),
        ("|: A | % | %% :|", "A A A A A A A A"),
        ("| A | B | %% | %% | C |", "A B A B A B C"),
        ("| A | B | 𝄎 | 𝄍 |", "A B A B B"),
    ],
)
def test_the_order_of_playing(bars: str, order: str) -> None:
    assert played(parse_chart(f"key: C\n{bars}")).replace(" | ", " ") == order


@pytest.mark.parametrize(
    ("text", "line", "column", "message"),
    [
        ("| A |: B | C |", 2, 7, "|: without its :|"),
        ("|: A |: B :|", 2, 3, "|: without its :|"),
        ("|: A :| B :|", 2, 8, ":| without a |:"),
        ("|: A :|x17", 2, 3, "played 17 times; expected 2 to 16 times"),
        ("|: A |1 B | C |", 2, 8, "ending 1 as the last one; expected :| after it, and ending 2"),
        ("|: A |2 B :|", 2, 8, "ending 2; expected ending 1"),
        ("|: A |1 B |2 C |", 2, 8, "no :| before ending 2"),
        ("|: A |1 B :| C |", 2, 13, "no ending after the :| of one; expected ending 2 there, as in :|2"),
        ("|: A |1 B :|2 D | E |1 F |", 2, 23, "ending 1; expected ending 3"),
        ("|: A |1,3 B :|2 C |", 2, 16, "ending 2 as the last one; expected :| after it, and ending 4"),
        ("|: A |1 B :|2 C :|", 2, 14, ":| after the last ending"),
        ("| %% |", 2, 3, "%% without two bars before it"),
        ("| A | % C |", 2, 7, "% beside a chord"),
        ("| A | <B:1 C:3 D |", 2, 16, "a chord without beats"),
        ("| A7:3.5 D7:0.5 | <A7 |", 2, 18, "A7 pushed; expected a chord before it that is longer than an eighth"),
        ("| A | [3/4] B:4 |", 2, 6, "4 beats in the bar; expected 3 beats in 3/4"),
        ("| A | [3/4 B |", 2, 7, "a sign that is not closed"),
        ("| A | [speed: 3] B |", 2, 8, "sign 'speed: 3'; expected [key: …]"),
        ("| A | [tempo: 20] B |", 2, 8, "tempo '20'; expected beats per minute"),
        ("| A | [tempo: 90] B |", 2, 6, "expected a line such as tempo: 80 at the top"),
        ("| [3/4] A |", 2, 2, "a sign before the first bar"),
        ("| A | [pick-up] B:1 |", 2, 6, "a pick-up after the first bar"),
        ("| [pick-up] B | A |", 2, 13, "'B' without beats; expected beats after a colon"),
        ("| [pick-up] B:4 | A |", 2, 2, "4 beats; expected fewer beats than the first and the last bar have"),
        ("| [pick-up] B:1 | A | D:3 |", 2, 22, "the pick-up takes its end when the form comes round"),
        ("| A | [A] [A] B |", 2, 11, "a second sign"),
        ("| A |\n[B]", 3, 1, "signs after the last bar"),
        ("| I7 | G7 |", 2, 8, "'G7' among degrees"),
        ("| G7 | ii |", 2, 8, "'ii' among symbols"),
        ("| ii–V9b | I |", 2, 8, "chord 'V9b'"),
    ],
)
def test_signs_that_do_not_fit_are_refused_at_their_place(text: str, line: int, column: int, message: str) -> None:
    with pytest.raises(ChartError) as refusal:
        parse_chart(f"key: A\n{text}")
    assert message in str(refusal.value)
    assert (refusal.value.line, refusal.value.column) == (line, column)


def test_a_chart_value_whose_repeated_bars_differ_cannot_be_made() -> None:
    a, b = (parse_chart(f"key: C\n| {symbol} |").bars[0].chords for symbol in ("A7", "B7"))
    with pytest.raises(ProgressionsError, match="bar 2: a repeated bar that differs"):
        Chart("", parse_key("C"), parse_chart("key: C\n| A |").meter, None, None, (Bar(a), Bar(b, 1)))


# 48 kHz; 120 a minute: a beat is 24000 samples; the section at 180: 16000.
def test_sections_have_their_own_key_and_tempo_in_every_chorus() -> None:
    chart = parse_chart(STAND)
    timeline = Timeline(chart, 2, time_map_of(chart, 2, 48000, 120.0))
    # twelve bars of four at 120, then 4 + 4 + 3 + 4 beats at 180
    assert timeline.bars_per_chorus == 16
    assert timeline.chorus_beats(2) == (63, 126)
    assert timeline.chorus_samples(1) == (0, 48 * 24000 + 15 * 16000)
    section = next(span for span in timeline.spans if span.bar == 13)
    assert (timeline.span_samples(section)[0], str(section.key), timeline.degree(section)) == (48 * 24000, "D♭", "ii")
    again = next(span for span in timeline.spans if span.chorus == 2)
    assert timeline.time_map.samples_per_beat_at(again.start_beat) == 24000
    # The player's own tempo moves the section along: 60 and 90.
    assert time_map_of(chart, 1, 48000, 60.0).samples_per_beat_at(48) == 32000
    with pytest.raises(ProgressionsError, match="would go at 330"):
        time_map_of(chart, 1, 48000, 220.0)


# The eighth keeps its length: at 120 quarters a minute it lasts 0.25 s = 12000 samples.
@pytest.mark.parametrize(
    ("meter", "beats", "samples_per_beat"),
    [("6/8", 2, 36000), ("12/8", 4, 36000), ("5/4", 5, 24000), ("7/8", 7, 12000)],
)
def test_note_values_keep_their_length_where_the_meter_changes(meter: str, beats: int, samples_per_beat: int) -> None:
    chart = parse_chart(f"key: A\n| A7 | [{meter}] D7 | [4/4] E7 |")
    timeline = Timeline(chart, 1, time_map_of(chart, 1, 48000, 120.0))
    assert timeline.spans[2].start_beat == 4 + beats
    assert timeline.changes[2].sample == 4 * 24000 + beats * samples_per_beat
    assert timeline.time_map.samples_per_beat_at(timeline.spans[2].start_beat) == 24000
    assert timeline.position_at(timeline.changes[2].sample) == Position(1, 3, 1.0)


def test_a_tempo_beside_a_meter_counts_the_beats_of_that_meter() -> None:
    chart = parse_chart("key: A\ntempo: 120\n| A7 | [12/8] [tempo: 120] D7 |")
    assert time_map_of(chart, 1, 48000, 120.0).sample_at(8) == 8 * 24000


# A push comes on the off-beat before: half a beat straight, a third of a beat at 2:1, an eighth of three in 12/8.
@pytest.mark.parametrize(
    ("head", "early"),
    [
        ("", Fraction(1, 2)),
        ("swing: 2", Fraction(1, 3)),
        ("swing: 3:1", Fraction(1, 4)),
        ("meter: 12/8", Fraction(1, 3)),
    ],
)
def test_a_push_moves_the_change_itself(head: str, early: Fraction) -> None:
    timeline = Timeline(parse_chart(f"key: A\n{head}\n| A7 | <D7 | E7 <A7 |"), 2, TimeMap.steady(48000, 120.0))
    starts = [(span.chord.symbol, span.start_beat) for span in timeline.spans[:4]]
    assert starts == [("A7", 0), ("D7", 4 - early), ("E7", 8), ("A7", 10 - early)]
    assert [(c.after.bar, c.beat) for c in timeline.changes[1:2]] == [(2, 4 - early)]
    assert timeline.spans[0].end_beat == 4 - early


def test_a_push_over_the_seam_of_a_chorus_belongs_to_the_new_one() -> None:
    timeline = Timeline(parse_chart("key: A\n| <A7 | E7 |"), 2, TimeMap.steady(48000, 120.0), closing_bars=0)
    places = [(span.chorus, span.bar, span.start_beat, span.end_beat) for span in timeline.spans]
    half = Fraction(1, 2)
    assert places == [(1, 1, -half, 4), (1, 2, 4, 8 - half), (2, 1, 8 - half, 12), (2, 2, 12, 16)]


# The pick-up leads into the first beat; later it is the end of the bar before.
def test_a_pick_up_comes_before_the_first_chorus_and_ends_the_bar_before_the_next() -> None:
    timeline = Timeline(parse_chart("key: C\n| [pick-up] Dm7:1 G7:1 | C6 | F6 |"), 2, TimeMap.steady(48000, 120.0))
    assert [(s.chord.symbol, s.bar, s.start_beat, s.end_beat) for s in timeline.pickup] == [
        ("Dm7", 0, -2, -1),
        ("G7", 0, -1, 0),
    ]
    assert timeline.span_at(-1) is None  # notes there are kept and not graded
    assert [(s.chord.symbol, s.chorus, s.bar, s.start_beat, s.end_beat) for s in timeline.spans] == [
        ("C6", 1, 1, 0, 4), ("F6", 1, 2, 4, 6), ("Dm7", 1, 2, 6, 7), ("G7", 1, 2, 7, 8),
        ("C6", 2, 1, 8, 12), ("F6", 2, 2, 12, 16), ("C6", 2, 3, 16, 24),
    ]  # fmt: skip


def test_a_pick_up_without_a_chord_leaves_the_last_bar_its_own() -> None:
    timeline = Timeline(parse_chart("key: C\n| [pick-up] N.C.:2 | C6 | G7 |"), 2, TimeMap.steady(48000, 120.0))
    assert [s.chord.symbol for s in timeline.spans] == ["C6", "G7", "C6", "G7", "C6"]


@given(charts(), st.integers(1, 3), st.floats(60, 160))
def test_every_moment_of_any_chart_has_one_bar_and_one_chord(chart: Chart, choruses: int, tempo: float) -> None:
    if any(bar.tempo_bpm for bar in chart.bars):
        tempo = chart.tempo_bpm or tempo
    timeline = Timeline(chart, choruses, time_map_of(chart, choruses, 8000, tempo))
    spans = timeline.spans
    assert all(a.start_beat < a.end_beat == b.start_beat for a, b in pairwise(spans))
    assert timeline.chorus_beats(choruses)[1] == sum(bar.meter.beats_per_bar for bar in chart.played) * choruses
    for bar in timeline.bars:
        first = timeline.time_map.first_sample_of(bar.start_beat)
        position = timeline.position_at(first)
        assert position is not None
        assert (position.chorus, position.bar, position.beat) == (bar.chorus, bar.bar, pytest.approx(1, abs=0.01))


@pytest.mark.parametrize(
    ("symbol", "key", "degree"),
    [
        ("Dm7", "C", "ii-7"), ("G7", "C", "V7"), ("B♭7", "C", "♭VII7"), ("F♯°7", "C", "♯iv°7"),
        ("Am7♭5", "G minor", "iiø7"), ("C5/E♭", "C", "I5/♭3"), ("F/G", "C", "IV/5"), ("Fm", "E♭", "ii"),
        ("D♭maj7/F", "D♭", "Imaj7/3"), ("CmMaj7", "C minor", "i-Maj7"),
        ("A7♯9", "D", "V7♯9"), ("Gsus4", "C", "Vsus4"), ("N.C.", "A", "N.C."), ("C/B♭", "C", "I/♭7"),
    ],
)  # fmt: skip
def test_chords_and_degrees_are_two_writings_of_one(symbol: str, key: str, degree: str) -> None:
    assert degree_text(parse_chord(symbol), parse_key(key)) == degree
    assert parse_degree(degree, parse_key(key)) == parse_chord(symbol)


def test_a_chart_of_degrees_is_had_in_any_key() -> None:
    chart = parse_chart("key: C\n| ii-7–V7 | Imaj7 | [key: Eb] ii–V | I |")
    assert played(chart) == "Dm7 G7 | Cmaj7 | Fm B♭ | E♭"
    assert played(transpose_chart(chart, parse_key("A"))) == "Bm7 E7 | Amaj7 | Dm G | C"


@given(charts(), KEYS)
def test_a_chart_in_degrees_sounds_the_same_and_moves_like_its_symbols(chart: Chart, key: Key) -> None:
    def sounds(of: Chart) -> list[list[tuple[frozenset[int], Fraction, bool]]]:
        return [[(c.chord.pitch_classes, c.duration, c.pushed) for c in bar.chords] for bar in of.bars]

    read = parse_chart(write_degrees(chart))
    assert sounds(read) == sounds(chart)
    assert sounds(transpose_chart(read, key)) == sounds(transpose_chart(chart, key))


def test_the_nearest_degree_is_suggested() -> None:
    with pytest.raises(ChordError) as refusal:
        parse_degree("Imajj7", parse_key("C"))
    assert refusal.value.suggestion == "Imaj7"


# --- what the listener makes of them


def test_the_band_clicks_every_meter_and_plays_the_pick_up() -> None:
    chart = parse_chart("key: C\n| [pick-up] G7:1 | C6 | [3/4] F6 | [4/4] N.C. |")
    band = Band(Timeline(chart, 1, TimeMap.steady(48000, 60.0, 10 * 48000), closing_bars=0), 48000)
    # two and four in four; every beat but the first in three
    assert [click.beat for click in band.clicks if click.beat >= 0] == [1, 3, 5, 6, 8, 10]
    silent, sounding = (band.render(round((10 + beat) * 48000), 20000) for beat in (-1.45, -0.45))
    assert abs(sounding[12000:]).max() > 3 * abs(silent[12000:]).max()


def test_a_note_on_a_charted_push_lands_on_the_new_chord_where_it_is_written() -> None:
    over = Timeline(parse_chart("key: C\n| C6 | [3/4] F6 | [4/4] <G7 |"), 1, TimeMap.steady(RATE, 60.0), closing_bars=0)
    line = [("E4", 0, 4), ("C4", 4, 2.4), ("B3", 6.5, 1.5)]
    graded = finals(grade_events(tell(notes(line, over)), over, Rules()))
    # Half a beat before bar 3, in the third beat of bar 2 of three: the 3 of G7, neither early nor pushed by the hand.
    assert [(g.chord, g.function, g.bar, g.beat, g.early or g.pushed) for g in graded][-1] == ("G7", "3", 2, 3.5, False)
    landings = measure_chorus(1, graded, over, Rules(), RATE).landings
    assert [(at.bar, at.beat, at.function) for at in landings] == [(1, 1, "3"), (2, 1, "5"), (3, 1, "3")]


def test_the_screen_counts_bars_of_any_length() -> None:
    chart = parse_chart("key: C\n| C6 | [5/4] C6 | [4/4] F6 |")
    model = DashboardModel(Timeline(chart, 1, TimeMap.steady(RATE, 60.0)))
    model.move(0)  # four and five beats before F6
    assert (model.state().beats_until, model.state().bars_until) == (9, 2)
    assert any("in 2 bars" in line for line in render(model.state(), 80, 24).lines)
    model.move(4 * RATE)
    state = model.state()
    assert (state.bar, state.beat, state.beats_until, state.bars_until) == (2, 1, 5, 1)
    model.move(8 * RATE)
    assert (model.state().beat, model.state().bars_until) == (5, None)
    assert any("in 1 beat" in line for line in render(model.state(), 80, 24).lines)


# --- the page


def test_the_page_spells_every_chord_and_marks_guide_tones() -> None:
    # A7 = A C♯ E G, D7 = D F♯ A C; guide tones are 3 and 7
    lines = chart_lines(parse_chart("key: A\n|: A7 | D7 <A7 :|\n[B]\n| [3/4] Bm7b5 | % |"))
    assert [" ".join(line.split()) for line in lines] == [
        "key A 4/4 6 bars as played",
        "",
        "1 |: A7 | D7 <A7 :|",
        "| A C♯* E G* | D F♯* A C♯* |",
        "| | A C* E G* |",
        "",
        "[B] 3/4",
        "3 | Bm7♭5 | % |",
        "| B D* F A* | |",
        "",
        "* guide tone < an eighth early",
    ]


@pytest.mark.parametrize("form", form_names())
@pytest.mark.parametrize("key", ["C", "F#", "Db", "B"])
def test_the_page_of_a_form_fits_a_terminal_in_rows_of_four(form: str, key: str) -> None:
    for ascii_only in (False, True):
        lines = chart_lines(load_form(form, parse_key(key)), ascii_only=ascii_only)
        assert max(len(line) for line in lines) <= WIDTH
        assert all(line.isascii() for line in lines) or not ascii_only
        numbers = [int(line[:3]) for line in lines if line[:3].strip().isdigit()]
        assert numbers == list(range(1, len(load_form(form, parse_key(key)).bars) + 1, 4))


@given(charts(), st.booleans(), st.booleans(), st.booleans())
def test_the_page_of_any_chart_has_straight_bar_lines(chart: Chart, degrees: bool, unrolled: bool, plain: bool) -> None:
    page = chart_lines(chart, degrees=degrees, unrolled=unrolled, ascii_only=plain)
    for row in "\n".join(page[page.index("") :]).split("\n\n"):
        barred = [line for line in row.splitlines() if line[4:5] == "|"]
        columns = [[place for place, sign in enumerate(line) if sign == "|"] for line in barred]
        starts = [place for place, line in enumerate(barred) if place == 0 or line[:3].strip()]
        # a row too full for the page is broken in two, each part with its own columns
        for start, end in pairwise([*starts, len(barred)]):
            assert columns[start:end] == [columns[start]] * (end - start)


def test_the_command_shows_writes_and_refuses(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "stand.txt"
    file.write_text(STAND, encoding="utf-8")
    assert main(["chart", str(file), "--text", "--degrees"]) == Exit.DONE
    in_degrees = capsys.readouterr().out
    assert "|: I6 vi-7 | ii-7 <V7 | %% |" in in_degrees
    assert parse_chart(in_degrees) == parse_chart(STAND)
    assert main(["chart", str(file), "--json", "--key", "G"]) == Exit.DONE
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "bluethird/chart/1"
    assert [c["symbol"] for c in document["bars"][0]["chords"]] == ["G6", "Em7"]
    assert document["bars"][12]["tempo_bpm"] == 180
    file.write_text("key: A\n| A7 | Ebb5 |\n", encoding="utf-8")
    assert main(["chart", str(file)]) == Exit.BAD_INPUT
    complaint = capsys.readouterr().err
    assert "line 2, column" in complaint
    assert "one of two readings" in complaint
    assert complaint.count("\n") == 1
