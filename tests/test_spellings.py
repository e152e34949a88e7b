"""Chord symbols in every dialect: the tones of each from a named source, and what three other libraries make of them.

Sources. `SYMBOLS` is common practice: degrees of each chord as primers of jazz harmony give them, and how charts write
it. `HARTE` are the shorthands of Harte, Sandler, Abdallah and Gómez, "Symbolic representation of musical chords: a
proposed syntax" (ISMIR 2005), with those that the JAMS namespace "chord" adds; the degrees of the paper's table stand
here from memory and are checked against mir_eval's. `KINDS` are the kind values of MusicXML 4.0, in the words of its
W3C schema. Where music21, pychord or mir_eval differ the tables of differences say why ours is right; a difference
that stands in no table fails.
"""

from __future__ import annotations

import warnings
from collections import Counter

import mir_eval.chord
import pychord
import pytest
from music21 import harmony
from pychord.utils import note_to_val

from progressions.chords import Chord, parse_chord
from progressions.errors import ChordError, TwoReadingsError
from progressions.exchange.harte import SHORTHANDS, parse_harte
from progressions.exchange.kinds import KINDS, functions_of_kind
from progressions.qualities import FUNCTIONS

SYMBOLS = """
1 3 5             : C CM Cmaj Cma Cmajor CMA CMaj C/E C/G
1 b3 5            : Cm Cmin Cmi C- C− Cminor CMI
1 b3 b5           : Cdim C° Cº Co Cm(b5) C-(♭5) Cmb5
1 3 #5            : Caug C+ C(#5) CAug
1 3 b5            : C(b5) C(♭5) C-5
1 5               : C5 C(no3) C(omit3)
1 2 5             : Csus2
1 4 5             : Csus4 Csus Csus/G
1 4 5 9           : Csus4(add9) Csus(add9)
1 3 5 6           : C6 Cmaj6 CM6 Cma6
1 b3 5 6          : Cm6 Cmin6 C-6 Cmi6
1 3 5 6 9         : C6/9 C69 C6(9) C6add9 Cmaj6/9 C6/9/E
1 3 5 6 9 #11     : C6/9#11 C6/9(#11) C69(#11)
1 3 5 6 #11       : C6#11 C6(#11)
1 b3 5 6 9        : Cm6/9 C-69 Cm69 Cm6(9) Cm6add9
1 3 5 7           : Cmaj7 CM7 CΔ7 CΔ Cma7 C∆7 CMaj7 CMA7 C^7 C^ Cj7
1 3 5 7 9         : Cmaj9 CM9 CΔ9 Cmaj7(9) Cma9 Cj9 C^9
1 5 7 9 11        : Cmaj11 CM11
1 3 5 7 9 13      : Cmaj13 CM13 CΔ13 Cma13
1 3 5 7 #11       : Cmaj7#11 CΔ7(♯11) CM7+11 CΔ#11 Cmaj7(#11) Cma7#11
1 3 5 7 9 #11     : Cmaj9#11 CM9(#11) CΔ9#11
1 3 5 7 9 #11 13  : Cmaj13#11 CM13(#11)
1 3 5 7 13        : Cmaj7(13) Cmaj7add13
1 3 #5 7          : Cmaj7#5 C+maj7 CaugM7 CM7#5 C+M7 CΔ#5 CΔ+ Cmaj7(#5) C+Δ
1 3 b5 7          : Cmaj7b5 CM7b5 CΔ(b5)
1 4 5 7           : Cmaj7sus4 CM7sus4
1 3 5 b7          : C7 Cdom7
1 3 5 b7 9        : C9 C7(9) C7add9 Cdom9
1 5 b7 9 11       : C11
1 3 5 b7 9 13     : C13 C9(13) C7(9,13) C7(9/13) Cdom13
1 3 5 b7 13       : C7(13) C7add13
1 4 5 b7          : C7sus4 C7sus C7(sus4)
1 2 5 b7          : C7sus2
1 4 5 b7 9        : C9sus4 C9sus
1 4 5 b7 9 13     : C13sus4 C13sus
1 4 5 b7 b9       : C7sus4(b9) C7b9sus4 C7sus4b9 C7susb9 C7sus(b9) C7b9sus
1 4 5 b7 b9 13    : C13b9sus4 C13sus(b9)
1 3 5 b7 b9       : C7b9 C7♭9 C7-9 C7(b9) C7−9
1 3 5 b7 #9       : C7#9 C7♯9 C7+9 C7(#9)
1 3 5 b7 b9 #9    : C7(b9,#9) C7b9#9
1 3 5 b7 b9 #11   : C7(b9,#11) C7(b9#11) C7b9#11 C7(b9/#11) C7(b9_#11)
1 3 5 b7 #9 #11   : C7#9#11 C7(#9,#11)
1 3 5 b7 #11      : C7#11 C7+11 C7(#11) C7#4
1 3 5 b7 9 #11    : C9#11 C9(#11) C9+11
1 3 5 b7 9 #11 13 : C13#11 C13(#11)
1 3 5 b7 b13      : C7b13 C7-13 C7(b13) C7b6
1 3 5 b7 9 b13    : C9b13 C9(b13)
1 3 5 b7 b9 b13   : C7(b9,b13) C7b9b13
1 3 5 b7 b9 13    : C13b9 C13(b9) C13-9
1 3 5 b7 #9 13    : C13#9 C13(#9)
1 3 b5 b7         : C7b5 C7-5 C7(♭5)
1 3 b5 b7 9       : C9b5 C9(b5) C9-5
1 3 b5 b7 b9      : C7b5b9 C7(b5,b9) C7b9b5 C7-5-9
1 3 b5 b7 #9      : C7b5#9 C7#9b5
1 3 #5 b7         : C7#5 C+7 Caug7 C7+ C7+5 C7aug C7(#5)
1 3 #5 b7 9       : C9#5 C9+ Caug9 C9+5
1 3 #5 b7 b9      : C7#5b9 C7b9#5 C+7b9 C7(#5,b9) Caug7(b9)
1 3 #5 b7 #9      : C7#5#9 C7(#5,#9) C+7#9 C7#9#5 C7+5+9
1 3 #5 b7 #11     : C7#5#11 C+7(#11)
1 3 b5 #5 b7 b9 #9 : C7alt Calt C7(alt) C7altered
1 b3 5 b7         : Cm7 Cmin7 C-7 Cmi7 C–7 CMI7
1 b3 5 b7 9       : Cm9 C-9 Cmin9 Cmi9 Cm7(9)
1 b3 5 b7 b9      : Cm7b9 Cm7(b9)
1 b3 5 b7 9 11    : Cm11 C-11 Cmin11 Cmi11
1 b3 5 b7 9 11 13 : Cm13 C-13 Cmin13
1 b3 5 b7 11      : Cm7(11) Cm7add11 C-7(11)
1 b3 #5 b7        : Cm7#5 Cm7+5
1 b3 5 7          : CmMaj7 CmM7 C-Δ7 Cm(maj7) CminMaj7 C-maj7 C-Δ Cm#7 CmΔ Cmin(maj7) Cm(M7)
1 b3 5 7 9        : CmMaj9 CmM9 Cm9(maj7) Cm(maj9) C-Δ9
1 b3 b5 b7        : Cø Cø7 Cm7b5 C-7b5 Cm7(b5) Cmin7-5 C∅7 CØ Ch7 Cmi7b5 C-7(♭5)
1 b3 b5 b7 9      : Cø9 Cm9b5 Cm9(b5)
1 b3 b5 b7 b9     : Cm7b5b9 Cm7(b5,b9)
1 b3 b5 b7 11     : Cm7b5(11) Cø(11) Cø7(11) Cm7b5add11
1 b3 b5 b7 9 11   : Cø11 Cm11b5
1 b3 b5 bb7       : C°7 Co7 Cdim7 Cº7
1 b3 b5 7         : C°maj7 CdimM7 C°(maj7)
1 3 5 9           : Cadd9 C(add9) Cadd2
1 b3 5 9          : Cmadd9 Cm(add9) C-(add9)
1 3 5 11          : Cadd11 Cadd4
1 3 5 #11         : Cadd#11 C(#11)
1 b3 5 11         : Cm(add11) Cmadd4
1 5 9             : C5add9 C(add9,no3)
1 3               : C(no5) C(omit5) Cno5
1 3 b7            : C7(no5) C7no5 C7omit5
1 5 b7            : C7(no3) C7no3 C7omit3
1 b3 b7           : Cm7(no5)
1 3 7             : Cmaj7(no5)
1 3 b7 9          : C9(no5)
1 3 5 b7 (b7)     : C7/Bb
1 3 5 (b7)        : C/Bb C/B♭
1 3 5 (9)         : C/D
1 3 5 (bass)      : C/Eb
1 b3 5 (b7)       : Cm/Bb
1 b3 5 (11)       : Cm/F
1 3 5 b7 (3)      : C7/E
1 b3 5 b7 (b3)    : Cm7/Eb C-7/E♭
1 3 5 7 (7)       : Cmaj7/B CΔ/B
"""
ASCII = str.maketrans({"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##"})
SEMITONES = {"1": 0, "bb7": 9} | {name.translate(ASCII): semitones for name, (_, semitones) in FUNCTIONS.items()}


def spelled_rows() -> list[tuple[str, tuple[str, ...]]]:
    """Every symbol with its degrees; a slash bass that is no tone of the chord stands in parentheses, _ is a blank."""
    rows = []
    for line in SYMBOLS.strip().splitlines():
        degrees, symbols = line.split(" : ")
        rows += [(symbol.replace("_", " "), tuple(degrees.split())) for symbol in symbols.split()]
    return rows


def degrees_of(chord: Chord) -> set[str]:
    names = {"R": "1", "°7": "bb7"}
    return {names.get(f, f).translate(ASCII) for f in chord.functions}


@pytest.mark.parametrize(("symbol", "degrees"), spelled_rows())
def test_every_dialect_means_the_tones_of_common_practice(symbol: str, degrees: tuple[str, ...]) -> None:
    assert degrees_of(parse_chord(symbol)) == {degree.strip("()") for degree in degrees}


def test_the_table_holds_the_spellings_that_players_meet() -> None:
    symbols = [symbol for symbol, _ in spelled_rows()]
    assert len(symbols) == len(set(symbols)) >= 300


STACKS = "every third is stacked; players leave out the 3 under an 11 and the 11 over a major 3, a ♭9 apart"
DASH_IS_FLAT = "its dash is a flat, so this is C♭ there; on charts C-7 is minor, and a flat is ♭ or b"
SLASH_NINE = "what follows the slash is lost; 6/9 is the chord with 6 and 9"
PLAIN = "only the number is read, the word or alteration after it is lost"
ADDS_ELEVEN = "an 11 is added that the symbol does not name"
# (peer, symbol) -> why ours is right.
DIFFERENCES = {
    **{("music21", f"C-{rest}"): DASH_IS_FLAT for rest in ("", "5", "6", "69", "7", "9", "11", "13", "maj7", "7b5")},
    **{("pychord", symbol): SLASH_NINE for symbol in ("C6/9", "C6/9/E", "Cm6/9")},
    **{("pychord", symbol): STACKS for symbol in ("C11", "C13", "Cmaj13", "CM13", "C13b9", "C13-9", "C13#9")},
    **{("music21", symbol): STACKS for symbol in ("C11", "CM11", "C13", "CM13", "Cdom13")},
    ("music21", "C69"): "the 6 and the 9 are read, the chord under them is lost",
    ("music21", "C13#11"): PLAIN,
    ("music21", "C13b9"): PLAIN,
    ("music21", "C13#9"): PLAIN,
    ("music21", "C7altered"): PLAIN,
    ("pychord", "C7b9b13"): ADDS_ELEVEN,
}


def expected_pitch_classes(degrees: tuple[str, ...]) -> set[int]:
    plain = (degree.strip("()") for degree in degrees)
    return {3 if degree == "bass" else SEMITONES[degree] for degree in plain}


def by_music21(symbol: str) -> set[int] | None:
    if "/" in symbol.removeprefix("C6/9").removeprefix("Cm6/9").removeprefix("Cmaj6/9"):
        symbol = symbol.replace("/Bb", "/B-").replace("/Eb", "/E-")  # its flat
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return {pitch.pitchClass for pitch in harmony.ChordSymbol(symbol).pitches}
    except Exception:  # noqa: BLE001 it has no one error for what it does not know
        return None


def by_pychord(symbol: str) -> set[int] | None:
    try:
        return {note_to_val(str(name)) % 12 for name in pychord.Chord(symbol).components()}
    except (ValueError, KeyError):
        return None


PEERS = {"music21": by_music21, "pychord": by_pychord}


@pytest.mark.parametrize("peer", PEERS)
def test_a_library_that_knows_a_symbol_gives_its_tones_or_the_difference_is_explained(peer: str) -> None:
    differing, compared = set(), 0
    for symbol, degrees in spelled_rows():
        theirs = PEERS[peer](symbol)
        compared += theirs is not None
        if theirs is not None and theirs != expected_pitch_classes(degrees):
            differing.add((peer, symbol))
    print(f"\n{peer}: {compared} symbols known, {len(differing)} of them otherwise")
    for reason, count in Counter(DIFFERENCES.get(one, "UNEXPLAINED") for one in differing).items():
        print(f"{count:3} {reason}")
    assert differing <= DIFFERENCES.keys()
    assert compared >= 85


# Shorthand: degrees over the root, and the chart's symbol for it.
HARTE = {
    "maj": ("1 3 5", ""), "min": ("1 b3 5", "m"), "dim": ("1 b3 b5", "°"), "aug": ("1 3 #5", "+"),
    "maj7": ("1 3 5 7", "maj7"), "min7": ("1 b3 5 b7", "m7"), "7": ("1 3 5 b7", "7"), "dim7": ("1 b3 b5 bb7", "°7"),
    "hdim7": ("1 b3 b5 b7", "ø7"), "minmaj7": ("1 b3 5 7", "mMaj7"), "maj6": ("1 3 5 6", "6"),
    "min6": ("1 b3 5 6", "m6"), "9": ("1 3 5 b7 9", "9"), "maj9": ("1 3 5 7 9", "maj9"),
    "min9": ("1 b3 5 b7 9", "m9"), "sus4": ("1 4 5", "sus4"),
    # what JAMS adds
    "sus2": ("1 2 5", "sus2"), "5": ("1 5", "5"), "aug7": ("1 3 #5 b7", "7#5"), "11": ("1 5 b7 9 11", "11"),
    "maj11": ("1 5 7 9 11", "maj11"), "min11": ("1 b3 5 b7 9 11", "m11"), "13": ("1 3 5 b7 9 13", "13"),
    "maj13": ("1 3 5 7 9 13", "maj13"), "min13": ("1 b3 5 b7 9 11 13", "m13"), "1": ("1", "5(no5)"),
    # degrees in parentheses, left out with *, and a degree in the bass
    "maj(9)": ("1 3 5 9", "add9"), "7(#9)": ("1 3 5 b7 #9", "7#9"), "7(b9,#11)": ("1 3 5 b7 b9 #11", "7(b9,#11)"),
    "7(*5,b5)": ("1 3 b5 b7", "7b5"), "7(*5,#5)": ("1 3 #5 b7", "7#5"), "sus4(b7)": ("1 4 5 b7", "7sus4"),
    "sus4(b7,9)": ("1 4 5 b7 9", "9sus4"), "(3,5,b7)": ("1 3 5 b7", "7"), "(b3,b5,bb7)": ("1 b3 b5 bb7", "°7"),
    "maj6(9)": ("1 3 5 6 9", "6/9"), "min7(11)": ("1 b3 5 b7 11", "m7(11)"), "7(*3)": ("1 5 b7", "7(no3)"),
    "maj/3": ("1 3 5", "/E"), "maj/b7": ("1 3 5 b7", "/Bb"), "min/5": ("1 b3 5", "m/G"), "maj/2": ("1 3 5 9", "/D"),
    "min7/b3": ("1 b3 5 b7", "m7/Eb"),
}  # fmt: skip
# mir_eval stacks every third, and has no aug7 and maj11.
MIR_EVAL_STACKS = {"11": {4}, "13": {5}, "maj13": {5}}


@pytest.mark.parametrize("label", HARTE)
def test_a_label_of_annotated_recordings_is_the_chord_of_a_chart(label: str) -> None:
    degrees, symbol = HARTE[label]
    chord = parse_harte(f"C:{label}")
    assert chord == parse_chord(f"C{symbol}")
    assert degrees_of(chord) == set(degrees.split())


@pytest.mark.parametrize("label", [label for label in HARTE if label not in ("aug7", "maj11")])
def test_the_pitch_classes_of_a_label_are_those_of_mir_eval(label: str) -> None:
    _, bitmap, _ = mir_eval.chord.encode(f"C:{label}", reduce_extended_chords=True)
    theirs = {semitone for semitone, there in enumerate(bitmap) if there}
    assert theirs == parse_harte(f"C:{label}").pitch_classes | MIR_EVAL_STACKS.get(label, set())


def test_every_shorthand_is_compared() -> None:
    assert set(HARTE) >= set(SHORTHANDS)
    assert set(HARTE) >= set(mir_eval.chord.QUALITIES) - {""}


def test_a_label_without_a_colon_is_major_and_no_chord_has_two_names() -> None:
    assert parse_harte("Bb").symbol == "B♭"
    assert parse_harte("F#/3").symbol == "F♯/A♯"
    assert parse_harte("N").is_no_chord
    assert parse_harte("X").is_no_chord


@pytest.mark.parametrize(
    ("label", "position"),
    [("", 0), ("H:maj", 0), ("C:foo", 2), ("C:", 2), ("C:7(b9", 6), ("C:7(b0)", 4), ("C:maj/", 6), ("C7", 1),
     ("C:maj(b3)", 1), ("C:7(14)", 4), ("Cbbb:maj", 0), ("C:maj/3/5", 7)],
)  # fmt: skip
def test_a_bad_label_is_refused_with_its_place(label: str, position: int) -> None:
    with pytest.raises(ChordError) as refusal:
        parse_harte(label)
    assert refusal.value.position == position


# The words of the schema, "dominant (major triad, minor seventh)" and so on, as degrees.
W3C_KINDS = {
    "major": "1 3 5", "minor": "1 b3 5", "augmented": "1 3 #5", "diminished": "1 b3 b5", "dominant": "1 3 5 b7",
    "major-seventh": "1 3 5 7", "minor-seventh": "1 b3 5 b7", "diminished-seventh": "1 b3 b5 bb7",
    "augmented-seventh": "1 3 #5 b7", "half-diminished": "1 b3 b5 b7", "major-minor": "1 b3 5 7",
    "major-sixth": "1 3 5 6", "minor-sixth": "1 b3 5 6", "dominant-ninth": "1 3 5 b7 9", "major-ninth": "1 3 5 7 9",
    "minor-ninth": "1 b3 5 b7 9", "dominant-11th": "1 3 5 b7 9 11", "major-11th": "1 3 5 7 9 11",
    "minor-11th": "1 b3 5 b7 9 11", "dominant-13th": "1 3 5 b7 9 11 13", "major-13th": "1 3 5 7 9 11 13",
    "minor-13th": "1 b3 5 b7 9 11 13", "suspended-second": "1 2 5", "suspended-fourth": "1 4 5", "power": "1 5",
}  # fmt: skip
# The schema stacks every third there and says "usually as the basis for alteration"; players mean the chord without.
W3C_STACKS = {"dominant-11th": {"3"}, "major-11th": {"3"}, "dominant-13th": {"11"}, "major-13th": {"11"}}


@pytest.mark.parametrize("kind", W3C_KINDS)
def test_a_kind_of_musicxml_has_the_tones_of_the_schema(kind: str) -> None:
    ours = {{"R": "1", "°7": "bb7"}.get(f, f).translate(ASCII) for f in functions_of_kind(kind, ())}
    assert set(W3C_KINDS[kind].split()) == ours | W3C_STACKS.get(kind, set())


def test_every_kind_is_compared() -> None:
    assert set(W3C_KINDS) == set(KINDS)


# Common practice: what players read in two ways, and both readings.
@pytest.mark.parametrize(
    ("symbol", "first", "second"),
    [
        ("Ebb5", "E♭(♭5)", "E𝄫5"),
        ("Ebb9", "E♭(♭9)", "E𝄫9"),
        ("C##5", "C♯(♯5)", "C𝄪5"),
        ("C2", "Csus2", "Cadd9"),
        ("C4", "Csus4", "Cadd11"),
        ("C+9", "C9♯5", "C7♯9"),
        ("Cmj7", "Cmaj7", "CmMaj7"),
        ("C2/E", "Csus2/E", "Cadd9/E"),
    ],
)
def test_a_symbol_with_two_readings_is_asked_back_with_both(symbol: str, first: str, second: str) -> None:
    with pytest.raises(TwoReadingsError, match="one of two readings") as refusal:
        parse_chord(symbol)
    assert refusal.value.readings == (first, second)
    assert refusal.value.suggestion is None
    assert parse_chord(first) != parse_chord(second)


# An accidental right after the letter belongs to the root, always.
@pytest.mark.parametrize(
    ("symbol", "notes"),
    [("Bb7", "B♭ D F A♭"), ("C#5", "C♯ G♯"), ("Bb5", "B♭ F"), ("Eb9", "E♭ G B♭ D♭ F"), ("Ebb7", "E𝄫 G♭ B𝄫 D𝄫")],
)
def test_an_accidental_after_the_letter_is_the_roots(symbol: str, notes: str) -> None:
    assert [str(tone.pitch) for tone in parse_chord(symbol).tones] == notes.split()


# What a slip of the finger was meant to be.
@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        ("Cmag7", "Cmaj7"), ("Cmja7", "Cmaj7"), ("Cmaaj7#11", "Cmaj7♯11"), ("a7", "A7"), ("bbm7", "B♭m7"), ("H7", "B7"),
        ("C/H", "C/B"), ("C7/", "C7"), ("C7x", "C7"), ("Cminr7", "Cm7"), ("Caugg", "C+"), ("C7b9b9", "C7♭9"),
        ("C7(b9", "C7♭9"), ("N.c", "N.C."), ("F#mni7", "F♯m7"), ("Gsuss4", "Gsus4"),
        ("Dalt7", "D7alt"), ("Cq", None), ("xyz", None), ("", None), ("C" + "7" * 50, None), ("???", None),
    ],
)  # fmt: skip
def test_the_nearest_symbol_is_suggested_only_where_one_is_near(slip: str, meant: str | None) -> None:
    with pytest.raises(ChordError) as refusal:
        parse_chord(slip)
    assert refusal.value.suggestion == meant
    assert meant is None or f"the nearest symbol is {meant}" in str(refusal.value)
