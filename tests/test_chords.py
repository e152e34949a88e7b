"""Chords: spelling, guide tones, scales, degrees, refusals; `test_spellings` has the dialects of symbols."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import harmony

from progressions.chords import NO_CHORD, Chord, parse_chord, transpose_chord
from progressions.errors import ChordError, ProgressionsError
from progressions.keys import parse_key
from progressions.naming import chord_with_functions
from progressions.pitch import LETTERS, Spelled, parse_spelled
from progressions.qualities import FUNCTIONS, MODIFIERS, QUALITIES, QUALITY_SPELLINGS


def names_of(chord: Chord) -> set[str]:
    return {str(tone.pitch) for tone in chord.tones}


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
MUSIC21_STACKS = {
    "11": {"3"},
    "dom11": {"3"},
    "M11": {"3"},
    "Maj11": {"3"},
    "13": {"11"},
    "dom13": {"11"},
    "M13": {"11"},
    "Maj13": {"11"},
}


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


def every_chord() -> list[Chord]:
    """Every quality with every two modifiers that go together."""
    names = [modifier.spellings[0] for modifier in MODIFIERS if not modifier.only_in_parentheses]
    texts = [f"E♭{row.name}({first},{second})" for row in QUALITIES for first, second in combinations(names, 2)]
    texts += [f"E♭{row.name}({name})" for row in QUALITIES for name in names] + [f"E♭{row.name}" for row in QUALITIES]
    return [chord for chord in map(read_or_refusal, texts) if isinstance(chord, Chord)]


def test_every_chord_is_read_back_and_found_by_its_tones() -> None:
    chords = every_chord()
    assert len(chords) > 1500
    for chord in chords:
        assert chord.root is not None
        assert parse_chord(chord.symbol) == chord
        assert set(chord_with_functions(chord.root, chord.functions).functions) == set(chord.functions)


def test_tones_that_no_symbol_has_are_refused() -> None:
    with pytest.raises(ProgressionsError, match="no chord symbol has them"):
        chord_with_functions(Spelled("C"), ("R", "♭3", "3", "5"))
