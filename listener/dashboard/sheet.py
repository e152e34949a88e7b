"""The note strip: rows of four bars on a still page, three lanes of notes under their chords, a mark on the beat.

Time runs from left to right inside a row and never moves. Before the first bar of a row stands the beat that leads
into it, with its pick-ups, so that a line that crosses the bar line stays in sight when the row turns.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from listener import palette
from listener.dashboard.canvas import FAINT, QUIET, STRONG, Canvas
from listener.dashboard.notes import LANES, ink_of
from listener.dashboard.pages import PageRow
from listener.dashboard.state import BARS_PER_ROW, DashboardState, ShownNote
from listener.graded import Grade

ROW_HEIGHT = 1 + LANES + 1  # chord symbols, lanes, the line of the beat
_DEAD = "x"  # as tablature writes it
_OPENS = "♭♯°"  # signs that cannot be taken for the end of the function before


@dataclass(frozen=True, slots=True)
class Ruler:
    """Where beats lie on a row: `lead` cells for the beat before, then four bars of `bar_width` cells.

    Bars are equally wide whatever their meter, so that the page stands still; `beats` are those of the first.
    """

    left: int
    lead: int
    bar_width: int
    beats: int

    @classmethod
    def across(cls, width: int, beats: int) -> Ruler:
        """The widest ruler that fits into `width` cells."""
        beats = max(beats, 1)
        bar_width = max((width - 2) * beats // (BARS_PER_ROW * beats + 1), 2)
        lead = max(width - 2 - BARS_PER_ROW * bar_width, 0)
        lead = min(lead, bar_width // beats + 1)
        return cls(1, lead, bar_width, beats)

    def bar_line(self, bar: int) -> int:
        """Cell of the line before bar `bar` of the row, 0 to 4 (4: the line that closes the row)."""
        return self.left + self.lead + bar * self.bar_width

    def cell(self, bar: int, beat: float, beats: int | None = None) -> int:
        """Cell of a beat, from 0, in bar `bar` of the row; bar -1 is the one before, seen for its last beat only.

        `beats` of the bar are those of the first unless given.
        """
        inside, beats = self.bar_width - 1, beats or self.beats
        if bar < 0:
            return self.left + int((beat - (beats - 1)) * self.lead)
        return self.bar_line(bar) + 1 + min(int(beat * inside / beats), inside - 1)


def put_sheet_row(canvas: Canvas, y: int, state: DashboardState, page_row: PageRow) -> None:
    """One row of the page: chords above, lanes with the notes of this chorus, the line of the beat below."""
    ruler = Ruler.across(canvas.width, state.beats_per_bar)
    first = page_row.row * BARS_PER_ROW  # bars before this row
    chorus = None if state.chorus is None else state.chorus + page_row.chorus_ahead
    here = state.bar is not None and state.beat is not None and page_row.chorus_ahead == 0
    bar_now = state.bar - 1 - first if here and state.bar is not None else None
    bars = state.bars[first : first + BARS_PER_ROW]
    _put_lines(canvas, y, ruler, [state.beats_of(first + 1 + place) for place in range(len(bars))])
    for place, bar in enumerate(bars):
        line = ruler.bar_line(place)
        if place == 0:
            canvas.put(ruler.left, y, str(first + 1), FAINT, room=max(ruler.lead - 1, 1))
        cells = [ruler.cell(place, chord.beat, bar.beats) for chord in bar.chords]
        ink = STRONG if bar_now == place else QUIET
        for chord, cell, end in zip(bar.chords, cells, [*cells[1:], line + ruler.bar_width], strict=False):
            canvas.put(cell, y, chord.symbol, ink, room=max(end - cell, 0))
    _put_notes(canvas, y + 1, ruler, _notes_of_row(state, chorus, first))
    if bar_now is not None and state.beat is not None and 0 <= bar_now < len(bars):
        _put_mark(canvas, y + 1 + LANES, ruler, bar_now, state.beat - 1, state.beats_of(first + 1 + bar_now))


def _put_lines(canvas: Canvas, y: int, ruler: Ruler, beats: list[int]) -> None:
    """The bar lines of a row of bars with so many beats each."""
    bars = len(beats)
    for place in range(bars + 1):
        for down in range(LANES + 1):
            canvas.put(ruler.bar_line(place), y + down, "│", FAINT)
    bottom = y + 1 + LANES
    canvas.put(ruler.bar_line(0), bottom, "─" * (bars * ruler.bar_width + 1), FAINT)
    for place in range(bars + 1):
        canvas.put(ruler.bar_line(place), bottom, "┴", FAINT)
        for beat in range(1, beats[place] if place < bars else 0):
            canvas.put(ruler.cell(place, beat, beats[place]), bottom, "·", FAINT)


def _put_mark(canvas: Canvas, y: int, ruler: Ruler, bar: int, beat: float, beats: int) -> None:
    whole = min(max(int(beat), 0), beats - 1)
    start = ruler.cell(bar, whole, beats)
    end = ruler.cell(bar, whole + 1, beats) if whole + 1 < beats else ruler.bar_line(bar + 1)
    canvas.put(start, y, "━" * max(end - start, 1), STRONG)


def _notes_of_row(state: DashboardState, chorus: int | None, first: int) -> Iterable[tuple[int, float, int, ShownNote]]:
    """(bar in the row, beat from 0, beats of the bar, note) for this row and the beat that leads into it."""
    before = (chorus, first) if first > 0 else (None if chorus is None else chorus - 1, state.form_bars)
    for note in state.notes:
        if note.bar is None or note.beat is None:
            continue
        if note.chorus == chorus and first < note.bar <= first + BARS_PER_ROW:
            yield note.bar - 1 - first, note.beat - 1, state.beats_of(note.bar), note
        elif (note.chorus, note.bar) == before and note.beat >= state.beats_of(note.bar):
            yield -1, note.beat - 1, state.beats_of(note.bar), note


def _put_notes(canvas: Canvas, y: int, ruler: Ruler, placed: Iterable[tuple[int, float, int, ShownNote]]) -> None:
    """Functions in their lanes; where two would run together, the later moves one cell on, or becomes a mark."""
    free = [0] * LANES  # the first cell of each lane that is not taken
    for bar, beat, beats, note in sorted(placed, key=lambda item: (item[0], item[1], item[3].id)):
        look = palette.look_of(note.grade, note.shade)
        label = note.function or note.name or look.mark
        if note.dead:
            label = _DEAD
        elif note.grade is Grade.THIRD_APPROACH:
            label += palette.RISES
        cell = ruler.cell(bar, max(beat, 0.0), beats)
        taken = free[look.lane]
        start = max(cell, taken if label[0] in _OPENS or taken == 0 else taken + 1)
        if start - cell > 1:
            label, start = look.mark, max(cell, taken)
            if start - cell > 1:
                continue
        free[look.lane] = canvas.put(start, y + look.lane, label, ink_of(note))
