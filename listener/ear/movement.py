"""How a pitch went from one place to another: stepped, glided, or over the frets between."""

from __future__ import annotations

from enum import Enum

import numpy as np

from listener.ear.contour import Point
from listener.ear.frames import Signal

STEP_FRAMES = 3  # a fretted step is over within so many hops
STEP_SHARE = 0.6  # of its whole size
CALM_FRAMES, CALM_SEMITONES = 4, 0.06  # a glide has begun where the pitch moves by more than this in so many hops
WAY, STEP_BETWEEN = (0.12, 0.85), 4  # shares of the way, and how many points of a step may lie between
STAIR_DISTANCE = 0.155  # mean distance from the nearest fret, semitones: 0.25 for a glide, 0 for bare frets


class Movement(Enum):
    STEP = "step"
    GLIDE = "glide"
    STAIRS = "stairs"


def movement(quick: list[Point], start: float, arrival: float) -> Movement:
    """Of the points between leaving `start` and standing at `arrival` (float MIDI)."""
    pitches: Signal = np.array([p.pitch for p in quick])
    size = abs(arrival - start)
    if len(pitches) <= STEP_FRAMES:
        return Movement.STEP
    low, high = min(start, arrival), max(start, arrival)
    pitches = np.clip(pitches, low, high)
    way = (pitches - start) / (arrival - start)
    between = int(np.count_nonzero((way > WAY[0]) & (way < WAY[1])))
    steepest = float(np.max(np.abs(pitches[STEP_FRAMES:] - pitches[:-STEP_FRAMES])))
    if between <= STEP_BETWEEN and steepest >= STEP_SHARE * size:
        return Movement.STEP
    inside = pitches[(pitches > low + 0.5) & (pitches < high - 0.5)]
    if size > 1.5 and len(inside) >= 3:
        away = np.abs((inside - start) - np.round(inside - start))
        if float(away.mean()) < STAIR_DISTANCE:
            return Movement.STAIRS
    return Movement.GLIDE


def leaving(points: list[Point], until: int) -> int:
    """The index of the point at which a glide began that had left its start by index `until`: back down the slope."""
    at = until
    while at >= CALM_FRAMES and abs(points[at].pitch - points[at - CALM_FRAMES].pitch) > CALM_SEMITONES:
        at -= 1
    return max(0, at - CALM_FRAMES // 2)


def crossing(points: list[Point], arrival: float) -> int:
    """The sample at which the contour comes within 50 cents of `arrival` for good."""
    for before, here in zip(reversed(points[:-1]), reversed(points[1:]), strict=True):
        far, near = abs(before.pitch - arrival), abs(here.pitch - arrival)
        if far > 0.5:
            share = (far - 0.5) / max(far - near, 0.25)
            return round(before.sample + min(1.0, share) * (here.sample - before.sample))
    return points[0].sample
