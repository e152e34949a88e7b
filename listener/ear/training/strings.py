"""Plays plucks on a guitar of single notes: sound and truth of one line.

A pluck is one pick attack whose pitch may move. Its sound is a recorded note read at a changing speed, so that every
bend, slide and vibrato is known to the cent and to the sample.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.ear.training.bank import RATE, Floats, Guitar
from listener.ear.training.marks import FRAMES_PER_S, Ledger, Mark

Wide = npt.NDArray[np.float64]

LEAD_S = 0.003
SHORT_S = 0.040  # what stands for less is no note of its own
AUDIBLE_DB = -38.0  # under a note's own peak: below it the truth calls it over
LEAST_GLIDE = 0.6  # semitones from which a glide arrives at another pitch


@dataclass(frozen=True, slots=True)
class Move:
    """The pitch leaves for `to_midi` at `at_s` after the onset and is there `glide_s` later: a step from fret to fret
    (hammer, pull, slide) or a glide (bend, release, curl). `haste` over 1 makes a glide start fast and end slowly."""

    at_s: float
    to_midi: float
    glide_s: float
    step: bool
    haste: float = 1.0


@dataclass(frozen=True, slots=True)
class Vibrato:
    """Pitch swings by `depth` semitones, `rising` only upwards, from `from_s` on."""

    hz: float
    depth: float
    from_s: float
    rising: bool


@dataclass(frozen=True, slots=True)
class Pluck:
    """One pick attack at `onset_s`; the string is damped within `damp_s` at the end of `duration_s`."""

    onset_s: float
    duration_s: float
    midi: float
    moves: tuple[Move, ...] = ()
    vibrato: Vibrato | None = None
    level_db: float = 0.0
    damp_s: float = 0.012
    soft_s: float = 0.0  # the attack swells for this long


def contour(pluck: Pluck, at: Wide) -> Wide:
    """The pitch in MIDI at each moment `at`, in seconds after the onset."""
    pitch = np.full(len(at), float(pluck.midi))
    here = pluck.midi
    for move in pluck.moves:
        share = np.clip((at - move.at_s) / max(move.glide_s, 1e-4), 0.0, 1.0) ** (1.0 / move.haste)
        pitch += (move.to_midi - here) * 0.5 * (1.0 - np.cos(np.pi * share))
        here = move.to_midi
    if pluck.vibrato is not None:
        late = at - pluck.vibrato.from_s
        swing = np.sin(2 * np.pi * pluck.vibrato.hz * late)
        if pluck.vibrato.rising:
            swing = 0.5 * (1.0 - np.cos(2 * np.pi * pluck.vibrato.hz * late))
        pitch += np.clip(late / 0.1, 0.0, 1.0) * pluck.vibrato.depth * swing
    return pitch


class Strings:
    """Adds plucks to a clip of `seconds`: what is heard to `sound`, what is true to `ledger`."""

    def __init__(self, guitar: Guitar, seconds: float, detune: float, rng: np.random.Generator) -> None:
        self.guitar, self.seconds, self.detune, self.rng = guitar, seconds, detune, rng
        self.sound: Floats = np.zeros(round((seconds + 0.5) * RATE), np.float32)
        self.ledger = Ledger()

    def play(self, pluck: Pluck) -> None:
        """Sound and truth of one pluck; none where it begins too near the end of the clip."""
        if pluck.onset_s + 0.03 > self.seconds or pluck.onset_s < 0.005:
            return
        tuned = self.detune + float(np.clip(self.rng.normal(0, 0.05), -0.15, 0.15))
        duration = min(pluck.duration_s, self.seconds - pluck.onset_s)
        sound = self._sound(pluck, duration, tuned)
        lead = round(LEAD_S * RATE)
        first = round(pluck.onset_s * RATE) - lead
        skip = max(0, -first)
        self.sound[first + skip : first + len(sound)] += sound[skip:]
        end = self._last_heard(sound, lead, pluck.damp_s)
        self._truth(pluck, end, tuned)

    def add(self, sound: Floats, at_s: float) -> None:
        """Sound without truth."""
        first = round(at_s * RATE)
        if first >= 0:
            sound = sound[: max(0, len(self.sound) - first)]
            self.sound[first : first + len(sound)] += sound

    def _sound(self, pluck: Pluck, duration: float, tuned: float) -> Floats:
        note = self.guitar.near(pluck.midi, self.rng)
        lead = round(LEAD_S * RATE)
        count = lead + round(duration * RATE)
        at = (np.arange(count) - lead) / RATE
        if pluck.moves or pluck.vibrato:
            speed = np.exp2((contour(pluck, at) + tuned - note.midi) / 12.0)
            position = np.concatenate([[0.0], np.cumsum(speed[:-1])])
        else:
            position = np.arange(count) * 2.0 ** ((pluck.midi + tuned - note.midi) / 12.0)
        position += note.attack - position[lead]
        fit = int(np.searchsorted(position, len(note.sound) - 3))
        sound = read(note.sound, position[:fit])
        damp = min(len(sound), max(8, round(pluck.damp_s * RATE)))
        sound[-damp:] *= 0.5 * (1.0 + np.cos(np.pi * np.arange(damp, dtype=np.float32) / damp))
        sound[: lead // 2] *= np.linspace(0, 1, lead // 2, dtype=np.float32)
        if pluck.soft_s:
            touch = min(len(sound), lead + round(pluck.soft_s * RATE))
            sound[:touch] *= np.linspace(0.25, 1, touch, dtype=np.float32)
        return np.asarray(sound * np.float32(10 ** (pluck.level_db / 20)), np.float32)

    @staticmethod
    def _last_heard(sound: Floats, lead: int, damp_s: float) -> float:
        """Seconds after the onset at which the note is over."""
        cells = np.abs(sound[: len(sound) // 64 * 64]).reshape(-1, 64).max(axis=1)
        if not len(cells):
            return 0.0
        loud = np.flatnonzero(cells > cells.max() * 10 ** (AUDIBLE_DB / 20))
        damped = (len(sound) - lead) / RATE - 0.5 * damp_s
        return float(min(damped, ((loud[-1] + 1) * 64 - lead) / RATE))

    def _truth(self, pluck: Pluck, end: float, tuned: float) -> None:
        if end <= 0.012:
            return
        onset, ledger = pluck.onset_s, self.ledger
        ledger.point(Mark.PICKED, pluck.midi + tuned, onset)
        frames = np.arange(0.0, end, 1.0 / FRAMES_PER_S)
        pitches = contour(pluck, frames) + tuned
        ledger.contour(pitches, onset, Mark.SOUNDS)
        crossings = [self._crossing(pluck, i) for i in range(len(pluck.moves))]
        for i, move in enumerate(pluck.moves):
            here = pluck.moves[i - 1].to_midi if i else pluck.midi
            until = crossings[i + 1] if i + 1 < len(crossings) else end
            if crossings[i] >= end:
                break
            if not move.step:
                inside = (frames >= move.at_s) & (frames < move.at_s + move.glide_s)
                if inside.any():
                    ledger.contour(pitches[inside], onset + move.at_s, Mark.MOVES)
                if abs(move.to_midi - here) >= LEAST_GLIDE:
                    ledger.point(Mark.ARRIVED, move.to_midi + tuned, onset + crossings[i])
            elif until - crossings[i] >= SHORT_S:
                ledger.point(Mark.SLURRED, move.to_midi + tuned, onset + crossings[i])
            else:
                start = onset + crossings[i]
                ledger.span(Mark.PASSED, round(move.to_midi + tuned), start - 0.01, start + 0.12)

    @staticmethod
    def _crossing(pluck: Pluck, index: int) -> float:
        """Seconds after the onset at which the pitch has come within 50 cents of where this move goes."""
        move = pluck.moves[index]
        here = pluck.moves[index - 1].to_midi if index else pluck.midi
        size = abs(move.to_midi - here)
        if size <= 0.5:
            return move.at_s + move.glide_s
        share = float(np.arccos(1.0 - 2.0 * (1.0 - 0.5 / size)) / np.pi) ** move.haste
        return float(move.at_s + move.glide_s * share)


def read(sound: Floats, position: Wide) -> Floats:
    """Values between samples by a cubic through four of them (Catmull and Rom, 1974)."""
    whole = np.clip(position.astype(np.int64), 1, len(sound) - 3)
    share = (position - whole).astype(np.float32)
    a, b, c, d = sound[whole - 1], sound[whole], sound[whole + 1], sound[whole + 2]
    out = b + 0.5 * share * (c - a + share * (2 * a - 5 * b + 4 * c - d + share * (3 * (b - c) + d - a)))
    out[position < 0] = 0.0
    return np.asarray(out, np.float32)
