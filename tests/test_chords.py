"""Chord symbols: tones and spellings against common practice, music21 and mir_eval; traps; refusals."""

from __future__ import annotations

import mir_eval.chord
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import harmony

from progressions.chords import NO_CHORD, Chord, parse_chord, transpose_chord
from progressions.errors import ChordError, ProgressionsError
from progressions.keys import parse_key
from progressions.pitch import LETTERS, Spelled, parse_spelled
from progressions.qualities import FUNCTIONS, MODIFIERS, QUALITIES, QUALITY_SPELLINGS

# Common practice: degrees of each chord as any primer of jazz harmony gives them, and how charts write it.
SYMBOLS = """
1 3 5           : C CM Cmaj Cma C/E C/G
1 b3 5          : Cm Cmin Cmi C- Cminor
1 b3 b5         : Cdim C° Co Cm(b5) C-(♭5)
1 3 #5          : Caug C+ C(#5)
1 3 b5          : C(b5) C(♭5)
1 5             : C5 C(no3)
1 2 5           : Csus2
1 4 5           : Csus4 Csus
1 3 5 6         : C6 Cmaj6 CM6
1 b3 5 6        : Cm6 Cmin6 C-6
1 3 5 6 9       : C6/9 C69 C6(9) C6add9
1 b3 5 6 9      : Cm6/9 C-69
1 3 5 7         : Cmaj7 CM7 CΔ7 CΔ Cma7 C∆7 CMaj7 CMA7
1 3 5 7 9       : Cmaj9 CM9 CΔ9 Cmaj7(9)
1 3 5 7 9 13    : Cmaj13 CM13
1 3 5 7 #11     : Cmaj7#11 CΔ7(♯11) CM7+11
1 3 #5 7        : Cmaj7#5 C+maj7 CaugM7
1 3 5 b7        : C7 Cdom7
1 3 5 b7 9      : C9 C7(9) C7add9
1 5 b7 9 11     : C11
1 3 5 b7 9 13   : C13 C9(13) C7(9,13)
1 3 5 b7 13     : C7(13) C7add13
1 4 5 b7        : C7sus4 C7sus
1 4 5 b7 9      : C9sus4 C9sus
1 4 5 b7 9 13   : C13sus4
1 4 5 b7 b9     : C7sus4(b9) C7b9sus4 C7sus4b9
1 3 5 b7 b9     : C7b9 C7♭9 C7-9 C7(b9)
1 3 5 b7 #9     : C7#9 C7♯9 C7+9 C7(#9)
1 3 5 b7 b9 #9  : C7(b9,#9) C7b9#9
1 3 5 b7 b9 #11 : C7(b9,#11) C7(b9#11) C7b9#11
1 3 5 b7 #11    : C7#11 C7+11
1 3 5 b7 9 #11  : C9#11
1 3 5 b7 9 #11 13 : C13#11
1 3 5 b7 b13    : C7b13 C7-13
1 3 5 b7 b9 b13 : C7(b9,b13) C7b9b13
1 3 5 b7 b9 13  : C13b9
1 3 b5 b7       : C7b5 C7-5 C7(♭5)
1 3 #5 b7       : C7#5 C+7 Caug7 C7+ C7+5
1 3 #5 b7 9     : C9#5
1 3 #5 b7 #9    : C7#5#9 C7(#5,#9) C+7#9
1 3 b5 #5 b7 b9 #9 : C7alt Calt
1 b3 5 b7       : Cm7 Cmin7 C-7 Cmi7
1 b3 5 b7 9     : Cm9 C-9
1 b3 5 b7 9 11  : Cm11 C-11
1 b3 5 b7 9 11 13 : Cm13
1 b3 5 b7 11    : Cm7(11) Cm7add11
1 b3 5 7        : CmMaj7 CmM7 C-Δ7 Cm(maj7) CminMaj7 C-maj7
1 b3 5 7 9      : CmMaj9
1 b3 b5 b7      : Cø Cø7 Cm7b5 C-7b5 Cm7(b5) Cmin7-5
1 b3 b5 b7 9    : Cø9 Cm9b5
1 b3 b5 bb7     : C°7 Co7 Cdim7
1 3 5 9         : Cadd9 C(add9) Cadd2
1 b3 5 9        : Cmadd9 Cm(add9)
1 3 5 11        : Cadd11 Cadd4
1 3 5 b7 (b7)   : C7/Bb
1 3 5 (b7)      : C/Bb
1 3 5 (9)       : C/D
1 3 5 (bass)    : C/Eb
"""
ASCII = str.maketrans({"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##"})


def spelled_rows() -> list[tuple[str, tuple[str, ...]]]:
    rows = []
    for line in SYMBOLS.strip().splitlines():
        degrees, symbols = line.split(" : ")
        wanted = tuple(d.strip("()") for d in degrees.split())
        rows += [(symbol, wanted) for symbol in symbols.split()]
    return rows


def degrees_of(chord: Chord) -> set[str]:
    names = {"R": "1", "°7": "bb7"}
    return {names.get(f, f).translate(ASCII) for f in chord.functions}


def names_of(chord: Chord) -> set[str]:
    return {str(tone.pitch) for tone in chord.tones}


@pytest.mark.parametrize(("symbol", "degrees"), spelled_rows())
def test_every_dialect_means_the_tones_of_common_practice(symbol: str, degrees: tuple[str, ...]) -> None:
    assert degrees_of(parse_chord(symbol)) == set(degrees)


@pytest.mark.parametrize(
    ("symbol", "notes"),
    [
        ("G7", "G B D F"),
        ("C7", "C E G B♭"),
        ("D7", "D F♯ A C"),
        ("A7", "A C♯ E G"),
        ("Eb7", "E♭ G B♭ D♭"),
        ("Bb7", "B♭ D F A♭"),  # B♭, not B with a flat seven
        ("C-7", "C E♭ G B♭"),  # minor
        ("G13", "G B D F A E"),
        ("C11", "C G B♭ D F"),
        ("C°7", "C E♭ G♭ B𝄫"),
        ("F#m7b5", "F♯ A C E"),
        ("C7alt", "C E B♭ D♭ D♯ G♭ G♯"),
        ("E7#9", "E G♯ B D F𝄪"),
        ("Gb7", "G♭ B♭ D♭ F♭"),
    ],
)
def test_spelling_follows_the_chord(symbol: str, notes: str) -> None:
    assert names_of(parse_chord(symbol)) == set(notes.split())


# Where music21 gives other tones: an 11th is voiced without its 3 and a major 13th without its 11, because these two
# lie a semitone (or ♭9) apart; charts mean the playable chord, music21 stacks every third.
MUSIC21_STACKS = {"11": {"3"}, "dom11": {"3"}, "13": {"11"}, "dom13": {"11"}, "M13": {"11"}, "Maj13": {"11"}}


def music21_figures() -> list[str]:
    figures = [figure for _, figures in harmony.CHORD_TYPES.values() for figure in figures]
    return [figure for figure in figures if figure in QUALITY_SPELLINGS or figure in ("sus", "7sus", "7sus4", "m7b5")]


@pytest.mark.parametrize("figure", music21_figures())
def test_tones_and_spellings_are_those_of_music21(figure: str) -> None:
    for root in ("C", "F#", "B-", "E-", "A", "D-"):
        theirs = {parse_spelled(p.name.replace("-", "b")) for p in harmony.ChordSymbol(root + figure).pitches}
        chord = parse_chord(root.replace("-", "b") + figure)
        tonic = chord.tones[0].pitch
        stacked = {tonic.up(*FUNCTIONS[f]) for f in MUSIC21_STACKS.get(figure, set())}
        assert theirs == {tone.pitch for tone in chord.tones} | stacked


def test_music21_is_compared_on_nearly_every_quality_it_shares() -> None:
    assert len(music21_figures()) >= 36


# Harte's shorthands as mir_eval knows them, and the same chord in a chart.
HARTE = {
    "maj": "", "min": "m", "aug": "+", "dim": "°", "sus2": "sus2", "sus4": "sus4", "5": "5",
    "7": "7", "maj7": "maj7", "min7": "m7", "minmaj7": "mMaj7", "maj6": "6", "min6": "m6", "dim7": "°7",
    "hdim7": "ø7", "9": "9", "maj9": "maj9", "min9": "m9", "11": "11", "min11": "m11", "13": "13",
    "maj13": "maj13", "min13": "m13", "7(b9)": "7b9", "7(#9)": "7#9", "7(b9,#11)": "7(b9,#11)",
    "7(*5,b5)": "7b5", "maj/b7": "/Bb", "min/5": "m/G", "maj/2": "/D",
}  # fmt: skip
# mir_eval stacks every third too, see MUSIC21_STACKS.
MIR_EVAL_STACKS = {"11": {4}, "13": {5}, "maj13": {5}}


@pytest.mark.parametrize(("harte", "ours"), HARTE.items())
def test_pitch_classes_are_those_of_mir_eval(harte: str, ours: str) -> None:
    _, bitmap, _ = mir_eval.chord.encode(f"C:{harte}", reduce_extended_chords=True)
    theirs = {semitone for semitone, there in enumerate(bitmap) if there}
    if harte == "7(*5,b5)":
        theirs.discard(7)  # mir_eval adds degrees but ignores the * that leaves one out
    assert theirs == parse_chord("C" + ours).pitch_classes | MIR_EVAL_STACKS.get(harte, set())


def test_every_shorthand_of_mir_eval_is_compared() -> None:
    assert set(mir_eval.chord.QUALITIES) - set(HARTE) == {"1", ""}  # a lone root, and no quality: no chords of a chart


# Guide tones by the trade's rule: 3 and 7; 6 chords 3 and 6; sus 4 and ♭7; triads 3; °7 ♭3 and °7.
@pytest.mark.parametrize(
    ("symbol", "notes"),
    [
        ("A7", "C♯ G"), ("Dm7", "F C"), ("Cmaj7", "E B"), ("C6", "E A"), ("Cm6/9", "E♭ A"), ("G7sus4", "C F"),
        ("A", "C♯"), ("Am", "C"), ("C°7", "E♭ B𝄫"), ("C11", "F B♭"), ("A7/G", "C♯ G"), ("C/Bb", "E"), ("C5", ""),
        ("N.C.", ""), ("B7alt", "D♯ A"), ("Csus4", "F"),
    ],
)  # fmt: skip
def test_guide_tones(symbol: str, notes: str) -> None:
    assert set(parse_chord(symbol).guide_tones) == {parse_spelled(n).pitch_class for n in notes.split()}


# The naming scales: maj7 and 6 major (♯11 named), 7 mixolydian, m7 dorian, m6 and mMaj7 melodic minor, ø7 locrian
# (9 or ♭9), °7 whole-half diminished, 7alt altered.
@pytest.mark.parametrize(
    ("symbol", "scale"),
    [
        ("Cmaj7", "C D E F F♯ G A B"),
        ("C6", "C D E F F♯ G A B"),
        ("C7", "C D E F G A B♭"),
        ("C13", "C D E F G A B♭"),
        ("Cm7", "C D E♭ F G A B♭"),
        ("Cm6", "C D E♭ F G A B"),
        ("CmMaj7", "C D E♭ F G A B"),
        ("Cø7", "C D♭ D E♭ F G♭ A♭ B♭"),
        ("C°7", "C D E♭ F G♭ A♭ B𝄫 B"),
        ("C7alt", "C D♭ D♯ E G♭ G♯ B♭"),
        ("C7b9", "C D♭ E F G A B♭"),
        ("Cmaj7#11", "C D E F♯ G A B"),
    ],
)
def test_notes_are_named_by_the_scale_of_the_quality(symbol: str, scale: str) -> None:
    chord = parse_chord(symbol)
    assert {str(chord.name_of(pc)) for pc in range(12) if chord.is_scale_tone(pc)} == set(scale.split())


# Colour: 9, 13 and 6, and 11 over minor, where they are no chord tones.
@pytest.mark.parametrize(
    ("symbol", "colours"),
    [
        ("C7", "9 13"), ("C9", "13"), ("C", "9 6"), ("C6", "9"), ("Cm7", "9 11 13"), ("Cm", "9 11 6"),
        ("Cmaj7", "9 13"), ("Cø", "9 11"), ("C7alt", ""), ("C7b9", "13"), ("C7#9", "9 13"), ("N.C.", ""),
    ],
)  # fmt: skip
def test_colour_notes(symbol: str, colours: str) -> None:
    chord = parse_chord(symbol)
    assert {chord.degree_of(pc) for pc in range(12) if chord.is_colour(pc)} == set(colours.split())


@pytest.mark.parametrize(
    ("symbol", "note", "degree", "name"),
    [
        ("A7", 0, "♭3", "C"),  # the blue third
        ("A7", 1, "3", "C♯"),
        ("A7", 3, "♯4", "D♯"),
        ("A7", 10, "♭9", "B♭"),
        ("A7", 2, "4", "D"),
        ("Am7", 2, "11", "D"),
        ("A7", 5, "♭13", "F"),
        ("A", 5, "♭6", "F"),
        ("A7", 8, "7", "G♯"),
        ("A7#9", 0, "♯9", "B♯"),
        ("Am7", 1, "3", "C♯"),
        ("C7sus4", 3, "♭3", "E♭"),
        ("C7sus4", 4, "3", "E"),
        ("C7sus4", 5, "4", "F"),
        ("C/Eb", 3, "bass", "E♭"),
        ("C/Bb", 10, "♭7", "B♭"),
    ],
)
def test_any_note_has_a_degree_and_a_name_over_a_chord(symbol: str, note: int, degree: str, name: str) -> None:
    chord = parse_chord(symbol)
    assert (chord.degree_of(note), str(chord.name_of(note))) == (degree, name)


@pytest.mark.parametrize(
    ("symbol", "third"),
    [("A7", "major"), ("A7#9", "major"), ("Am7", "minor"), ("A°7", "minor"), ("A7sus4", None), ("A5", None)],
)
def test_the_third_of_a_chord(symbol: str, third: str | None) -> None:
    assert parse_chord(symbol).third == third
    assert parse_chord(symbol).has_sharp_nine == ("#9" in symbol)


@pytest.mark.parametrize(
    ("symbol", "position", "expected"),
    [
        ("", 0, "chord symbol"),
        ("H7", 0, "A to G"),
        ("a7", 0, "A to G"),
        ("C7x", 2, "quality"),
        ("C7913", 2, "quality"),
        ("Am7b", 3, "quality"),
        ("C/", 2, "bass note"),
        ("C/H", 2, "bass note"),
        ("C/EE", 3, "end of the symbol"),
        ("C7(b9", 5, "closing parenthesis"),
        ("C7()", 3, "alteration"),
        ("C7)", 2, "quality"),
        ("C7(b9,9)", 6, "not both"),
        ("C7(9,b9)", 5, "not both"),
        ("C7b9b9", 4, "already"),
        ("C9(b9,sus2)", 6, "already"),
        ("C7(#5,b13)", 6, "already"),
        ("C7(no5,b5)", 3, "no 5 to take out"),
        ("C5sus4", 2, "take out"),
        ("Ebb5", 2, r"E♭\(♭5\) or E𝄫5"),  # two readings
        ("Ebb9", 2, r"E♭\(♭9\) or E𝄫9"),
        ("C##5", 2, r"C♯\(♯5\) or C𝄪5"),
        ("C" + "(b9)" * 20, 40, "at most"),
    ],
)
def test_a_bad_symbol_is_refused_with_its_place(symbol: str, position: int, expected: str) -> None:
    with pytest.raises(ChordError, match=expected) as refusal:
        parse_chord(symbol)
    assert refusal.value.position == position


@pytest.mark.parametrize("symbol", ["N.C.", "NC", "n.c."])
def test_no_chord_holds_no_note(symbol: str) -> None:
    chord = parse_chord(symbol)
    assert chord == NO_CHORD
    assert chord.is_no_chord
    assert (chord.pitch_classes, chord.function_of(0), str(chord.name_of(10))) == (frozenset(), None, "B♭")
    with pytest.raises(ProgressionsError, match="no root"):
        chord.degree_of(0)


def test_transposition_spells_roots_by_the_key() -> None:
    assert transpose_chord(parse_chord("A7/C#"), 1, parse_key("F")).symbol == "B♭7/D"
    assert transpose_chord(parse_chord("Dm7"), 4, parse_key("E")).symbol == "F♯m7"
    assert transpose_chord(parse_chord("Dm7"), 4, parse_key("Db")).symbol == "G♭m7"


def read_or_refusal(text: str) -> Chord | ChordError:
    try:
        return parse_chord(text)
    except ChordError as refusal:
        return refusal


ROOTS = st.builds(Spelled, st.sampled_from(LETTERS), st.integers(-1, 1))
SPELLINGS = st.sampled_from(sorted(QUALITY_SPELLINGS))


@given(ROOTS, SPELLINGS, st.lists(st.sampled_from([m.spellings[0] for m in MODIFIERS]), max_size=3), ROOTS)
def test_a_chord_is_read_back_from_its_symbol(root: Spelled, quality: str, modifiers: list[str], bass: Spelled) -> None:
    text = f"{root}{quality}({','.join(modifiers)})/{bass}" if modifiers else f"{root}{quality}/{bass}"
    chord = read_or_refusal(text)
    if isinstance(chord, Chord):  # else modifiers that contradict each other
        assert parse_chord(chord.symbol) == chord


@given(ROOTS, SPELLINGS)
def test_each_tone_is_spelled_on_the_letter_of_its_degree(root: Spelled, quality: str) -> None:
    chord = parse_chord(f"{root}{quality}")
    for tone in chord.tones:
        steps, semitones = root.interval_to(tone.pitch)
        assert semitones == tone.semitones
        # Only where the right letter would need three signs does another take its place.
        natural = Spelled(LETTERS[(LETTERS.index(root.letter) + FUNCTIONS[tone.function][0]) % 7])
        needed = (tone.pitch.pitch_class - natural.pitch_class + 6) % 12 - 6
        assert steps == FUNCTIONS[tone.function][0] or abs(needed) > 2


@given(ROOTS, SPELLINGS, st.integers(-24, 24))
def test_transposing_moves_every_tone(root: Spelled, quality: str, semitones: int) -> None:
    chord = parse_chord(f"{root}{quality}")
    moved = transpose_chord(chord, semitones, parse_key("C"))
    assert moved.functions == chord.functions
    assert moved.pitch_classes == {(pc + semitones) % 12 for pc in chord.pitch_classes}


@given(st.text(alphabet="ABCDEFGmajinsud#b♭♯°ø+-Δ()/, 1235679N.", max_size=12))
def test_any_text_is_a_chord_or_a_refusal_with_a_place_inside(text: str) -> None:
    result = read_or_refusal(text)
    if isinstance(result, ChordError):
        assert 0 <= result.position <= len(text)
    else:
        assert parse_chord(result.symbol) == result


def test_the_tables_hold_no_quality_twice() -> None:
    tones = [frozenset(FUNCTIONS[f][1] for f in row.functions) for row in QUALITIES]
    assert len({row.name for row in QUALITIES}) == len(set(tones)) == len(QUALITIES)
