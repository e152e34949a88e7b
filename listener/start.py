"""How a sitting starts: three muted strokes of the player's own, and a lead-in that leaves time to breathe."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from listener.events import Gesture, Note, Opened, Revised, Withdrawn
from progressions.chart import Meter

STROKES = 3
STROKES_WITHIN_S = 3.0
BREATH_S = 1.0  # from the third stroke to the first click: longer than any way from the string to the loudspeaker
LEAST_LEAD_IN_S = 4.0


@dataclass(slots=True)
class Strokes:
    """Watches an ear's events for three muted strokes in a row within three seconds, with no pitched note between."""

    rate: int
    _open: dict[int, Note] = field(default_factory=dict)

    def push(self, events: Iterable[object]) -> int | None:
        """The onset sample of the third stroke, once there are three, else None."""
        for event in events:
            if isinstance(event, Opened | Revised):
                self._open[event.id] = event.note
            elif isinstance(event, Withdrawn):
                self._open.pop(event.id, None)
        notes = sorted(self._open.values(), key=lambda note: note.onset_sample)
        last = notes[-STROKES:]
        if len(last) < STROKES or any(note.gesture is not Gesture.DEAD for note in last):
            return None
        if last[-1].onset_sample - last[0].onset_sample > STROKES_WITHIN_S * self.rate:
            return None
        return last[-1].onset_sample


def lead_in_bars(meter: Meter, tempo_bpm: float) -> int:
    """Whole bars that last at least four seconds."""
    return math.ceil(LEAST_LEAD_IN_S * tempo_bpm / 60 / meter.beats_per_bar - 1e-9)


def first_beat(start_sample: int, rate: int, meter: Meter, tempo_bpm: float) -> int:
    """The sample of beat 1 of the first chorus for a sitting that was started at `start_sample`."""
    beats = lead_in_bars(meter, tempo_bpm) * meter.beats_per_bar
    return round(start_sample + rate * (BREATH_S + beats * 60 / tempo_bpm))
