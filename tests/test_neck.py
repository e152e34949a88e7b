"""The neck: tunings, zones, chord shapes and fingers. Check values are common practice of the guitar unless named."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.cli import main
from listener.errors import Exit
from progressions.chords import Chord, parse_chord
from progressions.errors import ProgressionsError
from progressions.neck import (
    TUNINGS,
    Fretboard,
    Tuning,
    Zone,
    format_tuning,
    forms_without_room,
    has_forms,
    parse_tuning,
    zone_at,
    zones,
)
from progressions.neck.fingers import shape_fingers
from progressions.neck.tunings import OpenString
from progressions.pitch import Spelled, midi_name
from progressions.qualities import QUALITIES

STANDARD = Fretboard()
ROOTS = [Spelled(letter, sign) for letter in "CDEFGAB" for sign in (-1, 0, 1)]
CHORDS = [parse_chord(f"{root}{quality.name}") for root in ROOTS for quality in QUALITIES]


def tuned(lowest: int, steps: list[int]) -> Tuning:
    midis = [lowest]
    for step in steps:
        midis.append(midis[-1] + step)
    names = [Spelled("CCDDEFFGGAAB"[m % 12], 1 if m % 12 in (1, 3, 6, 8, 10) else 0) for m in midis]
    return Tuning(tuple(OpenString(midi, name) for midi, name in zip(midis, names, strict=True)))


steps = st.integers(5, 7).flatmap(lambda n: st.lists(st.integers(0, 8), min_size=n, max_size=n))
any_tuning = st.builds(tuned, st.integers(24, 42), steps.filter(lambda s: sum(s) <= 46))
tunings = st.one_of(st.sampled_from(sorted(TUNINGS)).map(parse_tuning), any_tuning)
boards = st.builds(Fretboard, tunings, st.integers(22, 24), st.integers(0, 7))  # room for an octave of zones
law = settings(deadline=None)
chords = st.one_of(st.sampled_from(CHORDS), st.sampled_from(["C/E", "F♯m7/B", "A7(♭9,♯11)"]).map(parse_chord))


# G7 = G B D F. Form: strings and frets of the chord shape, its functions and letters, the frets that the zone uses.
G7_SHAPES = {
    "E": ((6, 5, 4, 3, 2, 1), (3, 5, 3, 4, 3, 3), "R 5 ♭7 3 5 R", "G D F B D G", (2, 6)),
    "D": ((4, 3, 2, 1), (5, 7, 6, 7), "R 5 ♭7 3", "G D F B", (4, 8)),
    "C": ((5, 4, 3, 2), (10, 9, 10, 8), "R 3 ♭7 R", "G B F G", (7, 10)),
    "A": ((5, 4, 3, 2), (10, 12, 10, 12), "R 5 ♭7 3", "G D F B", (9, 13)),
    "G": ((6, 5, 4, 3), (3, 2, 3, 0), "R 3 ♭7 R", "G B F G", (0, 3)),
}


@pytest.mark.parametrize("form", G7_SHAPES)
def test_the_shapes_and_zones_of_g7_string_by_string(form: str) -> None:
    strings, frets, functions, letters, used = G7_SHAPES[form]
    zone = zone_at(parse_chord("G7"), STANDARD, form)
    held = zone.shape.notes
    assert tuple(note.string for note in held) == strings
    assert tuple(note.fret for note in held) == frets
    assert " ".join(note.function for note in held) == functions
    assert " ".join(str(note.name) for note in held) == letters
    assert (zone.used_frets, zone.lowest_fret, zone.shape.left_out) == (used, used[0], ())
    assert (zone.root.string, zone.root.fret) == (strings[0], frets[0])


def test_the_g_form_of_g7_lies_an_octave_higher_too() -> None:
    high = [zone for zone in zones(parse_chord("G7"), STANDARD, everywhere=True) if zone.form == "G"][1]
    assert high.used_frets == (12, 15)
    # B3 lies on string 3 at 16 and on string 2 at 12; the first finger stands at 12
    assert [(n.string, n.fret) for n in high.notes if midi_name(n.midi) == "B4"] == [(2, 12)]


# Open chords and barre chords of common practice, low string first; x is not played.
SHAPES = [
    ("C", "C", "x 3 2 0 1 x", "R 3 5 R"),
    ("A", "A", "x 0 2 2 2 x", "R 5 R 3"),
    ("E", "E", "0 2 2 1 0 0", "R 5 R 3 5 R"),
    ("D", "D", "x x 0 2 3 2", "R 5 R 3"),
    ("C7", "C", "x 3 2 3 1 x", "R 3 ♭7 R"),
    ("Am7", "A", "x 0 2 0 1 x", "R 5 ♭7 ♭3"),
    ("F", "E", "1 3 3 2 1 1", "R 5 R 3 5 R"),
    ("Fm7", "E", "1 3 1 1 1 1", "R 5 ♭7 ♭3 5 R"),
    ("B♭maj7", "A", "x 1 3 2 3 x", "R 5 7 3"),
    ("E7♯9", "C", "x 7 6 7 8 x", "R 3 ♭7 ♯9"),
    ("C9", "C", "x 3 2 3 3 x", "R 3 ♭7 9"),
    ("C♯m7♭5", "A", "x 4 5 4 5 x", "R ♭5 ♭7 ♭3"),
    ("C/G", "A", "3 3 5 5 5 x", "5 R 5 R 3"),
]


@pytest.mark.parametrize(("symbol", "form", "frets", "functions"), SHAPES)
def test_shapes_as_they_are_known(symbol: str, form: str, frets: str, functions: str) -> None:
    shape = zone_at(parse_chord(symbol), STANDARD, form).shape
    assert " ".join("x" if fret is None else str(fret) for fret in shape.frets(6)) == frets
    assert " ".join(note.function for note in shape.notes) == functions


@pytest.mark.parametrize(
    ("frets", "fingers"),
    [
        ([1, 3, 3, 2, 1, 1], (1, 3, 4, 2, 1, 1)),  # F, barre
        ([None, 3, 2, 0, 1, None], (0, 3, 2, 0, 1, 0)),  # C, open
        ([None, 3, 2, 3, 1, None], (0, 3, 2, 4, 1, 0)),  # C7, open
        ([None, None, 0, 2, 1, 2], (0, 0, 0, 2, 1, 3)),  # D7, open
        ([3, None, 3, 3, 2, None], (2, 0, 3, 4, 1, 0)),  # Gm7♭5
    ],
)
def test_fingers_of_shapes_as_they_are_taught(frets: list[int | None], fingers: tuple[int, ...]) -> None:
    held = shape_fingers(frets)
    assert held is not None
    assert held[0] == fingers


def test_what_no_hand_can_hold_has_no_fingers() -> None:
    assert shape_fingers([1, 6, None, None, None, None]) is None  # six frets
    assert shape_fingers([1, 2, 3, 2, 4, 3]) is None  # six fingers


def test_every_shape_in_standard_tuning_holds_root_third_and_seventh() -> None:
    for chord in CHORDS:
        guides = {f for f in chord.functions if f in ("R", "3", "♭3", "7", "♭7", "°7")}
        for zone in zones(chord, STANDARD):
            assert guides <= {note.function for note in zone.shape.notes}, (chord, zone.title)


def test_the_minor_thirds_lie_beside_the_major_ones() -> None:
    zone = zone_at(parse_chord("C7"), STANDARD, "C")  # x 3 2 3 1, E♭ at string 4 fret 1, string 2 fret 4
    assert {(n.string, n.fret, str(n.name)) for n in zone.flat_thirds} == {(4, 1, "E♭"), (2, 4, "E♭")}
    assert zone_at(parse_chord("Cm7"), STANDARD, "C").flat_thirds == ()
    assert zone_at(parse_chord("C7♯9"), STANDARD, "C").flat_thirds == ()  # there it is the ♯9, a chord tone


def test_an_arpeggio_is_played_a_finger_a_fret() -> None:
    zone = zone_at(parse_chord("G7"), STANDARD, "E")  # first finger at 2, the little finger stretches for 6
    assert {note.fret: note.finger for note in zone.notes} == {2: 1, 3: 2, 4: 3, 5: 4, 6: 4}


@law
@given(chords, boards)
def test_laws_of_zones(chord: Chord, board: Fretboard) -> None:
    found = zones(chord, board)
    if has_forms(board):
        assert {zone.form for zone in found} <= set("CAGED")
        assert len(found) == 5
    for zone in found:
        check_zone(zone, chord, board)


def check_zone(zone: Zone, chord: Chord, board: Fretboard) -> None:
    assert zone.highest_fret - zone.lowest_fret == 4
    assert zone.highest_fret <= board.last_fret
    window = range(zone.lowest_fret, zone.highest_fret + 1)
    # what lies there, told again from the tuning alone
    there = {open_midi + board.capo + fret for open_midi in board.tuning.midis for fret in window}
    tones = [m for m in range(min(there), max(there) + 1) if m % 12 in chord.pitch_classes]
    assert [note.midi for note in zone.notes] == [midi for midi in tones if midi in there]
    assert [gap.midi for gap in zone.gaps] == [midi for midi in tones if midi not in there]
    placed = [*zone.notes, *zone.flat_thirds, *zone.shape.notes]
    for note in placed:
        assert note.fret in window
        assert board.midi_at(note.string, note.fret) == note.midi
        assert note.midi % 12 == note.name.pitch_class
        assert (note.finger == 0) == (note.fret == 0)
    for note in (*zone.notes, *zone.shape.notes):
        assert chord.function_of(note.midi % 12) == note.function
    assert zone.root.function == "R"
    assert [note.midi + 1 for note in zone.flat_thirds] == [
        note.midi
        for note in zone.notes
        if note.function == "3" and note.midi - 1 in there and not chord.function_of((note.midi - 1) % 12)
    ]
    check_hand(zone)


def check_hand(zone: Zone) -> None:
    """No stretch over five frets; a higher fret never has a lower finger."""
    for notes in (zone.shape.notes, (*zone.notes, *zone.flat_thirds)):
        fretted = sorted((note.fret, note.finger) for note in notes if note.fret)
        if fretted:
            assert fretted[-1][0] - fretted[0][0] < 5
            assert all(finger in range(1, 5) for _, finger in fretted)
    ordered = sorted({(note.fret, note.finger) for note in zone.shape.notes if note.fret})
    assert all(low[1] <= high[1] for low, high in pairwise(ordered))
    assert len({note.string for note in zone.shape.notes}) == len(zone.shape.notes)


def test_forms_that_the_neck_has_no_room_for_are_named() -> None:
    short = Fretboard(frets=12)  # the A form of G7 stands at 9 to 13
    found = zones(parse_chord("G7"), short)
    assert [zone.form for zone in found] == ["G", "E", "D", "C"]
    assert forms_without_room(found, short) == ("A",)


def test_gaps_of_a_dropped_string_are_listed() -> None:
    # Drop D from fret 4: string 6 ends at A♯2 (D2 + 8), string 5 starts at C♯3 (A2 + 4); B2 is between, and no C3 in G.
    drop = Fretboard(parse_tuning("drop D"))
    zone = next(zone for zone in zones(parse_chord("G"), drop, everywhere=True) if zone.lowest_fret == 4)
    assert [(midi_name(gap.midi), gap.function, gap.below_string) for gap in zone.gaps] == [("B2", "3", 5)]
    assert zone.form == ""


@law
@given(st.sampled_from(CHORDS), st.sampled_from(["seven strings", "eight strings"]))
def test_more_strings_below_leave_the_upper_six_as_they_are(chord: Chord, name: str) -> None:
    wide = {zone.form: zone for zone in zones(chord, Fretboard(parse_tuning(name)))}
    for zone in zones(chord, STANDARD):
        upper = [note for note in wide[zone.form].notes if note.string <= 6]
        assert [(n.string, n.fret, n.function) for n in upper] == [(n.string, n.fret, n.function) for n in zone.notes]
        assert wide[zone.form].shape.frets(6) == zone.shape.frets(6)


def test_over_a_capo_at_2_an_a7_is_held_as_g7() -> None:
    over_capo = {zone.form: zone for zone in zones(parse_chord("A7"), Fretboard(capo=2))}
    for zone in zones(parse_chord("G7"), STANDARD):
        assert over_capo[zone.form].shape.frets(6) == zone.shape.frets(6)
        assert [note.fret for note in over_capo[zone.form].notes] == [note.fret for note in zone.notes]


@law
@given(tunings)
def test_a_tuning_written_is_the_tuning_read(tuning: Tuning) -> None:
    assert parse_tuning(format_tuning(tuning)) == tuning


@pytest.mark.parametrize(
    ("text", "midis"),
    [
        ("standard", (40, 45, 50, 55, 59, 64)),  # E2 is MIDI 40, E4 64 (MIDI 1.0: C4 is 60)
        ("EADGBE", (40, 45, 50, 55, 59, 64)),
        ("D-A-D-G-A-D", (38, 45, 50, 55, 57, 62)),
        ("dadgad", (38, 45, 50, 55, 57, 62)),
        ("Drop D", (38, 45, 50, 55, 59, 64)),
        ("D G D G B D", (38, 43, 50, 55, 59, 62)),
        ("Eb Ab Db Gb Bb Eb", (39, 44, 49, 54, 58, 63)),
        ("BEADGBE", (35, 40, 45, 50, 55, 59, 64)),
        ("F#BEADGBE", (30, 35, 40, 45, 50, 55, 59, 64)),
        ("E2 A2 D3 G3 C4 F4", (40, 45, 50, 55, 60, 65)),
    ],
)
def test_tunings_by_name_and_by_notes(text: str, midis: tuple[int, ...]) -> None:
    assert parse_tuning(text).midis == midis


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("E A D G B", "5 strings: expected 6 to 8"),
        ("E A D G B H", "character 11: expected note names"),
        ("E4 A2 D3 G3 B3 E4", "A2 after E4: expected strings from low to high"),
        ("E2 A2 D3 G3 B3 E9", "E9: expected A0 to E6"),
        ("", "character 1|0 strings"),
    ],
)
def test_a_bad_tuning_is_refused_with_its_place(text: str, words: str) -> None:
    with pytest.raises(ProgressionsError, match=words):
        parse_tuning(text)


@pytest.mark.parametrize("show", ["degrees", "notes", "fingers"])
@pytest.mark.parametrize("zone", [[], ["--zone", "D"]])
def test_the_drawing_keeps_to_80_columns(show: str, zone: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    for more in ([], ["--left"], ["--tuning", "eight strings"], ["--tuning", "DADGAD", "--capo", "3"]):
        if zone and "DADGAD" in more:
            continue
        assert main(["neck", "G♭7(♯11)", "--show", show, *zone, *more]) == Exit.DONE
        drawn = capsys.readouterr().out.splitlines()
        assert max(map(len, drawn)) <= 80


def test_the_drawing_says_where_each_tone_lies(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["neck", "G7"]) == Exit.DONE
    drawn = capsys.readouterr().out.splitlines()
    assert drawn[0].split() == ["G7", "R", "G", "3", "B", "5", "D", "♭7", "F", "standard"]
    # E form in the middle of the upper row, string 5: B at 2, D at 5; by hand from the check values above
    string_5 = next(line for line in drawn if line.startswith("A "))
    assert string_5[29:54].split("│") == ["─3──", "────", "────", "●5──", "────", ""]


def test_left_handed_is_the_mirror_image(capsys: pytest.CaptureFixture[str]) -> None:
    def frets(*more: str) -> list[str]:
        assert main(["neck", "A7", "--zone", "E", *more]) == Exit.DONE
        return next(
            line
            for line in capsys.readouterr().out.splitlines()
            if line.split() and line.split()[0].isdigit() and len(line.split()) == 5
        ).split()

    assert frets("--left") == frets()[::-1] == ["8", "7", "6", "5", "4"]


def test_the_page_to_print_is_svg_with_title_and_description(tmp_path: Path) -> None:
    page = tmp_path / "g7.svg"
    assert main(["neck", "G7", "--svg", str(page)]) == Exit.DONE
    tree = ElementTree.parse(page).getroot()
    space = {"s": "http://www.w3.org/2000/svg"}
    assert tree.find("s:title", space).text == "G7: 5 zones of the neck"  # type: ignore[union-attr]
    told = tree.find("s:desc", space).text or ""  # type: ignore[union-attr]
    assert "E form, frets 2–6: string 6: 3 R G; string 5: 2 3 B, 5 5 D;" in told
    # every tone of five zones is a circle; the legend has two more
    assert len(tree.findall(".//s:circle", space)) == sum(len(z.notes) for z in zones(parse_chord("G7"), STANDARD)) + 2
    assert main(["neck", "G7", "--svg", str(page)]) == Exit.USAGE
    assert main(["neck", "A7", "--svg", str(page), "--force"]) == Exit.DONE
    assert "A7" in page.read_text(encoding="utf-8")


def test_the_document_of_the_neck(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["neck", "Bb7", "--zone", "E", "--json"]) == Exit.DONE
    document = json.loads(capsys.readouterr().out)
    assert (document["schema"], document["chord"], document["tuning"]) == ("bluethird/neck/1", "B♭7", "standard")
    (zone,) = document["zones"]
    assert [note["fret"] for note in zone["shape"]] == [6, 8, 6, 7, 6, 6]
    assert zone["shape"][3]["name"] == "D"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["H7"], "character 1"),
        (["N.C."], "expected a chord"),
        (["G7", "--zone", "Q"], "expected C, A, G, E, D or a lowest fret"),
        (["G7", "--tuning", "E A D"], "expected 6 to 8"),
        (["G7", "--capo", "12"], "expected 0"),
        (["G7", "--frets", "4"], "expected 12 to 36"),
    ],
)
def test_a_bad_wish_gets_one_sentence_and_code_4(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["neck", *arguments]) == Exit.BAD_INPUT
    (complaint,) = capsys.readouterr().err.splitlines()
    assert complaint.startswith("bluethird: ")
    assert words in complaint
