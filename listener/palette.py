"""How each grade is told: its word, its mark, its lane and its colour, as one table.

Colours are those of Okabe and Ito ("Color Universal Design", 2008), which stay apart for every common kind of colour
vision; no grade is told by colour alone, and none is red or green.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from listener.graded import Grade, Shade

OKABE_ITO: dict[str, str] = {
    "black": "#000000",
    "orange": "#E69F00",
    "sky blue": "#56B4E9",
    "bluish green": "#009E73",
    "yellow": "#F0E442",
    "blue": "#0072B2",
    "vermillion": "#D55E00",
    "reddish purple": "#CC79A7",
}

GROUND = OKABE_ITO["black"]
PLAIN = "#EEEEEE"
QUIET = "#9A9A9A"
FAINT = "#5C5C5C"
# The lighter of the two blues: on the black ground its contrast is 9 to 1, that of "blue" only 4 to 1, too little
# for a dimmed open grade seen from two metres.
BLUE = OKABE_ITO["sky blue"]
ORANGE = OKABE_ITO["orange"]
GREY_BLUE = "#93A9BC"

RISES = "↑"  # beside a ♭3 that is on its way up to the 3


class Lane(IntEnum):
    """Where a grade stands, from the top."""

    UPPER = 0
    MIDDLE = 1
    LOWER = 2


@dataclass(frozen=True, slots=True)
class Look:
    """One way of being graded: `word` on screen, `mark` of one cell where there is no room for the function."""

    word: str
    mark: str
    lane: Lane
    colour: str


LOOKS: dict[tuple[Grade | None, Shade | None], Look] = {
    (Grade.CHORD_TONE, None): Look("chord tone", "•", Lane.UPPER, BLUE),
    (Grade.THIRD_APPROACH, None): Look("third approach", RISES, Lane.MIDDLE, ORANGE),
    (Grade.OUTSIDE, Shade.COLOUR): Look("colour", "·", Lane.LOWER, GREY_BLUE),
    (Grade.OUTSIDE, Shade.ON_THE_WAY): Look("on the way", "·", Lane.LOWER, PLAIN),
    (Grade.OUTSIDE, Shade.OUTSIDE): Look("outside", "·", Lane.LOWER, PLAIN),
    (Grade.OUTSIDE, None): Look("outside", "·", Lane.LOWER, PLAIN),
    (None, None): Look("not graded", "·", Lane.LOWER, QUIET),
}


def look_of(grade: Grade | None, shade: Shade | None) -> Look:
    """The look of a grade; the shade matters for the third grade only."""
    return LOOKS[(grade, shade if grade is Grade.OUTSIDE else None)]


def dimmed(colour: str, share: float = 0.6) -> str:
    """`colour` ("#RRGGBB") at `share` of its strength on the black ground: how an open grade looks."""
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return "#" + "".join(f"{round(part * share):02X}" for part in (red, green, blue))
