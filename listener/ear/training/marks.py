"""What the truth of a line is made of: marks in time and pitch, from which the targets of every head are drawn.

A mark is a row (kind, pitch, start, end): pitch counts from the lowest of the network, times are frames as floats
(samples over the hop). Marks state facts of the playing, not what an ear should make of them.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
import numpy.typing as npt

from listener.ear.features import HOP, LOWEST, PITCHES, RATE

Marks = npt.NDArray[np.float32]
FRAMES_PER_S = RATE / HOP
BLURRED = 0.38  # semitones from a pitch beyond which its neighbour is as good a name


class Mark(IntEnum):
    """Points have end = start."""

    PICKED = 0  # point: a pick attack of a pitched note
    SLURRED = 1  # point: a step to another pitch without an attack: the contour is within 50 cents of it
    ARRIVED = 2  # point: the same at the end of a glide
    DEAD = 3  # point, pitch without meaning: a muted stroke
    SOUNDS = 4  # span
    BLURRED = 5  # span: too close to call between this pitch and the next one up, or too short to be scored
    MOVES = 6  # span: gliding through this pitch
    PASSED = 7  # span: no onset is right or wrong here: a fret that a slide passes


class Ledger:
    """Collects the marks of one line. Times in seconds, pitches in float MIDI."""

    def __init__(self) -> None:
        self._rows: list[tuple[float, float, float, float]] = []

    def point(self, kind: Mark, midi: float, at_s: float) -> None:
        """A mark at one moment, at the nearest pitch; where two are near, the other is left open."""
        pitch = round(midi)
        self._add(kind, pitch, at_s, at_s)
        if kind is not Mark.DEAD and abs(midi - pitch) > BLURRED:
            other = pitch + (1 if midi > pitch else -1)
            self._add(Mark.PASSED, other, at_s - 0.01, at_s + 0.12)
            self._add(Mark.PASSED, pitch, at_s - 0.01, at_s + 0.12)

    def span(self, kind: Mark, pitch: int, start_s: float, end_s: float) -> None:
        """A mark over a stretch of time."""
        self._add(kind, pitch, start_s, end_s)

    def contour(self, pitches: npt.NDArray[np.float64], start_s: float, kind: Mark) -> None:
        """Spans of `kind` along a contour with one value a frame, blurred ones where it lies between two pitches."""
        nearest = np.round(pitches)
        low = np.where(np.abs(pitches - nearest) > BLURRED, -1 - np.floor(pitches), nearest).astype(int)
        edges = np.flatnonzero(np.diff(low)) + 1
        for first, last in zip([0, *edges], [*edges, len(low)], strict=True):
            if last == first:
                continue
            start, end = start_s + first / FRAMES_PER_S, start_s + last / FRAMES_PER_S
            if low[first] >= 0:
                self._add(kind, int(low[first]), start, end)
            elif kind is Mark.SOUNDS:
                self._add(Mark.BLURRED, -1 - int(low[first]), start, end)
                self._add(Mark.BLURRED, -int(low[first]), start, end)

    def table(self) -> Marks:
        """All marks as rows."""
        return np.array(self._rows, np.float32).reshape(-1, 4)

    def _add(self, kind: Mark, pitch: int, start_s: float, end_s: float) -> None:
        if LOWEST <= pitch < LOWEST + PITCHES:
            self._rows.append((float(kind), float(pitch - LOWEST), start_s * FRAMES_PER_S, end_s * FRAMES_PER_S))
