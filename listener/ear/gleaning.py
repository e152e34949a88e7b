"""From what the review network says of every frame to the events of a recording: onsets, arrivals, dead strokes.

Times are samples of the ear's own rate, pitches semitones (MIDI) as the network counts them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.ear.ahead import DELAY, HEADS, SCENE_HEADS, STRIDE, Hindsight
from listener.ear.features import LOWEST, PITCHES
from listener.ear.frames import Signal, samples
from listener.ear.network import Floats

ONSET, PICKED, SOUNDING, MOVING, ARRIVED = (HEADS.index(name) for name in HEADS)
DEAD = SCENE_HEADS.index("dead")
BAR, ARRIVED_BAR, DEAD_BAR = 0.80, 0.80, 0.80  # of the heads; from here on a note is as likely right as not
SLURRED = 0.5  # of the picked head: below it nothing was struck
BESIDE = samples(0.012)  # two onsets a semitone apart so near in time are one
SILENT, SILENT_FRAMES, SOUNDS = 0.35, 3, 0.5  # of the sounding head
MOVES, PAUSE = 0.3, 2  # of the moving head, and for how many frames it may fall silent within one glide
LEAST_GLIDE, AROUND = 3, 6  # frames
STEP, BACK, ON = 32, 30, 24  # samples; steps of 1.5 ms before and after an onset in which its attack is looked for
NEAR_ATTACK, LEAST_RISE = 9, 0.35  # steps from where the heads put it; decades by which the envelope must rise


@dataclass(frozen=True, slots=True)
class Event:
    """An onset, or the arrival of a glide: where, at which semitone, how surely, and how surely it was picked."""

    sample: int
    midi: int
    sure: float
    picked: float
    arrives: bool = False


class Evidence:
    """All that the heads say of a recording."""

    def __init__(self, said: Hindsight, sound: Signal) -> None:
        self._said = said
        self._sharp = np.abs(np.diff(sound, prepend=0.0) + 0.1 * sound)  # pick noise and harmonics weigh more
        quiet = said.pitches[:, :, SOUNDING] < SILENT
        for _ in range(SILENT_FRAMES - 1):
            quiet = quiet & np.concatenate([quiet[1:], np.ones((1, PITCHES), bool)])
        self._silences = [np.flatnonzero(quiet[:, row]) for row in range(PITCHES)]

    def events(self) -> list[Event]:
        """Onsets and arrivals in order of time; of two a semitone and a few ms apart the surer."""
        found = [
            Event(self._placed(u, said, picked), LOWEST + row, said, picked)
            for row, u, said, picked in self._peaks(ONSET, BAR)
        ]
        found += [
            Event(round(u * STRIDE), LOWEST + row, said, 0.0, arrives=True)
            for row, u, said, _ in self._peaks(ARRIVED, ARRIVED_BAR)
        ]
        kept: list[Event] = []
        for event in sorted(found, key=lambda e: -e.sure):
            if not any(abs(e.midi - event.midi) <= 1 and abs(e.sample - event.sample) < BESIDE for e in kept):
                kept.append(event)
        return sorted(kept, key=lambda e: (e.sample, e.midi))

    def dead(self) -> list[tuple[int, float]]:
        """Muted strokes: sample and how surely."""
        said = self._said.scene[:, DEAD]
        return [(self._placed(u, sure, 1.0), sure) for u, sure in _tops(said, DEAD_BAR)]

    def silent_from(self, midi: float, sample: int) -> int:
        """The first sample after `sample` from which this semitone sounds no more."""
        row = min(PITCHES - 1, max(0, round(midi) - LOWEST))
        frame = self._frame(sample) + 1
        silences = self._silences[row]
        at = int(np.searchsorted(silences, frame))
        last = int(silences[at]) if at < len(silences) else len(self._said.pitches)
        return max(sample + 1, (last - DELAY) * STRIDE)

    def sounding(self, midi: float, sample: int) -> float:
        """How surely this pitch sounds then; between two semitones the surer."""
        return self._most(midi, sample, SOUNDING)

    def drifts(self, midi: int, into: int, sample: int) -> bool:
        """Whether a pitch that falls silent then has moved on into the semitone beside it."""
        frame, rows = self._frame(sample), [midi - LOWEST, into - LOWEST]
        if not all(0 <= row < PITCHES for row in rows):
            return False
        near = self._said.pitches[max(0, frame - AROUND) : frame + AROUND + 1, rows]
        moves, sounds = near[:, :, MOVING].max(initial=0.0), near[-AROUND:, 1, SOUNDING].max(initial=0.0)
        return bool(moves >= MOVES and sounds >= SILENT)

    def takes_over(self, midi: int, start: int, sample: int) -> bool:
        """Whether this semitone, silent at `start`, sounds from `sample` on."""
        row, before, frame = midi - LOWEST, self._frame(start), self._frame(sample)
        if not 0 <= row < PITCHES:
            return False
        said = self._said.pitches[:, row, SOUNDING]
        return bool(said[before] < SILENT and said[frame + 1 : frame + AROUND].min(initial=1.0) >= SOUNDS)

    def arrived(self, midi: int, sample: int) -> float:
        """How surely a glide ends there."""
        frame, row = self._frame(sample), midi - LOWEST
        return float(self._said.pitches[max(0, frame - 2) : frame + 3, row, ARRIVED].max(initial=0.0))

    def glide_before(self, one: float, other: float, sample: int) -> int | None:
        """Where the glide began that ends at `sample` and leads from one pitch to the other; None where none did."""
        low, high = sorted((round(one) - LOWEST, round(other) - LOWEST))
        end = min(len(self._said.pitches), self._frame(sample) + 4)
        first = max(0, end - samples(1.0) // STRIDE)
        active = np.flatnonzero(self._said.pitches[first:end, max(0, low) : high + 1, MOVING].max(axis=1) >= MOVES)
        if len(active) == 0 or active[-1] < end - first - 9:
            return None
        breaks = np.flatnonzero(np.diff(active) > PAUSE + 1)
        run = active[breaks[-1] + 1 if len(breaks) else 0 :]
        if len(run) < LEAST_GLIDE:
            return None
        return (first + int(run[0]) - DELAY) * STRIDE + STRIDE // 2

    def _frame(self, sample: int) -> int:
        return max(0, sample // STRIDE + DELAY)

    def _most(self, midi: float, sample: int, head: int) -> float:
        frame = min(self._frame(sample), len(self._said.pitches) - 1)
        rows = {int(np.floor(midi)) - LOWEST, int(np.ceil(midi)) - LOWEST}
        near = [r for r in rows if 0 <= r < PITCHES and abs(r + LOWEST - midi) <= 0.65]
        return float(self._said.pitches[frame, near, head].max()) if near else 0.0

    def _peaks(self, head: int, bar: float) -> list[tuple[int, float, float, float]]:
        """Row, time in frames, how surely, and the most that the picked head says there."""
        out = []
        for row in np.flatnonzero(self._said.pitches[:, :, head].max(axis=0, initial=0.0) >= bar):
            for u, sure in _tops(self._said.pitches[:, row, head], bar):
                at = round(u + DELAY - 0.5)
                struck = float(self._said.pitches[max(0, at - 2) : at + 3, row, PICKED].max())
                out.append((int(row), u, sure, struck))
        return out

    def _placed(self, u: float, sure: float, picked: float) -> int:
        """A picked onset put back to where its envelope began to rise: a sixth of the way to its peak."""
        told = round(u * STRIDE)
        first = told - BACK * STEP
        if picked < SLURRED or first < 0 or first + (BACK + ON) * STEP > len(self._sharp):
            return max(0, told)
        steps: npt.NDArray[np.float64] = (
            self._sharp[first : first + (BACK + ON) * STEP].reshape(-1, STEP).max(axis=1) + 1e-7
        )
        window = np.arange(BACK - NEAR_ATTACK, BACK + NEAR_ATTACK + 1)
        before = np.maximum(np.maximum(steps[window - 2], steps[window - 3]), steps[window - 4])
        rise = np.log10(steps[window] / before)
        rise += 0.5 * np.concatenate((rise[1:], [0.0]))
        if rise.max() < LEAST_RISE:
            return told
        top = int(window[int(np.argmax(rise))])
        base = float(steps[top - 6 : top - 1].max())
        level = base + 0.17 * max(0.0, float(steps[top : top + 10].max()) - base)
        at = top
        while at > top - 6 and steps[at - 1] > level:
            at -= 1
        while at < len(steps) - 1 and steps[at] <= level:
            at += 1
        return first + at * STEP


def _tops(said: Floats, bar: float) -> list[tuple[float, float]]:
    """The peaks of a head over `bar`: the time in frames that it tells, by its centre of mass, and how surely."""
    padded = np.pad(said, 2)
    here = padded[2:-2]
    top = (here >= bar) & (here >= padded[1:-3]) & (here > padded[3:-1]) & (here >= padded[:-4]) & (here > padded[4:])
    out = []
    for frame in np.flatnonzero(top):
        part = padded[frame : frame + 5].astype(np.float64)
        centre = float((part * np.arange(-2, 3)).sum() / part.sum())
        out.append((int(frame) + centre + 0.5 - DELAY, float(here[frame])))
    return out
