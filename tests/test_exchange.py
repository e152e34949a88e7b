"""Harmony from and to other formats: against the W3C schema, music21, published annotations, and refusals by place."""

from __future__ import annotations

import importlib.util
import io
import json
import os
import re
import zipfile
from fractions import Fraction
from functools import cache
from itertools import groupby
from pathlib import Path

import music21
import pytest
import xmlschema
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.changes import load_changes
from progressions.bars import Bar, ChartChord, Meter
from progressions.chart import Chart, parse_chart, write_chart
from progressions.chords import parse_chord
from progressions.errors import ChordError, ExchangeError, ProgressionsError
from progressions.exchange import musicxml
from progressions.exchange.jams import read_jams
from progressions.exchange.lab import read_lab
from progressions.keys import parse_key
from progressions.qualities import MODIFIERS, QUALITIES
from progressions.symbols import canonical_quality

SONG = """
title: Changes & more
key: B♭
meter: 4/4
tempo: 126.5
swing: 1.7
| [pick-up] F7:1 |
[A]
|: B♭maj7 | Gm7♭5 C7alt/E | Cm7 F7sus4(♭9) | %% |
|1 Dm7 G7(♭9,♯11) :|2 B♭6/9 N.C. |
[B]
|: [3/4] E♭13♯11 E♭mMaj7 D°7 | [6/8] [key: G minor] Gm9 C13 :|x3
[C]
| [4/4] [key: B♭] [tempo: 140] B♭:3 C/B♭:1/2 F+:1/2 | F11 | B♭maj7♯5 E♭m11 |
"""


@cache
def schema() -> xmlschema.XMLSchema:
    """The W3C schema of MusicXML 4.0 as the package `musicxml` ships it; XLink's comes with xmlschema."""
    spec = importlib.util.find_spec("musicxml")
    assert spec is not None
    assert spec.origin is not None
    folder = Path(spec.origin).parent / "generate_classes"
    xlink = Path(xmlschema.__file__).parent / "schemas" / "XLINK" / "xlink.xsd"
    places = {"http://www.musicxml.org/xsd/xml.xsd": folder / "xml.xsd"}
    places["http://www.musicxml.org/xsd/xlink.xsd"] = xlink
    return xmlschema.XMLSchema(
        str(folder / "musicxml_4_0.xsd"),
        uri_mapper={url: str(path) for url, path in places.items()},
        allow="local",
        validation="lax",
    )


def faults(score: str) -> list[str]:
    plain = re.sub("<!DOCTYPE[^>]*>", "", score)  # the schema's reader takes no document type
    return [f"{error.path}: {error.reason}" for error in schema().iter_errors(io.BytesIO(plain.encode()))]


def sounding(chart: Chart) -> list[tuple[str, Fraction]]:
    """Every chord once through with its length in beats of its bar."""
    return [(c.chord.symbol, c.duration) for bar in chart.played for c in bar.chords]


def as_played(chart: Chart) -> list[tuple[object, ...]]:
    return [(bar.chords, bar.meter, bar.key, bar.pace) for bar in chart.played]


def test_a_chart_is_written_as_the_schema_has_it_and_read_back_as_it_sounds() -> None:
    chart = parse_chart(SONG)
    score = musicxml.write(chart)
    assert faults(score) == []
    read = musicxml.read(score.encode())
    assert as_played(read) == as_played(chart)
    assert (read.title, read.key, read.meter, read.tempo_bpm, read.swing, read.pickup) == (
        chart.title, chart.key, chart.meter, chart.tempo_bpm, chart.swing, chart.pickup,
    )  # fmt: skip


def test_the_schema_finds_a_fault_where_there_is_one() -> None:
    assert faults(musicxml.write(parse_chart(SONG)).replace("dominant-13th", "dominant-14th")) != []


# music21 stacks every third in these kinds; the 11 under an altered one is altered with it.
STACKS = {"11": {4}, "maj11": {4}, "13": {5}, "maj13": {5}}


def test_music21_reads_the_same_chords_at_the_same_beats() -> None:
    chart = parse_chart(SONG)
    score = music21.converter.parse(musicxml.write(chart), format="musicxml")
    harmonies = list(score.parts[0].flatten().getElementsByClass(music21.harmony.ChordSymbol))
    ours, at = [], Fraction(0)
    for bar, meter in [(chart.pickup, chart.meter), *((b, chart.meter) for b in chart.bars)]:
        assert bar is not None
        meter = bar.meter or (ours[-1][2] if ours else meter)
        for chord in bar.chords:
            ours.append((at, chord.chord, meter))
            at += chord.duration * Fraction(meter.eighths_per_beat, 2)
    assert [Fraction(h.getOffsetInHierarchy(score)) for h in harmonies] == [start for start, _, _ in ours]
    for theirs, (_, chord, _) in zip(harmonies, ours, strict=True):
        root = 0 if chord.root is None else chord.root.pitch_class
        stacked = {(root + semitones) % 12 for semitones in STACKS.get(chord.quality, set())}
        assert {pitch.pitchClass for pitch in theirs.pitches} == chord.pitch_classes | stacked, chord.symbol


@pytest.mark.parametrize(
    "signs",
    [
        "|: C | D :| E |",
        "C | D :| E |",
        "|: C | D |1 E :|2 F | G |",
        "|: C |1,2 D :|3 E |: F | G :|x4",
        "|: C |1 D :|2 E |: F |1 G | A :|2 B | C |",
        "C | D | %% | E | % |",
    ],
)
def test_repeats_are_unfolded_as_music21_unfolds_them(signs: str) -> None:
    chart = parse_chart(f"key: C\n{signs if signs.startswith('|') else '| ' + signs}\n")
    score = musicxml.write(chart)
    assert faults(score) == []
    theirs = music21.converter.parse(score, format="musicxml").parts[0].expandRepeats()
    names = [h.root().name for h in theirs.flatten().getElementsByClass(music21.harmony.ChordSymbol)]
    assert [c.chord.symbol for bar in musicxml.read(score.encode()).played for c in bar.chords] == names


ROOTS = st.sampled_from(["C", "D♭", "E♭", "F♯", "G", "A", "B♭", "B", "C♯", "A♭"])
QUALITY = st.sampled_from(
    [canonical_quality(row, names) for row in QUALITIES for names in ((), *((m.name,) for m in MODIFIERS))]
)


def a_chord(root: str, quality: str, bass: str) -> str:
    try:
        return parse_chord(f"{root}{quality}{bass}").symbol
    except ChordError:  # a modifier that the quality has already
        return f"{root}7"


SYMBOL = st.builds(a_chord, ROOTS, QUALITY, st.sampled_from(["", "", "/C", "/E♭"]))
LENGTHS = st.sampled_from([("4",), ("2", "2"), ("1", "3"), ("1/2", "7/2"), ("4/3", "4/3", "4/3"), ("1", "1/3", "8/3")])


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    bars = []
    for lengths in draw(st.lists(LENGTHS, min_size=1, max_size=6)):
        at, chords = Fraction(0), []
        for length in map(Fraction, lengths):
            chords.append(ChartChord(at, length, parse_chord(draw(st.one_of(SYMBOL, st.just("N.C."))))))
            at += length
        bars.append(Bar(tuple(chords)))
    bars.append(Bar((ChartChord(Fraction(0), Fraction(4), parse_chord("C7")),)))
    key = parse_key(draw(st.sampled_from(["C", "E♭", "F♯", "C minor", "G♯ minor"])))
    tempo = draw(st.sampled_from([None, 60.0, 77.7, 319.9]))
    return Chart("A title", key, Meter(4, 4), tempo, draw(st.sampled_from([None, 1.0, 2.0, 1.6])), tuple(bars))


@given(charts())
@settings(max_examples=60, deadline=None)
def test_every_chart_is_read_back_from_its_score(chart: Chart) -> None:
    assert musicxml.read(musicxml.write(chart).encode()) == chart


@given(SYMBOL)
@settings(max_examples=40, deadline=None)
def test_every_chord_is_valid_in_the_schema(symbol: str) -> None:
    assert faults(musicxml.write(parse_chart(f"key: C\n| {symbol} |\n"))) == []


def test_a_push_is_written_where_it_sounds() -> None:
    read = musicxml.read(musicxml.write(parse_chart("key: C\n| C | <F G | <C |\n")).encode())
    assert sounding(read) == [
        ("C", Fraction(7, 2)), ("F", Fraction(1, 2)), ("F", Fraction(2)), ("G", Fraction(3, 2)), ("C", Fraction(1, 2)),
        ("C", Fraction(4)),
    ]  # fmt: skip


def test_a_push_into_the_first_bar_sounds_in_the_pick_up() -> None:
    read = musicxml.read(musicxml.write(parse_chart("key: C\n| [pick-up] G7:1 |\n| <C | F |\n")).encode())
    assert read.pickup is not None
    assert [(c.chord.symbol, c.duration) for c in read.pickup.chords] == [("G7", Fraction(1, 2)), ("C", Fraction(1, 2))]
    assert sounding(read) == [("C", Fraction(4)), ("F", Fraction(4))]


def score(measures: str, head: str = "") -> bytes:
    """A part in quarters; each measure is `harmony and notes`, told apart by |."""
    time = "<time><beats>4</beats><beat-type>4</beat-type></time>"
    cells = measures.split("|")
    cells[0] = f"<attributes><divisions>1</divisions>{head}{time}</attributes>{cells[0]}"
    inside = "".join(f'<measure number="{n}">{cell}</measure>' for n, cell in enumerate(cells, 1))
    return f'<score-partwise version="4.0"><part id="P1">{inside}</part></score-partwise>'.encode()


def chord_at(root: str, kind: str = "major", rest: str = "") -> str:
    return f"<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind>{rest}</harmony>"


def degree(value: int, alter: int, kind: str) -> str:
    inside = (
        f"<degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter><degree-type>{kind}</degree-type>"
    )
    return f"<degree>{inside}</degree>"


WHOLE = "<note><rest/><duration>4</duration></note>"
HALF = "<note><rest/><duration>2</duration></note>"


# Degrees by the words of the schema: added ones count from a dominant chord, altered ones from the chord itself.
@pytest.mark.parametrize(
    ("kind", "rest", "symbol"),
    [
        ("dominant", degree(9, -1, "add"), "C7♭9"),
        ("dominant", degree(5, 1, "alter"), "C7♯5"),
        ("suspended-fourth", degree(7, 0, "add"), "C7sus4"),
        ("major", degree(7, 1, "add"), "Cmaj7"),
        ("major", degree(9, 0, "add"), "Cadd9"),
        ("minor", degree(9, 0, "add"), "Cm(add9)"),
        ("dominant-13th", degree(11, 1, "alter"), "C13♯11"),
        ("dominant-13th", degree(9, -1, "alter"), "C13♭9"),
        ("minor-seventh", degree(5, -1, "alter"), "Cm7♭5"),
        ("major", degree(3, 0, "subtract"), "C5"),
        ("dominant", degree(5, 0, "subtract"), "C7(no5)"),
        ("other", degree(3, -1, "add") + degree(5, -1, "add") + degree(7, 0, "add"), "Cm7♭5"),
        ("major", "<inversion>1</inversion>", "C/E"),
        ("dominant", "<inversion>3</inversion>", "C7/B♭"),
        ("minor", "<bass><bass-step>B</bass-step><bass-alter>-1</bass-alter></bass>", "Cm/B♭"),
        ("none", "", "N.C."),
    ],
)
def test_kinds_with_degrees_are_symbols(kind: str, rest: str, symbol: str) -> None:
    chart = musicxml.read(score(f"{chord_at('C', kind, rest)}{HALF}{chord_at('G')}{HALF}"))
    assert chart.bars[0].chords[0].chord == parse_chord(symbol)


def test_a_chord_holds_until_the_next_one_and_no_chord_sounds_before_the_first() -> None:
    chart = musicxml.read(score(f"{HALF}{chord_at('C')}{HALF}|{WHOLE}|{HALF}{chord_at('F')}{HALF}"))
    assert write_chart(chart).endswith("| N.C. C | C | C F |\n")


def test_a_part_for_a_transposing_instrument_comes_to_concert_pitch() -> None:
    head = "<key><fifths>1</fifths></key><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    # the order of the schema has transpose after time; readers meet both
    chart = musicxml.read(score(f"{chord_at('A', 'dominant')}{WHOLE}", head))
    assert (str(chart.key), chart.bars[0].chords[0].chord.symbol) == ("F", "G7")


def test_jumps_are_played_out() -> None:
    sound = "<direction><direction-type><words/></direction-type><sound {}/></direction>"
    cells = [
        chord_at("C") + WHOLE,
        sound.format('segno="s"') + chord_at("D") + WHOLE,
        chord_at("E") + WHOLE + sound.format('tocoda="c"'),
        chord_at("F") + WHOLE + sound.format('dalsegno="s"'),
        sound.format('coda="c"') + chord_at("G") + WHOLE,
    ]
    chart = musicxml.read(score("|".join(cells)))
    assert "".join(c.chord.symbol for bar in chart.bars for c in bar.chords) == "CDEFDEG"
    da_capo = [chord_at("C") + WHOLE + sound.format('fine="yes"'), chord_at("D") + WHOLE + sound.format('dacapo="yes"')]
    chart = musicxml.read(score("|".join(da_capo)))
    assert "".join(c.chord.symbol for bar in chart.bars for c in bar.chords) == "CDC"


def test_a_bar_line_inside_a_bar_makes_one_bar_and_measure_repeats_have_their_chords() -> None:
    stop = '<attributes><measure-style><measure-repeat type="stop"/></measure-style></attributes>'
    start = '<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>'
    cells = [chord_at("C") + WHOLE, start + WHOLE, stop + chord_at("F") + HALF, chord_at("G") + HALF]
    assert write_chart(musicxml.read(score("|".join(cells)))).endswith("| C | C | F G |\n")


@pytest.mark.parametrize(
    ("data", "line", "found"),
    [
        (b"", "line 1", "no element found"),
        (b"<a>", "line 1, column 4", "no element found"),
        (b"<a/>", "line 1", "<a>"),
        (b"\x00\xff", "line 1", ""),
        (b'<?xml version="1.0" encoding="klingon"?><a/>', "line 1", "encoding"),
        (b'<!DOCTYPE a [\n<!ENTITY b "c">]><a>&b;</a>', "line 2", "an entity declaration"),
        (b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>', "line 1", "an entity declaration"),
        (b"<a>" * 100, "line 1", "too large a document"),
        (score(WHOLE), "line 1", "no chord symbols"),
        (score(chord_at("H") + WHOLE), "line 1", "root 'H'"),
        (score(chord_at("C", "Tristan") + WHOLE), "line 1", "kind 'Tristan'"),
        (score(chord_at("C", "major", degree(8, 0, "add")) + WHOLE), "line 1", "degree 8"),
        (score(chord_at("C", "major", degree(9, 7, "add")) + WHOLE), "line 1", "degree '9', '7'"),
        (score(chord_at("C") + chord_at("D") + WHOLE), "line 1", "D beside C"),
        (score(WHOLE + chord_at("C")), "line 1", "after the end"),
        (score(f"{chord_at('C')}{HALF}|{chord_at('D')}{HALF}{HALF}{HALF}"), "line 1, measure 2", "6 quarters in 4/4"),
        (score(f"{chord_at('C')}{WHOLE}|{HALF}|{WHOLE}"), "line 1, measure 2", "2 quarters in 4/4"),
        (score(chord_at("C") + WHOLE).replace(b"ns>1", b"ns>0"), "line 1", "divisions '0'"),
        (b"PK\x03\x04 and no more", "the archive", "damaged"),
    ],
)
def test_a_score_that_cannot_be_read_is_refused_with_its_place(data: bytes, line: str, found: str) -> None:
    with pytest.raises(ExchangeError) as refusal:
        musicxml.read(data, "song.musicxml")
    assert refusal.value.place.startswith(line)
    assert found in refusal.value.found
    assert len(str(refusal.value).splitlines()) == 1


def compressed(members: dict[str, bytes]) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return data.getvalue()


CONTAINER = b'<container><rootfiles><rootfile full-path="a/song.xml"/></rootfiles></container>'


def test_compressed_scores_are_read_and_bombs_are_not() -> None:
    whole = score(chord_at("C") + WHOLE)
    packed = compressed({"META-INF/container.xml": CONTAINER, "a/song.xml": whole})
    assert musicxml.read(packed) == musicxml.read(whole)
    bomb = compressed({"META-INF/container.xml": CONTAINER, "a/song.xml": b" " * 9_000_000})
    with pytest.raises(ExchangeError, match="too large a score"):
        musicxml.read(bomb)
    with pytest.raises(ExchangeError, match="no such file"):
        musicxml.read(compressed({"META-INF/container.xml": CONTAINER}))


LAB = "0.0 0.5 N\n0.5 2.5 C:7\n2.5 4.5 F:9\n4.5 5.5 A#:min7/b3\n5.5 6.5 G:7(#9)\n6.5 9 N\n"


def test_a_lab_file_is_quantised_by_the_tempo_from_its_first_chord_on() -> None:
    chart = read_lab(LAB, tempo_bpm=120.0)
    assert write_chart(chart) == "key: C\nmeter: 4/4\ntempo: 120\n| C7 | F9 | B♭m7/D♭ G7♯9 |\n"
    # times that are off by less than a quarter beat make no difference
    shaken = LAB.replace("2.5", "2.58").replace("4.5", "4.41")
    assert read_lab(shaken, tempo_bpm=120.0) == chart
    assert str(read_lab(LAB, tempo_bpm=120.0, key=parse_key("F")).key) == "F"
    assert read_lab(LAB, tempo_bpm=120.0, meter=Meter(3, 4)).meter == Meter(3, 4)


@pytest.mark.parametrize(
    ("text", "place", "found"),
    [
        ("", "line 1", "no chord"),
        ("0 1 N", "line 1", "no chord"),
        ("0 1 C\n1 2", "line 2", "2 words"),
        ("0 1 C\nx 2 D", "line 2", "time 'x'"),
        ("0 1 C\nnan 2 D", "line 2", "time 'nan'"),
        ("0 1 C\n2 1 D", "line 2", "before the start"),
        ("0 9 C\n2 4 D", "line 2", "before the last one ends"),
        ("0 1 C\n1 2 C:maj8", "line 2", "character 3"),
        ("0 1 C\n9000 9001 C", "line 2", "bars"),
    ],
)
def test_a_bad_lab_file_is_refused_with_its_line(text: str, place: str, found: str) -> None:
    with pytest.raises(ExchangeError) as refusal:
        read_lab(text, "song.lab", tempo_bpm=120.0)
    assert refusal.value.place == place
    assert found in refusal.value.found


def test_a_lab_file_needs_a_tempo() -> None:
    with pytest.raises(ExchangeError, match="a tempo to be given"):
        read_lab(LAB, tempo_bpm=None)


def jams(*annotations: tuple[str, list[tuple[float, float, object]]]) -> str:
    return json.dumps(
        {
            "annotations": [
                {"namespace": space, "data": [{"time": t, "duration": d, "value": v} for t, d, v in data]}
                for space, data in annotations
            ],
            "file_metadata": {"title": "A title"},
        }
    )


def test_jams_chords_go_to_the_beats_that_it_tells() -> None:
    # beats that slow down; the file begins on the third beat of a bar
    times = [0.0, 0.5, 1.0, 1.5, 2.1, 2.8, 3.6, 4.5, 5.5, 6.6]
    beats = [(t, 0.0, {"position": (n + 2) % 4 + 1, "num_beats": 4, "beat_units": 4}) for n, t in enumerate(times)]
    chords = [(0.0, 1.0, "N"), (1.0, 1.1, "D:min7"), (2.1, 1.5, "G:7"), (3.6, 4.1, "C:maj7")]
    text = jams(("beat_position", beats), ("chord_harte", chords), ("key_mode", [(0.0, 6.6, "C:major")]))
    chart = read_jams(text)
    assert [c.chord.symbol for bar in chart.bars for c in bar.chords] == ["Dm7", "G7", "Cmaj7"]
    assert [c.duration for bar in chart.bars for c in bar.chords] == [2, 2, 4]
    assert (str(chart.key), chart.title) == ("C", "A title")


@pytest.mark.parametrize(
    ("text", "place", "found"),
    [
        ("", "line 1, column 1", "Expecting value"),
        ("[" * 100_000, "line 1", ""),
        ('{"annotations": 1}', "line 1", "no list"),
        (jams(), "annotations", "no chords"),
        (jams(("chord", [(0, 1, "C:maj8")])), "annotation 1, chord 1 at 0.00 s", "character 3"),
        (jams(("chord", [(0, 1, 5)])), "annotation 1, chord 1 at 0.00 s", "no chord label"),
        (jams(("chord", [(0, -1, "C")])), "annotation 1, chord 1", "no time"),
        (jams(("chord", [(0, 1, "C")])), "annotation 1, chord 1", "without beats"),
        (jams(("chord", [(0, 1, "C")]), ("tempo", [(0, 1, 1e-9)])), "annotation 1, chord 1", "tempo 1e-09"),
        (jams(("chord", [(0, 1, "C")]), ("beat", [(0, 0, 1), (1e-9, 0, 2)])), "annotation 2, beat 2", "two beats"),
        ('{"annotations": [{"namespace": "chord", "data": {"time": 1}}]}', "annotation 1", "data without"),
    ],
)
def test_bad_jams_is_refused_with_its_place(text: str, place: str, found: str) -> None:
    with pytest.raises(ExchangeError) as refusal:
        read_jams(text, "song.jams")
    assert refusal.value.place.startswith(place)
    assert found in refusal.value.found


def test_the_instructed_chords_of_a_published_recording() -> None:
    """GuitarSet (Xi et al., ISMIR 2018): a twelve-bar blues in E♭ at 129 bpm, labelled with D# and G#."""
    folder = os.environ.get("BLUETHIRD_DATA")
    if not folder:
        pytest.skip("BLUETHIRD_DATA names no folder of outside data")
    chart = load_changes(str(Path(folder) / "real_blues_solo" / "comp.jams"), None)
    assert (str(chart.key), chart.tempo_bpm, chart.meter) == ("E♭", 129.0, Meter(4, 4))
    assert write_chart(chart).splitlines()[-3:] == [
        "| E♭ | E♭ | E♭ | E♭ |", "| A♭ | A♭ | E♭ | E♭ |", "| B♭ | A♭ | E♭ | E♭ |",
    ]  # fmt: skip


def test_chart_files_of_every_format_are_changes(tmp_path: Path) -> None:
    whole = score(chord_at("C", "dominant") + WHOLE, "<key><fifths>0</fifths></key>")
    packed = compressed({"META-INF/container.xml": CONTAINER, "a/song.xml": whole})
    files = {"a.musicxml": whole, "a.mxl": packed, "a.XML": whole, "a.txt": b"key: C\n| C7 |\n"}
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
        assert sounding(load_changes(str(tmp_path / name), None)) == [("C7", Fraction(4))]
        assert sounding(load_changes(str(tmp_path / name), "E♭")) == [("E♭7", Fraction(4))]
    (tmp_path / "a.lab").write_text("0 2 C:7\n")
    assert sounding(load_changes(str(tmp_path / "a.lab"), "F", 120.0)) == [("C7", Fraction(4))]
    (tmp_path / "a.jams").write_text(jams(("chord", [(0, 2, "C:7")]), ("tempo", [(0, 2, 120)])))
    assert sounding(load_changes(str(tmp_path / "a.jams"), None)) == [("C7", Fraction(4))]
    with pytest.raises(ProgressionsError, match=r"a\.lab, line 1: seconds without beats"):
        load_changes(str(tmp_path / "a.lab"), None)


def test_lead_sheets_of_other_hands_are_read_as_music21_reads_them() -> None:
    """Compressed scores that come with music21, written by notation programs, with repeats and endings."""
    paths = [Path(path) for path in music21.corpus.getComposer("leadSheet")]
    assert paths
    for path in paths:
        theirs = music21.corpus.parse(str(path)).parts[0].expandRepeats()
        figures = theirs.flatten().getElementsByClass(music21.harmony.ChordSymbol)
        changes = [frozenset(pitch.pitchClass for pitch in figure.pitches) for figure in figures]
        chart = musicxml.read(path.read_bytes(), path.name)
        ours = [c.chord.pitch_classes for bar in chart.played for c in bar.chords if not c.chord.is_no_chord]
        assert without_repeats(ours) == without_repeats(changes)
        assert len(chart.played) == len(theirs.getElementsByClass("Measure"))


def without_repeats(chords: list[frozenset[int]]) -> list[frozenset[int]]:
    return [chord for chord, _ in groupby(chords)]
