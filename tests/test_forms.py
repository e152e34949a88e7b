"""The library of forms against common practice, in every key."""

from __future__ import annotations

import pytest

from progressions.changes import Chart
from progressions.chart import parse_chart, write_chart
from progressions.errors import ProgressionsError
from progressions.forms import form_key, form_names, form_title, load_form
from progressions.keys import Key, parse_key

MAJOR_KEYS = ["C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B"]


def symbols(chart: Chart) -> str:
    return " | ".join(" ".join(c.chord.symbol for c in bar.chords) for bar in chart.bars)


# Written out by hand: the forms of common practice in keys where they are mostly played.
@pytest.mark.parametrize(
    ("form", "key", "changes"),
    [
        ("blues", "A", "A7 | A7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | A7"),
        ("blues", "Eb", "E♭7 | E♭7 | E♭7 | E♭7 | A♭7 | A♭7 | E♭7 | E♭7 | B♭7 | A♭7 | E♭7 | E♭7"),
        ("blues-quick-change", "E", "E7 | A7 | E7 | E7 | A7 | A7 | E7 | E7 | B7 | A7 | E7 | B7"),
        ("blues-turnaround", "G", "G7 | G7 | G7 | G7 | C7 | C7 | G7 | G7 | D7 | C7 | G7 C7 | G7 D7"),
        ("blues-minor", "Cm", "Cm7 | Cm7 | Cm7 | Cm7 | Fm7 | Fm7 | Cm7 | Cm7 | A♭7 | G7 | Cm7 | G7"),
        (
            "jazz-blues",
            "F",
            "F7 | B♭7 | F7 | Cm7 F7 | B♭7 | B°7 | F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7",
        ),
        ("eight-bar-blues", "E", "E7 | B7 | A7 | A7 | E7 | B7 | E7 A7 | E7 B7"),
        ("two-five-one", "Bb", "Cm7 | F7 | B♭maj7 | B♭maj7"),
        ("two-five-one-minor", "Am", "Bm7♭5 | E7♭9 | Am6 | Am6"),
        ("turnaround", "F#", "F♯maj7 D♯m7 | G♯m7 C♯7"),
    ],
)
def test_forms_are_those_of_common_practice(form: str, key: str, changes: str) -> None:
    assert symbols(load_form(form, parse_key(key))) == changes


@pytest.mark.parametrize(
    ("form", "bars", "beats"),
    [
        ("blues", 12, 4),
        ("sixteen-bar-blues", 16, 4),
        ("rhythm-changes", 32, 4),
        ("three-four-blues", 12, 3),
        ("modal-vamp", 8, 4),
    ],
)
def test_forms_have_their_length_and_meter(form: str, bars: int, beats: int) -> None:
    chart = load_form(form, parse_key("B♭"))
    assert (len(chart.bars), chart.meter.beats_per_bar) == (bars, beats)


@pytest.mark.parametrize("form", form_names())
@pytest.mark.parametrize("key", MAJOR_KEYS)
def test_every_form_is_spelled_plainly_in_every_key(form: str, key: str) -> None:
    chart = load_form(form, parse_key(key))
    home = load_form(form, parse_key("C"))
    assert parse_chart(write_chart(chart)) == chart
    up = parse_key(key).tonic.pitch_class
    for bar, home_bar in zip(chart.bars, home.bars, strict=True):
        for c, home_c in zip(bar.chords, home_bar.chords, strict=True):
            assert c.chord.root is not None
            assert abs(c.chord.root.accidental) <= 1
            assert c.chord.functions == home_c.chord.functions
            assert c.chord.pitch_classes == {(pc + up) % 12 for pc in home_c.chord.pitch_classes}


def test_rhythm_changes_are_aaba() -> None:
    bars = load_form("rhythm-changes", parse_key("F")).bars
    assert [(at + 1, bar.section) for at, bar in enumerate(bars) if bar.section] == [
        (1, "A"), (9, "A"), (17, "B"), (25, "A"),
    ]  # fmt: skip


def test_a_minor_form_stays_minor_and_takes_the_usual_name_of_its_key() -> None:
    assert load_form("blues-minor", parse_key("D")).key == parse_key("D minor")
    assert load_form("blues-minor", parse_key("Gb")).key == parse_key("F# minor")
    assert load_form("blues", parse_key("Gb")).key == parse_key("Gb")
    assert load_form("blues", parse_key("G#")).key == parse_key("Ab")


def test_forms_have_a_title_and_a_customary_key() -> None:
    assert len({form_title(name) for name in form_names()}) == len(form_names()) >= 12
    assert form_key("blues") == Key(parse_key("A").tonic)


def test_an_unknown_form_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(ProgressionsError, match="expected one of blues, blues-minor, blues-quick-change"):
        load_form("bleus", parse_key("A"))


def test_a_major_form_in_a_minor_key_is_refused() -> None:
    with pytest.raises(ProgressionsError, match="is in major"):
        load_form("blues", parse_key("A minor"))
