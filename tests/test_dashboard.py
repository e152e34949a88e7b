"""The screen as a pure function of state: what stands on it, where, in which colour, and that it keeps its size."""

import io
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from listener import palette
from listener.dashboard import DashboardState, InputLevel, PageBar, PageChord, Phase, ShownNote, render
from listener.dashboard.pages import page_rows
from listener.glyphs import full_rows, half_rows
from listener.graded import Grade, Shade

REPORT = ("Chorus 1   fit +0.14", "1 I:3   5 IV:R", "♭3→3  4 of 6", "late leaving I at bar 5, 3 notes", "next: F♯")
THIRD = ShownNote(1, 2, 6, 1.0, "F♯", "3", "D7", Grade.CHORD_TONE, final=True)
FLAT_THIRD = ShownNote(2, 2, 6, 2.0, "F", "♭3", "D7", Grade.THIRD_APPROACH, final=True)
NINTH = ShownNote(3, 2, 6, 3.0, "E", "9", "D7", Grade.OUTSIDE, Shade.COLOUR, final=True)
FLAT_NINTH = ShownNote(4, 2, 6, 4.0, "E♭", "♭9", "D7", Grade.OUTSIDE, Shade.OUTSIDE, final=True)


def page(text: str) -> tuple[PageBar, ...]:
    """Bars from "A7 | D7 E7", chords of a bar two beats apart."""
    bars = (bar.split() for bar in text.split("|"))
    return tuple(PageBar(tuple(PageChord(2.0 * n, chord) for n, chord in enumerate(bar))) for bar in bars)


PLAYING = DashboardState(
    phase=Phase.PLAYING,
    key="A",
    bars=page("A7|A7|A7|A7|D7|D7|A7|A7|E7|D7|A7|A7 E7"),
    form_bars=12,
    chorus=2,
    choruses=4,
    bar=6,
    beat=3.4,
    chord_now="D7",
    chord_next="A7",
    next_bar=7,
    next_beat=1.0,
    beats_until=1.6,
    notes=(THIRD, FLAT_THIRD, NINTH, FLAT_NINTH),
    level=InputLevel(-18.2),
    report=REPORT,
    message="band click  lost frames 0",
)


def lines_of(state: DashboardState, width: int = 80, height: int = 24, *, ascii: bool = False) -> tuple[str, ...]:
    return render(state, width, height, ascii=ascii).lines


def printed(state: DashboardState, width: int, height: int, *, colour: bool) -> str:
    """What a terminal of this size is sent."""
    console = Console(
        file=io.StringIO(), force_terminal=True, color_system="truecolor", width=width, height=height, _environ={}
    )
    console.print(render(state, width, height, colour=colour), end="")
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def place_of(shape: tuple[str, ...], lines: tuple[str, ...]) -> tuple[int, int]:
    """Row and column at which a block letter stands, whole."""
    for y in range(len(lines) - len(shape) + 1):
        x = lines[y].find(shape[0])
        while x >= 0:
            if all(lines[y + down][x : x + len(row)] == row for down, row in enumerate(shape)):
                return y, x
            x = lines[y].find(shape[0], x + 1)
    raise AssertionError("\n".join(("not on the screen:", *shape, "screen:", *lines)))


def row_of(text: str, lines: tuple[str, ...]) -> int:
    found = [number for number, line in enumerate(lines) if text in line]
    assert found, f"{text!r} is not on the screen:\n" + "\n".join(lines)
    return found[0]


def test_eighty_by_twenty_four_holds_everything() -> None:
    lines = lines_of(PLAYING)
    assert place_of(full_rows("D7"), lines) < place_of(half_rows("A7"), lines)
    assert place_of(half_rows("♭9"), lines)
    for text in ("key A", "chorus 2 of 4", "bar 6 of 12", "beat 3", "−18 dB", "next  bar 7", "in 2 beats", *REPORT):
        assert row_of(text, lines) >= 0
    assert row_of("E♭ over D7", lines)
    assert row_of("▸D7", lines)
    assert row_of(PLAYING.message, lines) == 23


def test_a_large_screen_draws_twice_as_large_with_the_notes_of_the_page() -> None:
    lines = lines_of(PLAYING, 120, 40)
    assert place_of(full_rows("D7", scale=2), lines)
    assert place_of(full_rows("A7"), lines)
    assert place_of(full_rows("♭9"), lines)
    for text in ("chorus 2 of 4", *REPORT, PLAYING.message):
        assert row_of(text, lines) >= 0
    assert sum(line.count("┴") for line in lines) == 3 * 5  # three rows of four bars, each closed by a line


@pytest.mark.parametrize(
    ("note", "word", "lane", "colour"),
    [
        (THIRD, "chord tone", 0, palette.OKABE_ITO["sky blue"]),
        (FLAT_THIRD, "third approach", 1, palette.OKABE_ITO["orange"]),
        (NINTH, "colour", 2, palette.GREY_BLUE),
        (FLAT_NINTH, "outside", 2, palette.PLAIN),
    ],
)
def test_a_grade_is_told_by_word_place_and_colour(note: ShownNote, word: str, lane: int, colour: str) -> None:
    frame = render(replace(PLAYING, notes=(note,)), 80, 24)
    top = place_of(half_rows(note.function or ""), frame.lines)[0]
    assert row_of(f"  {word} ", frame.lines) == top + lane
    strip = row_of("│D7 ", frame.lines)
    assert f"{note.function}" in frame.lines[strip + 1 + lane]
    inks = {ink.colour for text, ink in frame.rows[top + lane] if word in text}
    assert inks == {colour}


def test_a_third_approach_carries_a_rising_arrow() -> None:
    lines = lines_of(replace(PLAYING, notes=(FLAT_THIRD,)))
    assert place_of(half_rows("♭3↑"), lines)
    assert row_of("♭3↑", lines)


def test_an_open_grade_is_dimmed_in_place_with_colour_and_without() -> None:
    final = lines_of(replace(PLAYING, notes=(THIRD,)))
    still_open = lines_of(replace(PLAYING, notes=(replace(THIRD, final=False),)))
    changed = [(one, other) for one, other in zip(still_open, final, strict=True) if one != other]
    assert [one.replace("  open", "").rstrip() for one, _ in changed] == [other.rstrip() for _, other in changed]
    assert len(changed) == 1
    dim = "\x1b[1;2m"  # bold and faint, by ECMA-48
    assert dim in printed(replace(PLAYING, notes=(replace(THIRD, final=False),)), 80, 24, colour=False)
    assert dim not in printed(replace(PLAYING, notes=(THIRD,)), 80, 24, colour=False)


def test_without_colour_the_same_text_is_sent_and_no_colour() -> None:
    plain = printed(PLAYING, 80, 24, colour=False)
    assert "\x1b[38" not in plain
    assert "\x1b[48" not in plain
    assert render(PLAYING, 80, 24, colour=False).lines == render(PLAYING, 80, 24).lines
    assert "\x1b[38;2;86;180;233" not in plain
    assert "38;2;86;180;233" in printed(PLAYING, 80, 24, colour=True)  # sky blue, 86 180 233 by Okabe and Ito


def test_the_terminal_is_sent_the_drawn_rows_and_nothing_scrolls() -> None:
    sent = printed(PLAYING, 80, 24, colour=False)
    assert sent.count("\n") == 23
    assert not sent.endswith("\n")


def test_the_mark_moves_under_the_notes_and_nothing_else_moves() -> None:
    moments = [replace(PLAYING, beat=1.0 + quarter / 4, beats_until=2.0) for quarter in range(16)]
    screens = [lines_of(moment) for moment in moments]
    marks = []
    for screen in screens:
        ruler = next(line for line in screen if "┴" in line)
        marks.append(ruler.index("━"))
        assert ruler.count("━") >= 3
    assert marks == sorted(marks)
    assert len(set(marks)) == 4
    still = [tuple(line for line in screen[2:] if "┴" not in line) for screen in screens]
    assert len(set(still)) == 1


def test_the_beat_that_leads_into_a_row_stays_in_sight_when_the_row_turns() -> None:
    upbeat = replace(THIRD, id=9, bar=4, beat=4.5, function="13")
    earlier = replace(THIRD, id=8, bar=4, beat=2.0, function="11")
    strip = lines_of(replace(PLAYING, notes=(earlier, upbeat), bar=5, beat=1.0))
    lane = strip[row_of("│D7 ", strip) + 1]
    assert lane.index("13") < lane.index("│")
    assert "11" not in lane


def test_count_in_takes_the_place_of_the_chord_and_shows_what_comes() -> None:
    state = replace(PLAYING, phase=Phase.COUNT_IN, count=3, chord_now=None, bar=None, beat=None, notes=())
    lines = lines_of(replace(state, message="count-in"))
    assert place_of(full_rows("3"), lines)
    assert place_of(half_rows("A7"), lines)


def test_the_wait_says_how_to_begin() -> None:
    state = replace(PLAYING, phase=Phase.WAITING, message="3 muted strokes or Enter to start", report=(), notes=())
    assert row_of("3 muted strokes or Enter to start", lines_of(state)) == 23


@pytest.mark.parametrize(
    ("level", "text"),
    [
        (InputLevel(-18.2), "━━━━━━━─── −18 dB"),  # 42 of the 60 dB that ten cells show
        (InputLevel(0.0, clipping=True), "━━━━━━━━━━ clipping"),
        (InputLevel(-120.0, silent=True), "────────── silent"),
    ],
)
def test_the_level_is_a_quiet_meter(level: InputLevel, text: str) -> None:
    assert text in lines_of(replace(PLAYING, level=level))[0]


def test_a_report_line_of_seventy_eight_columns_is_whole_at_both_sizes() -> None:
    line = "1 I:3 " * 13
    for width, height in ((80, 24), (120, 40)):
        assert row_of(line.strip(), lines_of(replace(PLAYING, report=("", line.strip())), width, height))


def test_long_symbols_keep_a_large_root_and_raise_the_rest() -> None:
    lines = lines_of(replace(PLAYING, chord_now="C♯m7♭5/G", chord_next="E♭maj7"))
    root, rest = place_of(full_rows("C♯"), lines), place_of(half_rows("m7♭5/G"), lines)
    assert rest[0] == root[0]
    assert rest[1] > root[1]


def test_ascii_screen_is_ascii_and_as_complete() -> None:
    lines = lines_of(PLAYING, ascii=True)
    assert all(line.isascii() for line in lines)
    assert place_of(full_rows("D7", ascii_only=True), lines)
    for text in (">D7", "-18 dB", "b3->3  4 of 6", "Eb over D7", "b3^"):
        assert row_of(text, lines) >= 0


def test_control_signs_never_reach_the_terminal() -> None:
    lines = lines_of(replace(PLAYING, message="input \x1b[31m\n2\t", key="A\r"))
    assert all(ord(sign) >= 32 for line in lines for sign in line)


def test_a_form_that_fits_never_turns() -> None:
    pages = {page_rows(3, 4, current, more=True) for current in range(3)}
    assert len(pages) == 1
    assert [row and row.row for row in pages.pop()] == [0, 1, 2, None]


def test_a_long_form_turns_when_the_last_row_of_the_page_is_reached() -> None:
    shown = [[row and (row.chorus_ahead, row.row) for row in page_rows(5, 3, now, more=True)] for now in range(5)]
    assert shown == [
        [(0, 0), (0, 1), (0, 2)],
        [(0, 0), (0, 1), (0, 2)],
        [(0, 3), (0, 4), (0, 2)],
        [(0, 3), (0, 4), None],
        [(1, 0), (0, 4), None],
    ]


@given(st.integers(1, 20), st.integers(2, 6), st.data())
def test_the_row_of_the_moment_and_the_row_after_it_are_always_on_the_page(
    rows: int, places: int, data: st.DataObject
) -> None:
    current = data.draw(st.integers(0, rows - 1))
    shown = page_rows(rows, places, current, more=True)
    assert len(shown) == places
    on_page = {(row.chorus_ahead, row.row) for row in shown if row is not None}
    assert (0, current) in on_page
    following = (0, current + 1) if current + 1 < rows else (1, 0)
    alone = rows > places and rows % places == 1 and current == rows - 1  # a page of one row: nothing to turn
    if rows > places and not alone:
        assert following in on_page


texts = st.text(max_size=12)
floats = st.floats(-1e6, 1e6, allow_nan=False)
symbols = st.sampled_from(["A7", "E♭maj7", "B♭m7♭5/A♭", "N.C.", "C♯m7♭5"]) | texts
notes = st.builds(
    ShownNote,
    id=st.integers(0, 99),
    chorus=st.none() | st.integers(1, 5),
    bar=st.none() | st.integers(-2, 40),
    beat=st.none() | floats,
    name=st.none() | texts,
    function=st.none() | st.sampled_from(["R", "♭3", "♯11", "bass"]) | texts,
    chord=st.none() | symbols,
    grade=st.none() | st.sampled_from(Grade),
    shade=st.none() | st.sampled_from(Shade),
    final=st.booleans(),
    dead=st.booleans(),
    scored=st.booleans(),
    remarks=st.lists(texts, max_size=3).map(tuple),
)
page_bars = st.builds(
    PageBar, st.lists(st.builds(PageChord, st.floats(0, 12, allow_nan=False), symbols), max_size=4).map(tuple)
)
states = st.builds(
    DashboardState,
    phase=st.sampled_from(Phase),
    key=texts,
    bars=st.lists(page_bars, max_size=34).map(tuple),
    form_bars=st.integers(0, 34),
    beats_per_bar=st.integers(1, 12),
    chorus=st.none() | st.integers(1, 5),
    choruses=st.none() | st.integers(1, 5),
    bar=st.none() | st.integers(1, 40),
    beat=st.none() | st.floats(0.5, 13, allow_nan=False),
    count=st.none() | st.integers(1, 12),
    chord_now=st.none() | symbols,
    chord_next=st.none() | symbols,
    next_bar=st.none() | st.integers(1, 40),
    next_beat=st.none() | st.floats(1, 13, allow_nan=False),
    beats_until=st.none() | st.floats(0, 400, allow_nan=False),
    notes=st.lists(notes, max_size=20).map(tuple),
    level=st.builds(InputLevel, st.none() | st.floats(-200, 20), st.booleans(), st.booleans()),
    report=st.lists(texts, max_size=7).map(tuple),
    message=st.text(max_size=100),
)


@settings(max_examples=150, deadline=None)
@given(states, st.integers(0, 130), st.integers(0, 45), st.booleans(), st.booleans())
def test_every_state_fills_every_size_exactly(
    state: DashboardState, width: int, height: int, colour: bool, ascii: bool
) -> None:
    frame = render(state, width, height, colour=colour, ascii=ascii)
    assert len(frame.lines) == height
    assert all(cell_len(line) == width for line in frame.lines)
    assert frame == render(state, width, height, colour=colour, ascii=ascii)
    assert not ascii or all(line.isascii() for line in frame.lines)
