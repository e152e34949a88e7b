"""The whole screen, a pure function of the state: what stands where, for the room there is."""

from __future__ import annotations

from listener import palette
from listener.dashboard.canvas import FAINT, PLAIN, QUIET, STRONG, Canvas, Frame, Ink
from listener.dashboard.chords import put_chords
from listener.dashboard.form import put_form
from listener.dashboard.letters import Size
from listener.dashboard.notes import put_last_note
from listener.dashboard.pages import page_rows, rows_of
from listener.dashboard.sheet import ROW_HEIGHT, put_sheet_row
from listener.dashboard.state import BARS_PER_ROW, DashboardState, InputLevel, Phase

MARGIN = 1
REPORT_ROWS = 5
REPORT_WIDTH = 78
PANEL_WIDTH = 33  # the widest function, its arrow and the longest word of a grade
METER_CELLS = 10
METER_FLOOR_DBFS = -60.0
LARGE = (120, 38)  # from this width and height on, everything is drawn twice as large
WHOLE = (72, 24)  # from here on everything is on the screen


def render(state: DashboardState, width: int, height: int, *, colour: bool = True, ascii: bool = False) -> Frame:
    """Draws `state` on exactly `width` by `height` cells.

    80x24 holds everything; 120x38 and more draws at twice the size, with the notes of the whole page; less than
    72x24 leaves out what is told elsewhere. `colour=False` tells all by word, place and weight; `ascii` uses no sign
    outside ASCII.
    """
    canvas = Canvas(width, height, ascii_only=ascii)
    if canvas.width == 0 or canvas.height == 0:
        return canvas.frame(colour=colour)
    _put_header(canvas, state)
    if canvas.width >= LARGE[0] and canvas.height >= LARGE[1]:
        _put_large(canvas, state)
    elif canvas.width >= WHOLE[0] and canvas.height >= WHOLE[1]:
        _put_whole(canvas, state)
    else:
        _put_small(canvas, state)
    if canvas.height > 1:
        _put_message(canvas, canvas.height - 1, state)
    return canvas.frame(colour=colour)


def _put_whole(canvas: Canvas, state: DashboardState) -> None:
    """Chords, last note beside the form, note strip, report, from top to bottom."""
    spare = canvas.height - WHOLE[1]
    put_chords(canvas, 2, state, Size.FULL)
    put_last_note(canvas, MARGIN, 8, PANEL_WIDTH, state.notes, Size.HALF)
    put_form(canvas, PANEL_WIDTH + 3, 8, canvas.width - PANEL_WIDTH - 3, 4, state)
    places = 1 + spare // ROW_HEIGHT
    _put_sheet(canvas, 13, places, state)
    after = 13 + min(places, max(rows_of(len(state.bars)), 1)) * ROW_HEIGHT
    _put_report(canvas, MARGIN, after + min(canvas.height - 1 - REPORT_ROWS - after, 1), state)


def _put_large(canvas: Canvas, state: DashboardState) -> None:
    """Twice the size; the report stands beside the last note, and the page of the form carries its notes."""
    put_chords(canvas, 2, state, Size.DOUBLE)
    left = canvas.width - REPORT_WIDTH
    put_last_note(canvas, MARGIN, 14, left - MARGIN, state.notes, Size.FULL)
    _put_report(canvas, left, 14, state)
    _put_sheet(canvas, 21, (canvas.height - 1 - 21) // ROW_HEIGHT, state, rows_free=canvas.height - 1 - 21)


def _put_small(canvas: Canvas, state: DashboardState) -> None:
    """What matters most, from the top, as far as the rows go: chords, last note, form, strip, report."""
    bottom = canvas.height - 1
    size = Size.TEXT
    if canvas.width >= 36 and bottom >= 6:
        size = Size.FULL if canvas.width >= 44 and bottom >= 10 else Size.HALF
    y = 2 if bottom >= 10 else 1
    put_chords(canvas, y, state, size)
    y += size.rows + (1 if bottom >= 14 else 0)
    panel = Size.HALF if bottom - y >= 4 else Size.TEXT
    wide = canvas.width >= WHOLE[0]
    if bottom - y >= 4:
        put_last_note(canvas, MARGIN, y, min(PANEL_WIDTH, canvas.width - 2 * MARGIN), state.notes, panel)
    if wide and bottom - y >= 4:
        put_form(canvas, PANEL_WIDTH + 3, y, canvas.width - PANEL_WIDTH - 3, 4, state)
        y += 4
    else:
        y += 4 if bottom - y >= 4 else 0
        places = min(rows_of(len(state.bars)), max(bottom - y, 0), 4)
        put_form(canvas, 0, y, canvas.width, places, state)
        y += places
    if bottom - y >= ROW_HEIGHT:
        _put_sheet(canvas, y, 1, state)
        y += ROW_HEIGHT
    _put_report(canvas, MARGIN, y, state, rows=max(bottom - y, 0))


def _put_header(canvas: Canvas, state: DashboardState) -> None:
    """Where in the sitting we are, and the level of the input at the right edge."""
    meter = canvas.width - METER_CELLS - 14
    x = MARGIN
    for label, value in _places(state):
        needed = canvas.measure(label) + canvas.measure(value) + 1
        if x + needed >= meter and canvas.width >= 40:
            break
        x = canvas.put(x, 0, f"{label} " if label else "", QUIET)
        x = canvas.put(x, 0, value, PLAIN) + 3
    if meter > 0:
        _put_meter(canvas, meter, state.level)


def _places(state: DashboardState) -> list[tuple[str, str]]:
    places = []
    if state.phase is not Phase.PLAYING:
        places.append(("", {Phase.CLOSING: "closing chord"}.get(state.phase, str(state.phase))))
    if state.key:
        places.append(("key", state.key))
    if state.chorus is not None:
        of = "" if state.choruses is None else f" of {state.choruses}"
        places.append(("chorus", f"{state.chorus}{of}"))
    if state.bar is not None:
        of = f" of {state.form_bars}" if 0 < state.bar <= state.form_bars else ""
        places.append(("bar", f"{state.bar}{of}"))
    if state.beat is not None:
        places.append(("beat", f"{int(state.beat)}"))
    return places


def _put_meter(canvas: Canvas, x: int, level: InputLevel) -> None:
    x = canvas.put(x, 0, "in ", QUIET)
    peak = level.peak_dbfs
    share = 0.0 if peak is None else (max(peak, METER_FLOOR_DBFS) - METER_FLOOR_DBFS) / -METER_FLOOR_DBFS
    filled = min(round(share * METER_CELLS), METER_CELLS)
    canvas.put(x, 0, "─" * METER_CELLS, FAINT)
    canvas.put(x, 0, "━" * filled, Ink(palette.PLAIN if level.clipping else palette.QUIET, bold=level.clipping))
    if level.clipping:
        canvas.put(x + METER_CELLS + 1, 0, "clipping", STRONG)
    elif level.silent or peak is None:
        canvas.put(x + METER_CELLS + 1, 0, "silent", QUIET)
    else:
        canvas.put(x + METER_CELLS + 1, 0, f"{peak:.0f} dB".replace("-", "−"), QUIET)


def _put_sheet(canvas: Canvas, y: int, places: int, state: DashboardState, *, rows_free: int = 0) -> None:
    """Rows of the note strip, one under the other; `rows_free` screen rows are shared out evenly between them."""
    rows = rows_of(len(state.bars))
    current = (state.bar - 1) // BARS_PER_ROW if state.bar is not None else 0
    more = state.chorus is None or state.choruses is None or state.chorus < state.choruses
    step = max(min((rows_free + 1) // max(places, 1), ROW_HEIGHT + 1), ROW_HEIGHT)
    for place, page_row in enumerate(page_rows(rows, places, current, more=more)):
        if page_row is not None:
            put_sheet_row(canvas, y + place * step, state, page_row)


def _put_report(canvas: Canvas, x: int, y: int, state: DashboardState, *, rows: int = REPORT_ROWS) -> None:
    for down, line in enumerate(state.report[: min(rows, REPORT_ROWS)]):
        canvas.put(x, y + down, line, STRONG if down == 0 else PLAIN, room=max(canvas.width - x, 0))


def _put_message(canvas: Canvas, y: int, state: DashboardState) -> None:
    strong = state.phase in (Phase.WAITING, Phase.COUNT_IN) or state.level.clipping or state.level.silent
    canvas.put(0, y, " " * canvas.width)
    canvas.put(MARGIN, y, state.message, STRONG if strong else QUIET, room=max(canvas.width - 2 * MARGIN, 0))
