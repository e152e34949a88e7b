"""The largest things on the screen: the chord of the moment, and the next one at half its size."""

from __future__ import annotations

from math import ceil

from listener import palette
from listener.dashboard.canvas import PLAIN, QUIET, STRONG, Canvas, Ink
from listener.dashboard.letters import Size, put_symbol, width_of
from listener.dashboard.state import DashboardState, Phase
from listener.glyphs import has_glyphs


def until(state: DashboardState) -> str:
    """How long it is until the next chord, in bars as long as one whole bar is left, then in beats."""
    if state.beats_until is None:
        return ""
    beats = max(ceil(state.beats_until - 1e-6), 1)
    bars, rest = divmod(beats, max(state.beats_per_bar, 1))
    if not state.has_one_meter:
        bars, rest = state.bars_until or 0, 0  # the model has counted the bar lines
    if bars >= 1 and rest == 0:
        return f"in {bars} bar" + ("s" if bars > 1 else "")
    if bars >= 1:
        return f"in {bars + 1} bars"
    return f"in {beats} beat" + ("s" if beats > 1 else "")


def comes_at(state: DashboardState) -> str:
    """The place at which the next chord comes; the beat is told only where it is not the first."""
    if state.next_bar is None:
        return ""
    beat = "" if state.next_beat in (None, 1.0) else f" beat {state.next_beat:g}"
    return f"bar {state.next_bar}{beat}"


def next_room(canvas: Canvas, state: DashboardState, size: Size) -> int:
    """Cells kept for the next chord: those of the widest symbol of the form, so that its place never moves."""
    symbols = {chord.symbol for bar in state.bars for chord in bar.chords}
    symbols.update({state.chord_next} if state.chord_next else ())
    widths = [width_of(canvas, symbol, size) for symbol in symbols if has_glyphs(symbol)]
    return min(max([20, *widths]), canvas.width * 2 // 5)


def put_chords(canvas: Canvas, y: int, state: DashboardState, size: Size) -> None:
    """The band of both chords, `size.rows` high; a count-in takes the place of the chord of the moment."""
    small = Size(max(size - 1, Size.TEXT))
    room = next_room(canvas, state, small)
    left, right = 1, canvas.width - room - 1
    if state.phase is Phase.COUNT_IN and state.count is not None:
        put_symbol(canvas, left, y, str(state.count), size, right - left - 2, Ink(palette.QUIET, bold=True))
    elif state.chord_now:
        waiting = state.phase is Phase.WAITING
        put_symbol(canvas, left, y, state.chord_now, size, right - left - 2, QUIET if waiting else STRONG)
    if state.chord_next is None:
        return
    if small is size:  # a single row of text: no room over the symbol
        after = canvas.put(right, y, state.chord_next, PLAIN, room=room) + 1
        canvas.put(after, y, until(state), QUIET, room=max(right + room - after, 0))
        return
    top = y + size.rows - small.rows
    put_symbol(canvas, right, top, state.chord_next, small, room, PLAIN)
    canvas.put(right, top - 2, f"next  {comes_at(state)}", QUIET, room=room)
    canvas.put(right, top - 1, until(state), QUIET, room=room)
