"""Lines: notes with beat, duration, string and fret, and the exercises made from changes and zones."""

from progressions.lines.exercises import DIRECTIONS, EXERCISES, Wish, make_line
from progressions.lines.line import RHYTHMS, Line, LineChord, LineNote

__all__ = ["DIRECTIONS", "EXERCISES", "RHYTHMS", "Line", "LineChord", "LineNote", "Wish", "make_line"]
