"""A line being written, stroke by stroke, then played: its sound, and the truth of every note of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import signal

from bench.bank import Instrument
from bench.clip import TrueNote
from guitar import ATTACK_SHARE, RATE, Floats, Move, Pluck, Vibrato, arrival_s, contour

TOGETHER_S = 0.025  # strokes closer than this are one chord
SQUEAK_SHARE, LIFT_SHARE, SOFT_SHARE = 0.08, 0.08, 0.2
SOFT_S, SOFT_START = 0.012, 0.3  # a soft touch swells for so long, from this share of its level
OPEN_STRINGS = (40, 45, 50, 55, 59, 64)
GUITAR_CENTS, NOTE_CENTS = 4.0, 4.0  # how far the whole guitar, and each pitch of it, is out of tune
DEAD_S = 0.05
SHORTEST_S = 0.03


@dataclass(frozen=True, slots=True)
class Stroke:
    """One pick attack and all that is played out of it.

    `joins` names the last moves of the pluck, each of which makes a note of its own; the moves before them belong to
    the picked note, which settles at `settled`. A stroke that `rings` is not damped for the next one.
    """

    pluck: Pluck
    kind: str = "plain"
    settled: float | None = None
    joins: tuple[str, ...] = ()
    rings: bool = False


class Line:
    """Strokes and dead notes, in any order. `rng` gives each stroke its level and touch, each pitch its intonation."""

    def __init__(self, instrument: Instrument, rng: np.random.Generator, seconds: float) -> None:
        self.instrument, self.rng, self.seconds = instrument, rng, seconds
        self._off = (rng.normal(0, GUITAR_CENTS) + rng.normal(0, NOTE_CENTS, 128)) / 100
        self._strokes: list[Stroke] = []
        self._dead: list[float] = []

    def pick(
        self,
        onset_s: float,
        duration_s: float,
        midi: float,
        moves: Sequence[Move] = (),
        joins: Sequence[str] = (),
        *,
        kind: str = "plain",
        settled: float | None = None,
        vibrato: Vibrato | None = None,
        rings: bool = False,
    ) -> None:
        """Add a stroke; one that would not fit into the clip is left out."""
        duration_s = min(duration_s, self.seconds - 0.05 - onset_s)
        if duration_s < SHORTEST_S:
            return
        off = float(self._off[round(midi)])
        moved = tuple(replace(move, to_midi=move.to_midi + off) for move in moves)
        level, damp = float(np.clip(self.rng.normal(-5, 3), -14, 0)), float(self.rng.uniform(0.008, 0.02))
        pluck = Pluck(onset_s, duration_s, midi + off, moved, vibrato, level, damp)
        self._strokes.append(Stroke(pluck, kind, None if settled is None else settled + off, tuple(joins), rings))

    def mute(self, onset_s: float) -> None:
        """Add a dead note."""
        if onset_s < self.seconds - 0.2:
            self._dead.append(onset_s)

    def play(self) -> tuple[Floats, tuple[TrueNote, ...]]:
        """The whole line: mono sound at RATE, and its notes in order of onset."""
        out = np.zeros(round(self.seconds * RATE))
        notes = [TrueNote(onset, onset + DEAD_S, None, "dead") for onset in self._dead]
        starts = sorted([stroke.pluck.onset_s for stroke in self._strokes] + self._dead)
        for stroke in sorted(self._strokes, key=lambda one: (one.pluck.onset_s, one.pluck.midi)):
            fitted = self._fitted(stroke, starts)
            self._strike(fitted.pluck, out, soft=self.rng.random() < SOFT_SHARE)
            notes += _truth(fitted)
            if self.rng.random() < SQUEAK_SHARE:
                _squeak(out, fitted.pluck.onset_s, self.rng)
            if self.rng.random() < LIFT_SHARE and not fitted.rings:
                self._strike(self._lift(fitted.pluck), out, soft=True)
        for onset in self._dead:
            self.instrument.guitar.thud(onset, self.rng, out)
        return out, tuple(sorted(notes, key=lambda note: (note.onset_s, note.midi or 0.0)))

    def _strike(self, pluck: Pluck, out: Floats, soft: bool) -> None:
        """Add the sound of a pluck; where it is soft, so much earlier that its attack is where it would have been."""
        lead = round(0.01 * RATE)
        first = round(pluck.onset_s * RATE) - lead
        sound = np.zeros(lead + round((pluck.duration_s + pluck.damp_s) * RATE) + 1)
        self.instrument.guitar.play(replace(pluck, onset_s=lead / RATE), sound)
        if soft:
            before = attack_of(sound)
            swell = np.arange(len(sound)) - lead
            sound = sound * np.clip(SOFT_START + (1 - SOFT_START) * swell / (SOFT_S * RATE), SOFT_START, 1)
            first -= attack_of(sound) - before
        skip, end = max(0, -first), min(len(sound), len(out) - first)
        out[first + skip : first + end] += sound[skip:end]

    def _lift(self, pluck: Pluck) -> Pluck:
        """The string's faint open tone when the finger leaves it: no note in the truth."""
        here = pluck.moves[-1].to_midi if pluck.moves else pluck.midi
        open_string = max((string for string in OPEN_STRINGS if string < here - 0.5), default=OPEN_STRINGS[0])
        level = pluck.level_db - float(self.rng.uniform(24, 32))
        end = min(pluck.onset_s + pluck.duration_s, self.seconds - 0.15)
        return Pluck(end, float(self.rng.uniform(0.03, 0.08)), float(open_string), level_db=level)

    def _fitted(self, stroke: Stroke, starts: Sequence[float]) -> Stroke:
        """Damped for the next stroke, no longer than the recorded note lasts, without moves that it has no time for."""
        pluck, duration = stroke.pluck, stroke.pluck.duration_s
        following = next((start for start in starts if start > pluck.onset_s + TOGETHER_S), None)
        if following is not None and not stroke.rings:
            duration = min(duration, following - pluck.onset_s - self.rng.uniform(0.0, 0.012))
        highest = max([pluck.midi, *(move.to_midi for move in pluck.moves)])
        duration = max(SHORTEST_S, min(duration, self.instrument.lasts_s(pluck.midi, highest) - pluck.damp_s))
        kept = tuple(move for move in pluck.moves if move.end_s <= duration - 0.05)
        own = len(pluck.moves) - len(stroke.joins)
        if len(kept) < own:  # no time to move at all: a plain note where it began
            return Stroke(replace(pluck, duration_s=duration, moves=()), rings=stroke.rings)
        fitted = replace(pluck, duration_s=duration, moves=kept)
        return replace(stroke, pluck=fitted, joins=stroke.joins[: len(kept) - own])


def attack_of(sound: Floats) -> int:
    """The sample at which the attack reaches a tenth of its early peak."""
    early = np.abs(sound[: round(0.07 * RATE)])
    return int(np.argmax(early > ATTACK_SHARE * early.max()))


def _truth(stroke: Stroke) -> Iterator[TrueNote]:
    pluck, own = stroke.pluck, len(stroke.pluck.moves) - len(stroke.joins)
    first = TrueNote(pluck.onset_s, 0.0, pluck.midi if stroke.settled is None else stroke.settled, stroke.kind)
    if own and stroke.kind in ("bend", "slide", "curl"):
        first = replace(first, start_midi=pluck.midi)
    notes = [first]
    here = pluck.moves[own - 1].to_midi if own else pluck.midi
    for index, kind in enumerate(stroke.joins, start=own):
        move = pluck.moves[index]
        if move.shape == "frets":
            notes += _passed(pluck, move, here)
        start = here if kind in ("bend", "release") else None
        notes.append(TrueNote(arrival_s(pluck, index), 0.0, move.to_midi, kind, True, start))
        here = move.to_midi
    ends = [note.onset_s for note in notes[1:]] + [pluck.onset_s + pluck.duration_s + pluck.damp_s / 2]
    for note, end in zip(notes, ends, strict=True):
        yield replace(note, onset_s=round(note.onset_s, 5), offset_s=round(end, 5))


def _passed(pluck: Pluck, move: Move, here: float) -> Iterator[TrueNote]:
    """The frets between: so short that nobody has to hear them, and nobody is blamed for it."""
    steps = round(abs(move.to_midi - here))
    at = move.at_s + np.arange(round(move.glide_s * RATE)) / RATE
    pitch = contour(pluck, at)
    for fret in range(1, steps):
        midi = here + fret * np.sign(move.to_midi - here)
        onset = at[int(np.argmax(np.abs(pitch - midi) <= 0.5))]
        yield TrueNote(float(pluck.onset_s + onset), 0.0, float(midi), "passed", True)


def _squeak(out: Floats, onset_s: float, rng: np.random.Generator) -> None:
    """The hand on the strings shortly before a stroke: faint noise, and no note in the truth."""
    length = round(rng.uniform(0.02, 0.06) * RATE)
    first = round((onset_s - rng.uniform(0.03, 0.12)) * RATE) - length
    if first < 0:
        return
    band = signal.butter(2, [700, 4200], "band", fs=RATE, output="sos")
    noise = signal.sosfilt(band, rng.standard_normal(length)) * np.hanning(length)
    out[first : first + length] += noise * 0.3 * 10 ** (rng.uniform(-34, -24) / 20) / np.abs(noise).max()
