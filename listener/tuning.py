"""The common offset of the whole guitar, estimated before the first chorus and held for the sitting."""

from __future__ import annotations

import math
from collections.abc import Iterable

from listener.events import Gesture, Note

LIMIT_CENTS = 40.0
LEAST_NOTES = 6
LEAST_AGREEMENT = 0.75  # length of the mean vector of the deviations: 1 when all notes agree, 0 when they say nothing


def estimate_offset(notes: Iterable[Note]) -> float | None:
    """The offset in cents (positive is sharp) that the guitar's steady picked notes share, or None.

    Deviations from equal temperament live on a circle of 100 cents, so the mean is the circular one (Fisher,
    "Statistical Analysis of Circular Data", 1993, section 2.3). Bent, slid, curled and slurred notes do not enter.
    None where fewer than six notes were heard, where they disagree, or where the offset is over 40 cents: a guitar
    that far off is told to the player, never guessed.
    """
    turns = [
        2 * math.pi * note.pitch_midi
        for note in notes
        if note.pitch_midi is not None
        and note.gesture is Gesture.PICKED
        and note.from_midi is None
        and not note.unsure
        and abs(note.rise_cents) < 15
    ]
    if len(turns) < LEAST_NOTES:
        return None
    east = sum(math.cos(turn) for turn in turns) / len(turns)
    north = sum(math.sin(turn) for turn in turns) / len(turns)
    if math.hypot(east, north) < LEAST_AGREEMENT:
        return None
    offset = 100 * math.atan2(north, east) / (2 * math.pi)
    return offset if abs(offset) <= LIMIT_CENTS else None
