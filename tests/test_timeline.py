"""Samples, beats and changes: exact places, half-open spans, and the laws of the time map."""

from __future__ import annotations

import math
import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progressions.chart import parse_chart, parse_key
from progressions.errors import ProgressionsError
from progressions.forms import load_form
from progressions.timeline import Position, Timeline, TimeMap

# 80 beats a minute at 48 kHz: a beat lasts 60 / 80 s = 0.75 s = 36000 samples, a bar of four 144000.
BEAT, BAR = 36000, 144000
STEADY = TimeMap.steady(48000, 80.0)


def blues(choruses: int = 2, time_map: TimeMap = STEADY) -> Timeline:
    return Timeline(load_form("blues", parse_key("A")), choruses, time_map)


def test_a_steady_tempo_is_a_straight_line() -> None:
    assert [STEADY.sample_at(beat) for beat in (0, 1, 4, Fraction(2, 3))] == [0, BEAT, BAR, 24000]
    assert STEADY.beat_at(54000) == 1.5
    assert STEADY.samples_per_beat_at(7) == BEAT


def test_the_count_in_lies_before_beat_zero() -> None:
    counted_in = TimeMap.steady(48000, 80.0, first_sample=2 * BAR)
    assert counted_in.beat_at(0) == -8.0
    assert counted_in.sample_at(-4) == BAR


def test_a_tempo_step_leaves_the_past_as_it_was() -> None:
    # From beat 8 on at 120: a beat lasts 24000 samples.
    stepped = STEADY.with_step(8, 120.0)
    assert [stepped.sample_at(b) for b in (4, 8, 9, 12)] == [BAR, 2 * BAR, 2 * BAR + 24000, 2 * BAR + 96000]
    assert stepped.beat_at(2 * BAR + 48000) == 10.0
    assert (stepped.samples_per_beat_at(7.9), stepped.samples_per_beat_at(8)) == (36000, 24000)
    with pytest.raises(ProgressionsError, match="expected one after beat 8"):
        stepped.with_step(8, 100.0)


@pytest.mark.parametrize("tempo_bpm", [29.0, 321.0, float("nan")])
def test_a_tempo_out_of_range_is_refused(tempo_bpm: float) -> None:
    with pytest.raises(ProgressionsError, match="expected 30 to 320 bpm"):
        TimeMap.steady(48000, tempo_bpm)


def test_changes_come_where_the_notes_of_the_chord_change() -> None:
    # Plain blues: I to bar 4, IV at 5, I at 7, V at 9, IV at 10, I at 11; the seam I | I is none.
    chorus = [(1, "A7"), (5, "D7"), (7, "A7"), (9, "E7"), (10, "D7"), (11, "A7")]
    changes = blues().changes
    assert [(c.after.chorus, c.after.bar, c.after.chord.symbol) for c in changes] == [
        *((1, *place) for place in chorus),
        *((2, *place) for place in chorus[1:]),
    ]
    assert changes[0].before is None
    assert [c.sample for c in changes[:3]] == [0, 4 * BAR, 6 * BAR]
    assert all(c.before is not None and c.before.end_beat == c.beat for c in changes[1:])


def test_chords_of_the_same_notes_are_no_change_and_no_chord_is_one() -> None:
    chart = parse_chart("key: C\n| C6 | Am7 | N.C. | C |")  # C6 and Am7 are the same four notes
    assert [c.after.chord.symbol for c in Timeline(chart, 1, STEADY, closing_bars=0).changes] == ["C6", "N.C.", "C"]


def test_every_symbol_is_a_span_of_its_own() -> None:
    timeline = blues()
    assert len(timeline.spans) == 12 * 2 + 1
    assert [span.index for span in timeline.spans] == list(range(25))


def test_a_span_owns_its_first_sample_and_not_its_last() -> None:
    timeline = blues()
    before, at = timeline.span_at(4 * BAR - 1), timeline.span_at(4 * BAR)
    assert before is not None
    assert at is not None
    assert (before.chord.symbol, at.chord.symbol) == ("A7", "D7")
    assert timeline.span_at(-1) is None
    assert timeline.span_at_beat(Fraction(-1, 100)) is None


def test_a_change_between_two_samples_belongs_to_the_later_one() -> None:
    # At 44.1 kHz and 139 bpm four beats are 76143.88 samples long.
    timeline = blues(1, TimeMap.steady(44100, 139.0))
    assert timeline.changes[1].sample == math.ceil(4 * 4 * 60 * 44100 / 139)
    change = timeline.changes[1]
    assert timeline.span_at(change.sample) == change.after
    assert timeline.change_after(change.sample - 1) == change
    assert timeline.change_after(change.sample) == timeline.changes[2]
    assert timeline.change_at_or_before(change.sample) == change
    assert timeline.change_at_or_before(change.sample - 1) == timeline.changes[0]
    assert timeline.change_at_or_before(-1) is None
    assert timeline.change_after(10**9) is None


@pytest.mark.parametrize(
    ("sample", "position"),
    [
        (-1, None),
        (0, Position(1, 1, 1.0)),
        (BEAT // 2, Position(1, 1, 1.5)),
        (12 * BAR - BEAT, Position(1, 12, 4.0)),
        (12 * BAR, Position(2, 1, 1.0)),
        (24 * BAR, Position(2, 13, 1.0)),  # the closing chord: bars count on
        (40 * BAR + BEAT, Position(2, 29, 2.0)),  # after it too
    ],
)
def test_positions_count_from_one(sample: int, position: Position | None) -> None:
    assert blues().position_at(sample) == position


def test_the_closing_chord_follows_the_last_chorus() -> None:
    last = blues().spans[-1]
    assert (last.closing, last.chord.symbol, last.chorus, last.bar) == (True, "A7", 2, 13)
    assert (last.start_beat, last.end_beat) == (96, 104)
    assert blues().span_at(26 * BAR - 1) == last
    assert blues().span_at(26 * BAR) is None


def test_the_closing_chord_stands_on_the_tonic() -> None:
    form = load_form("two-five-one", parse_key("C"))
    assert Timeline(form, 1, STEADY).spans[-1].chord.symbol == "Cmaj7"
    assert Timeline(parse_chart("key: C\n| Dm7 | G7 |"), 1, STEADY).spans[-1].chord.symbol == "Dm7"


def test_choruses_in_beats_and_samples() -> None:
    assert blues().chorus_beats(2) == (48, 96)
    assert blues().chorus_samples(2) == (12 * BAR, 24 * BAR)
    with pytest.raises(ProgressionsError, match="chorus 3: expected 1 to 2"):
        blues().chorus_beats(3)


def test_compound_meters_count_dotted_beats() -> None:
    timeline = Timeline(parse_chart("key: A\nmeter: 12/8\n| A7 | D7 |"), 1, STEADY)
    assert timeline.beats_per_bar == 4
    assert timeline.changes[1].sample == BAR


@pytest.mark.parametrize(
    ("key", "chords", "degrees"),
    [
        ("A", "A7 D7 E7 Bm7", ["I", "IV", "V", "ii"]),
        ("C", "Bb7 F#°7 Ab7 N.C.", ["♭VII", "♯iv", "♭VI", "N.C."]),
        ("A minor", "Am7 Dm7 F7 E7 C6", ["i", "iv", "♭VI", "V", "♭III"]),
        ("Gb", "D7", ["♯V"]),
    ],
)
def test_degrees_are_roman_numerals_in_the_key(key: str, chords: str, degrees: list[str]) -> None:
    timeline = Timeline(parse_chart(f"key: {key}\n| {chords} |"), 1, STEADY, closing_bars=0)
    assert [timeline.degree(span) for span in timeline.spans] == degrees


def test_a_timeline_is_a_plain_value() -> None:
    assert blues() == blues()
    assert pickle.loads(pickle.dumps(blues())) == blues()
    assert blues().with_time_map(STEADY.with_step(48, 90.0)).changes[-1].sample > 12 * BAR


TEMPI = st.floats(30, 320)
STEPS = st.lists(st.tuples(st.fractions(Fraction(1, 16), 64, max_denominator=16), TEMPI), max_size=5)


@st.composite
def time_maps(draw: st.DrawFn) -> TimeMap:
    rate_hz = draw(st.sampled_from([8000, 22050, 44100, 48000, 96000, 192000]))
    time_map = TimeMap.steady(rate_hz, draw(TEMPI), draw(st.integers(-(10**6), 10**7)))
    beat = Fraction(0)
    for gap, tempo_bpm in draw(STEPS):
        beat += gap
        time_map = time_map.with_step(beat, tempo_bpm)
    return time_map


@given(time_maps(), st.floats(-100, 2000))
def test_beat_and_sample_undo_each_other(time_map: TimeMap, beat: float) -> None:
    assert time_map.beat_at(time_map.sample_at(beat)) == pytest.approx(beat, abs=1e-6)


@given(time_maps(), st.fractions(-100, 2000, max_denominator=48))
def test_exact_places_agree_with_float_ones(time_map: TimeMap, beat: Fraction) -> None:
    assert time_map.sample_at(beat) == pytest.approx(float(time_map.exact_sample_at(beat)), abs=1e-3)


@given(time_maps(), st.floats(0, 2000), st.floats(1e-3, 100))
def test_time_only_goes_forward(time_map: TimeMap, beat: float, gap: float) -> None:
    assert time_map.sample_at(beat) < time_map.sample_at(beat + gap)


@given(time_maps(), st.integers(1, 3), st.floats(0, 1, exclude_max=True))
def test_every_sample_is_in_exactly_one_span(time_map: TimeMap, choruses: int, part: float) -> None:
    timeline = Timeline(load_form("jazz-blues", parse_key("B♭")), choruses, time_map)
    start, end = time_map.first_sample_of(Fraction(0)), time_map.first_sample_of(timeline.end_beat)
    sample = start + int(part * (end - start))
    owners = [s for s in timeline.spans if timeline.span_samples(s)[0] <= sample < timeline.span_samples(s)[1]]
    span = timeline.span_at(sample)
    assert owners == [span]
    position = timeline.position_at(sample)
    assert span is not None
    assert position is not None
    assert 1.0 <= position.beat < timeline.beats_per_bar + 1
    if not span.closing:
        assert (position.chorus, position.bar) == (span.chorus, span.bar)
    change = timeline.change_at_or_before(sample)
    assert change is not None
    assert change.after.chord.pitch_classes == span.chord.pitch_classes
    assert timeline.span_at(start - 1) is None
    assert timeline.span_at(end) is None
