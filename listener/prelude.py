"""What a recording tells before it is graded: how sharp the guitar is, and where the player's three strokes lie."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from listener.errors import InputFileError
from listener.events import Ear
from listener.hearing import Hearing
from listener.sources.protocol import Source
from listener.start import Strokes
from listener.tuning import estimate_offset

LISTENED_S = 20.0


@dataclass(frozen=True, slots=True)
class Prelude:
    """`offset_cents` is None where the notes do not tell it; `start_sample` is the third stroke's onset, or None."""

    offset_cents: float | None
    start_sample: int | None


def listen_ahead(source: Source, make_ear: Callable[[], Ear]) -> Prelude:
    """Hear the first twenty seconds of a recording by an ear of its own.

    Strokes count only where they are the first thing that is heard: dead notes inside a line start nothing.
    """
    hearing, strokes, start = Hearing(make_ear(), source.rate), Strokes(source.rate), None
    try:
        for block in source.blocks():
            events = hearing.push(block)
            if start is None and len(hearing.notes) <= 3:
                start = strokes.push(events)
            if hearing.position > LISTENED_S * source.rate:
                break
    except InputFileError:
        # a recording that is cut off: whoever hears it after us meets the same end, and tells it in its place
        return Prelude(estimate_offset(hearing.notes.values()), start)
    return Prelude(estimate_offset(hearing.notes.values()), start)
