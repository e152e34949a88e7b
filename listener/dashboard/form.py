"""The form as a small still page: rows of four bars, chord symbols, and a mark on the bar that sounds."""

from __future__ import annotations

from listener.dashboard.canvas import FAINT, QUIET, STRONG, Canvas
from listener.dashboard.pages import page_rows, rows_of
from listener.dashboard.state import BARS_PER_ROW, DashboardState, PageBar


def put_form(canvas: Canvas, x: int, y: int, room: int, places: int, state: DashboardState) -> None:
    """Writes at most `places` rows of the form into `room` cells from `x`; a longer form turns its page ahead."""
    rows = rows_of(len(state.bars))
    current = (state.bar - 1) // BARS_PER_ROW if state.bar is not None else 0
    bar_width = (room - 4) // BARS_PER_ROW
    if bar_width < 2:
        return
    for place, page_row in enumerate(page_rows(rows, places, current, more=_more(state))):
        if page_row is None:
            continue
        first = page_row.row * BARS_PER_ROW
        canvas.put(x, y + place, f"{first + 1:>3}", FAINT)
        for column, bar in enumerate(state.bars[first : first + BARS_PER_ROW]):
            now = page_row.chorus_ahead == 0 and state.bar == first + column + 1
            _put_bar(canvas, x + 4 + column * bar_width, y + place, bar_width, bar, now, state)


def _more(state: DashboardState) -> bool:
    return state.chorus is None or state.choruses is None or state.chorus < state.choruses


def _put_bar(canvas: Canvas, x: int, y: int, width: int, bar: PageBar, now: bool, state: DashboardState) -> None:
    """The symbols of one bar, that of the moment strong, behind the mark."""
    if now:
        canvas.put(x, y, "▸", STRONG)
    end, at = x + width, x + 1
    for place, chord in enumerate(bar.chords):
        later = bar.chords[place + 1].beat if place + 1 < len(bar.chords) else float("inf")
        sounds = now and state.beat is not None and chord.beat <= state.beat - 1 < later
        room = max(end - at, 0)
        if place > 0 and canvas.measure(chord.symbol) > room:  # half a symbol would be another chord
            canvas.put(at - 1, y, "…", QUIET)
            return
        at = canvas.put(at, y, chord.symbol, STRONG if sounds else QUIET, room=room) + 1
