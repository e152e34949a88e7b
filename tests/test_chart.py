"""Charts as plain text: what they mean, that they are written as they are read, and how bad ones are refused."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progressions.changes import Bar, Chart, ChartChord, Meter
from progressions.chart import parse_chart, parse_key, transpose_chart, write_chart
from progressions.chords import parse_chord
from progressions.degrees import parse_degree
from progressions.errors import ChartError, ChordError, ProgressionsError
from progressions.keys import Key
from progressions.pitch import Spelled
from stand_charts import KEYS, charts

BLUES = """
title: Slow one
key: A
meter: 4/4
tempo: 80
swing: 2:1
# the head
| A7 | D7 | A7 | % |
| Bm7:3 E7 :1 | A7 E7(b9, b13) || F#m7b5 B7 E7 | N.C. |
""".replace("E7 :1", "E7:1")


def bars_of(chart: Chart) -> list[list[tuple[str, Fraction, Fraction]]]:
    return [[(c.chord.symbol, c.beat, c.duration) for c in bar.chords] for bar in chart.bars]


def test_a_chart_means_its_bars_and_headers() -> None:
    chart = parse_chart(BLUES)
    assert (chart.title, str(chart.key), str(chart.meter), chart.tempo_bpm, chart.swing) == (
        "Slow one", "A", "4/4", 80.0, 2.0,
    )  # fmt: skip
    third = Fraction(4, 3)
    assert bars_of(chart) == [
        [("A7", 0, 4)],
        [("D7", 0, 4)],
        [("A7", 0, 4)],
        [("A7", 0, 4)],
        [("Bm7", 0, 3), ("E7", 3, 1)],
        [("A7", 0, 2), ("E7(♭9,♭13)", 2, 2)],
        [("F♯m7♭5", 0, third), ("B7", third, third), ("E7", 2 * third, third)],
        [("N.C.", 0, 4)],
    ]


def test_meter_is_four_four_and_tempo_and_swing_are_left_open_unless_given() -> None:
    chart = parse_chart("key: C minor\n| Cm7 |")
    assert (chart.meter, chart.tempo_bpm, chart.swing, chart.key) == (Meter(4, 4), None, None, Key(Spelled("C"), True))


# Eighths that go by three are counted in dotted quarters.
@pytest.mark.parametrize(("meter", "beats"), [("4/4", 4), ("3/4", 3), ("12/8", 4), ("6/8", 2), ("5/4", 5), ("7/8", 7)])
def test_beats_of_a_bar(meter: str, beats: int) -> None:
    assert parse_chart(f"key: A\nmeter: {meter}\n| A7 |").bars[0].chords[0].duration == beats


@pytest.mark.parametrize("beats", ["1.5", "3/2"])
def test_beats_are_written_as_decimals_or_fractions(beats: str) -> None:
    assert parse_chart(f"key: A\n| A7:{beats} D7:5/2 |").bars[0].chords[1].beat == Fraction(3, 2)


@pytest.mark.parametrize(
    ("text", "line", "column", "message"),
    [
        ("", 1, 1, "no bars; expected bars such as"),
        ("key: A\n# nothing more\n", 2, 1, "no bars"),
        ("| A7 |", 1, 1, "no key yet; expected a line such as key: A"),
        ("key: A\n| A7 | Dm8 |", 2, 10, "chord 'Dm8'; expected a quality"),
        ("key: A\n| A7 | H7 |", 2, 8, "chord 'H7'; expected a root"),
        ("key: A\n| Ebb5 |", 2, 5, "expected one of two readings"),
        ("key: A\n| A7 |\n| % D7 |", 3, 3, "% beside a chord"),
        ("key: A\n| % |", 2, 3, "% in the first bar; expected a chord"),
        ("key: A\n| A7 | | D7 |", 2, 7, "an empty bar; expected a chord, or %"),
        ("key: A\n| A7 | D7", 2, 10, "not closed; expected |"),
        ("key: A\n|", 2, 2, "not closed"),
        ("key: A\n| A7:3 D7:2 |", 2, 2, "5 beats in the bar; expected 4 beats in 4/4"),
        ("key: A\nmeter: 3/4\n| A7:2 |", 3, 2, "2 beats in the bar; expected 3 beats in 3/4"),
        ("key: A\n| A7:3 D7 |", 2, 8, "without beats; expected beats on every chord"),
        ("key: A\n| A7:0 D7:4 |", 2, 6, "beats '0'; expected a number of beats above 0"),
        ("key: A\n| A7:1/0 |", 2, 6, "beats '1/0'"),
        ("key: A\n| A7: |", 2, 6, "beats ''"),
        ("key: H\n| A7 |", 1, 6, "key 'H'; expected a key such as A"),
        ("key: A\nmeter: 4/3\n| A |", 2, 8, "meter '4/3'; expected 2 to 12 over 4 or 8"),
        ("key: A\nmeter: 13/8\n| A |", 2, 8, "meter '13/8'"),
        ("key: A\nmeter: 1/4\n| A |", 2, 8, "meter '1/4'"),
        ("tempo: 321", 1, 8, "tempo '321'; expected beats per minute from 30 to 320"),
        ("tempo: 29.9", 1, 8, "tempo '29.9'"),
        ("tempo: fast", 1, 8, "tempo 'fast'"),
        ("tempo: nan", 1, 8, "tempo 'nan'"),
        ("swing: 3.1", 1, 8, "swing '3.1'; expected long to short eighth from 1 to 3"),
        ("swing: 0.5:1", 1, 8, "swing '0.5:1'"),
        ("title:", 1, 7, "expected a title"),
        ("speed: 80", 1, 1, "unknown header 'speed'; expected one of title, key, meter, tempo, swing"),
        ("key: A\nkey: B", 2, 1, "key for the second time"),
        ("key: A\n| A7 |\ntempo: 80", 3, 1, "tempo after the bars; expected headers before"),
        ("key: A\nA7 D7", 2, 1, "'A7 D7' outside a bar; expected |"),
    ],
)
def test_a_bad_chart_is_refused_with_line_column_and_what_was_expected(
    text: str, line: int, column: int, message: str
) -> None:
    with pytest.raises(ChartError) as refusal:
        parse_chart(text, "solo.txt")
    assert (refusal.value.line, refusal.value.column) == (line, column)
    assert str(refusal.value).startswith(f"solo.txt, line {line}, column {column}: ")
    assert message in str(refusal.value)


def test_a_chart_value_with_bars_that_are_not_full_cannot_be_made() -> None:
    half = Bar((ChartChord(Fraction(0), Fraction(2), parse_chord("A7")),))
    with pytest.raises(ProgressionsError, match="bar 1: 2 beats in the bar; expected 4 beats in 4/4"):
        Chart("", parse_key("A"), Meter(), None, None, (half,))


@pytest.mark.parametrize(
    ("degree", "in_e_flat"),
    [
        ("I7", "E♭7"), ("IV7", "A♭7"), ("V7♭9", "B♭7♭9"), ("ii-7", "Fm7"), ("ii7", "Fm7"), ("iiø7", "Fm7♭5"),
        ("♯iv°7", "A°7"), ("♭VII7", "D♭7"), ("bIII6", "G♭6"), ("vi", "Cm"), ("VI7(b9)", "C7♭9"), ("v-7", "B♭m7"),
        ("Vsus4", "B♭sus4"), ("vsus4", "B♭sus4"), ("I♭5", "E♭(♭5)"), ("iadd9", "E♭m(add9)"), ("N.C.", "N.C."),
    ],
)  # fmt: skip
def test_degrees_become_chords_of_a_key(degree: str, in_e_flat: str) -> None:
    assert parse_degree(degree, parse_key("Eb")).symbol == in_e_flat


@pytest.mark.parametrize(("degree", "position"), [("H", 0), ("IIx", 2), ("ii7alt", 2), ("I7/E", 2), ("VIII7", 3)])
def test_a_bad_degree_is_refused_with_its_place(degree: str, position: int) -> None:
    with pytest.raises(ChordError) as refusal:
        parse_degree(degree, parse_key("C"))
    assert refusal.value.position == position


@pytest.mark.parametrize(
    ("text", "key"),
    [("A", "A"), ("Bb", "B♭"), ("C minor", "C minor"), ("F#m", "F♯ minor"), ("E♭ major", "E♭"), ("G-", "G minor")],
)
def test_keys_are_read_in_common_writings(text: str, key: str) -> None:
    assert str(parse_key(text)) == key
    assert parse_key(str(parse_key(text))) == parse_key(text)


# Key signatures of the circle of fifths: sharps positive, flats negative.
@pytest.mark.parametrize(
    ("key", "signs"),
    [("C", 0), ("A", 3), ("F", -1), ("Eb", -3), ("F#", 6), ("Gb", -6), ("Am", 0), ("Cm", -3), ("G#m", 5)],
)
def test_key_signatures(key: str, signs: int) -> None:
    assert parse_key(key).fifths == signs


def test_transposing_keeps_degrees_and_spells_by_the_new_key() -> None:
    chart = parse_chart("key: C\n| C7 | F7 F#°7 | C7/E A7 | Bb7 Ab7 N.C. |")
    symbols = [[symbol for symbol, _, _ in bar] for bar in bars_of(transpose_chart(chart, parse_key("E")))]
    assert symbols == [["E7"], ["A7", "A♯°7"], ["E7/G♯", "C♯7"], ["D7", "C7", "N.C."]]
    # ♭VI of G♭ would be E𝄫: it is written D.
    assert bars_of(transpose_chart(chart, parse_key("Gb")))[3][1][0] == "D7"


def read_or_refusal(text: str) -> Chart | ChartError:
    try:
        return parse_chart(text)
    except ChartError as refusal:
        return refusal


@given(charts())
def test_a_chart_is_read_back_from_its_text(chart: Chart) -> None:
    assert parse_chart(write_chart(chart)) == chart


@given(charts(), KEYS)
def test_transposing_there_and_back_changes_no_note(chart: Chart, key: Key) -> None:
    back = transpose_chart(transpose_chart(chart, key), chart.key)
    assert [[c.chord.pitch_classes for c in bar.chords] for bar in back.bars] == [
        [c.chord.pitch_classes for c in bar.chords] for bar in chart.bars
    ]
    assert (back.key, back.meter, back.title) == (chart.key, chart.meter, chart.title)


USUAL_KEYS = st.sampled_from([parse_key(k) for k in ["C", "G", "D", "A", "E", "B", "F", "Bb", "Eb", "Ab", "Db"]])
DEGREES = st.sampled_from(
    ["I7", "ii-7", "iii-7", "IVmaj7", "V7♭9", "vi-7", "viiø7", "♭VII7", "♭III6", "II7", "III7", "VI7", "N.C."]
)


@given(st.lists(DEGREES, min_size=1, max_size=8), USUAL_KEYS, USUAL_KEYS)
def test_transposing_there_and_back_is_the_same_chart(degrees: list[str], home: Key, away: Key) -> None:
    """Exact, names and all, where no root would need a double accidental on the way."""
    bars = tuple(Bar((ChartChord(Fraction(0), Fraction(4), parse_degree(d, home)),)) for d in degrees)
    chart = Chart("", home, Meter(), None, None, bars)
    assert transpose_chart(transpose_chart(chart, away), home) == chart


@given(st.text(alphabet="|| \n%:#key: A7Dm4/3().b♭tempo80[]<x12,-IVi–", max_size=80))
def test_any_text_is_a_chart_or_a_refusal_with_a_place(text: str) -> None:
    result = read_or_refusal(text)
    if isinstance(result, Chart):
        assert parse_chart(write_chart(result)) == result
    else:
        lines = text.splitlines() or [""]
        assert 1 <= result.line <= len(lines)
        assert 1 <= result.column <= len(lines[result.line - 1]) + 1
