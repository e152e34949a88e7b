"""The last note, large: its function in block letters, its grade as a word on the lane that the grade has."""

from __future__ import annotations

from dataclasses import replace

from listener import palette
from listener.dashboard.canvas import QUIET, Canvas, Ink
from listener.dashboard.letters import Size, letter_rows, width_of
from listener.dashboard.state import ShownNote
from listener.glyphs import has_glyphs
from listener.graded import Grade
from listener.words import RISEN

LANES = 3
# Where the word begins, so that it keeps its place: after "♭3" and its arrow, the widest of the common functions.
_WORD_AT = {Size.TEXT: 5, Size.HALF: 14, Size.FULL: 25, Size.DOUBLE: 50}


def ink_of(note: ShownNote) -> Ink:
    """Colour and weight of a note: chord tones and third approaches are bold, open grades dimmed."""
    look = palette.look_of(note.grade, note.shade)
    weighty = note.grade in (Grade.CHORD_TONE, Grade.THIRD_APPROACH) and note.scored
    return Ink(look.colour if note.scored else palette.QUIET, bold=weighty, open=not note.final)


def told(note: ShownNote) -> str:
    """The note's name and chord, whether its grade is open, and what else there is to tell."""
    name = note.name or ""
    words = [f"{name} over {note.chord}" if note.chord else name, "" if note.final else "open", *note.remarks]
    return "  ".join(word for word in words if word)


def heard(notes: tuple[ShownNote, ...]) -> list[ShownNote]:
    """The notes with a pitch; dead notes are counted elsewhere."""
    return [note for note in notes if not note.dead and (note.function or note.name)]


def rose(notes: list[ShownNote]) -> bool:
    """Whether the last of `notes` is a 3 that a ♭3 has just risen into, as a note before it or within itself."""
    if not notes or notes[-1].function != "3":
        return False
    return RISEN in notes[-1].remarks or (len(notes) > 1 and notes[-2].grade is Grade.THIRD_APPROACH)


def put_last_note(canvas: Canvas, x: int, y: int, room: int, notes: tuple[ShownNote, ...], size: Size) -> None:
    """The panel: `size.rows` rows (at least the three lanes) and one row of words under them.

    A ♭3 that has risen stays beside the 3 it rose into: that is the moment a player works for.
    """
    pitched = heard(notes)
    if not pitched:
        return
    note = pitched[-1]
    look = palette.look_of(note.grade, note.shade)
    ink = ink_of(note)
    letters = note.function or note.name or ""
    drawn = letters + (palette.RISES if note.grade is Grade.THIRD_APPROACH else "")
    after, before = x + _WORD_AT[size], f"♭3{palette.RISES}"
    wide = width_of(canvas, before, size) + 1
    if rose(pitched) and wide + width_of(canvas, drawn, size) + 2 + len(look.word) <= room:
        canvas.put_rows(x, y, letter_rows(canvas, before, size), Ink(palette.ORANGE, bold=True))
        x, room = x + wide, room - wide
    if has_glyphs(drawn) and width_of(canvas, drawn, size) <= room:
        canvas.put_rows(x, y, letter_rows(canvas, drawn, size), ink)
        after = max(after, x + width_of(canvas, drawn, size) + 2)
    else:
        after = max(after, canvas.put(x, y + size.rows - 1, letters, ink, room=room) + 2)
    rows = max(size.rows, LANES)
    lane = (0, rows // 2, rows - 1)[look.lane]
    word = look.word if note.scored else f"({look.word})"
    canvas.put(after, y + lane, word, replace(ink, bold=True), room=x + room - after)
    canvas.put(x, y + rows, told(note), QUIET, room=room)
