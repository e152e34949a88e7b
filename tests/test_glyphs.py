"""Block letters: the shapes hold together, the half size is the half, and every symbol can be written."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.glyphs import ASCII, GLYPHS, HALF_ROWS, ROWS, ascii_text, full_rows, half_rows, has_glyphs
from progressions.chords import parse_chord
from progressions.qualities import CHROMATIC, DEGREES, FUNCTIONS, MODIFIERS, QUALITIES

# Quadrant blocks by their Unicode names (U+2596 to U+259F and the half blocks): upper left, upper right, lower left,
# lower right.
QUADRANTS = {
    " ": "0000", "▘": "1000", "▝": "0100", "▖": "0010", "▗": "0001", "▀": "1100", "▄": "0011", "▌": "1010",
    "▐": "0101", "▚": "1001", "▞": "0110", "▛": "1110", "▜": "1101", "▙": "1011", "▟": "0111", "█": "1111",
}  # fmt: skip

symbols = st.text(st.sampled_from(sorted(GLYPHS)), min_size=1, max_size=8)


@pytest.mark.parametrize("letter", sorted(GLYPHS))
def test_letters_are_five_rows_of_one_even_width(letter: str) -> None:
    rows = GLYPHS[letter]
    assert len(rows) == ROWS
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(rows[0]) % 2 == 0
    assert set("".join(rows)) <= {"#", "."}


def test_no_two_letters_look_the_same() -> None:
    assert len(set(GLYPHS.values())) == len(GLYPHS)
    assert len({half_rows(letter) for letter in GLYPHS}) == len(GLYPHS)


@given(symbols)
def test_half_size_is_the_same_shape_at_half_the_width_and_height(text: str) -> None:
    full, half = full_rows(text), half_rows(text)
    assert len(half) == HALF_ROWS
    width = len(full[0])
    assert {len(row) for row in half} == {width // 2}
    quads = [[QUADRANTS[cell] for cell in row] for row in half]
    upper = ["".join(quad[:2] for quad in row) for row in quads]
    lower = ["".join(quad[2:] for quad in row) for row in quads]
    halves = [row for pair in zip(upper, lower, strict=True) for row in pair]
    assert set(halves[0]) == {"0"}  # five rows in six halves: the first is empty, the foot stands on the edge
    assert halves[1:] == [row.replace("█", "1").replace(" ", "0") for row in full]


@given(symbols)
def test_ascii_letters_have_the_same_cells(text: str) -> None:
    for row, plain in zip(full_rows(text), full_rows(text, ascii_only=True), strict=True):
        assert plain == row.replace("█", "#")
    assert all(row.isascii() for row in half_rows(text, ascii_only=True))


def test_twice_the_size_repeats_every_cell() -> None:
    for row in range(ROWS):
        doubled = "".join(cell * 2 for cell in full_rows("B♭7")[row])
        assert full_rows("B♭7", scale=2)[2 * row : 2 * row + 2] == (doubled, doubled)


def test_every_canonical_chord_symbol_can_be_written() -> None:
    alterations = [modifier.name for modifier in MODIFIERS]
    tried = 0
    for quality in QUALITIES:
        for root in ("A", "B♭", "C♯", "D𝄫", "E", "F", "G", "A𝄪"):
            for text in (f"{root}{quality.name}", f"{root}{quality.name}/G♯"):
                assert has_glyphs(parse_chord(text).symbol), text
                tried += 1
    for alteration in alterations:
        for text in (f"C7({alteration})", f"C{alteration}"):
            try:
                symbol = parse_chord(text).symbol
            except ValueError:
                continue  # not every alteration stands on every chord; those that do must be drawn
            assert has_glyphs(symbol), symbol
            tried += 1
    assert has_glyphs(parse_chord("N.C.").symbol)
    assert tried > 2 * len(QUALITIES)


def test_every_function_can_be_written() -> None:
    for function in (*FUNCTIONS, *DEGREES, *CHROMATIC, "bass"):
        assert has_glyphs(function), function


def test_signs_of_music_are_typed_as_is_common() -> None:
    assert ascii_text("E♭maj7/G  C♯m7♭5  ♭3→3") == "Ebmaj7/G  C#m7b5  b3->3"
    assert all(typed.isascii() for typed in ASCII.values())


@given(st.text())
def test_ascii_text_is_ascii(text: str) -> None:
    assert ascii_text(text).isascii()
