"""Solo lines: phrases of mixed rhythm over the changes, with a player's mixture of gestures and rests.

Beat by beat a figure is drawn (a long note, eighths, a triplet, sixteenths, a rest); its pitches walk by steps and
leaps, chord tones on the beat. The shares below are of the notes for which the gesture is possible.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from bench.gestures import human, slide
from bench.line import Line
from bench.song import Slot, Song, step
from guitar import Move, Vibrato

SLOWEST, FASTEST = 75.0, 170.0
LOW, HIGH = 46, 79
SLUR_SHARE, SLIDE_SHARE, BEND_SHARE, VIBRATO_SHARE = 0.22, 0.05, 0.06, 0.4
RING_SHARE, DEAD_SHARE, REPEAT_SHARE = 0.10, 0.03, 0.08
FIGURES = ("rest", "quarter", "eighths", "off-beat", "triplet", "sixteenths")
SHARES = (0.08, 0.12, 0.42, 0.08, 0.15, 0.15)
DENSEST_S = 0.075  # no figure whose notes would follow each other faster


@dataclass(frozen=True, slots=True)
class Planned:
    """A note before it is known how it is played."""

    start_s: float
    length_s: float
    midi: int


def play_solo(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Write a solo into the line."""
    notes = _planned(song, rng)
    index = 0
    while index < len(notes):
        index += _play(line, notes[index:], rng)


def _planned(song: Song, rng: np.random.Generator) -> list[Planned]:
    notes: list[Planned] = []
    midi = int(rng.integers(55, 70))
    for first, second in song.beats:
        for start, length, on_beat in _figure(first, second, song.beat_s, rng):
            if notes and rng.random() < REPEAT_SHARE:
                pass
            elif on_beat:
                midi = step(rng, first.chord, midi, LOW, HIGH, reach=5)
            else:
                midi = step(rng, first.scale, midi, LOW, HIGH, reach=9 if rng.random() < 0.15 else 3)
            notes.append(Planned(start, length, midi))
    return notes


def _figure(first: Slot, second: Slot, beat_s: float, rng: np.random.Generator) -> list[tuple[float, float, bool]]:
    """Start, length and whether it stands on the beat, of each note of one beat."""
    figure = str(rng.choice(FIGURES, p=SHARES))
    if figure == "rest":
        return []
    if figure == "quarter":
        return [(first.start_s, beat_s * float(rng.uniform(0.6, 1.0)), True)]
    if figure == "off-beat":
        return [(second.start_s, second.length_s, False)]
    count = {"eighths": 2, "triplet": 3, "sixteenths": 4}[figure]
    if count == 2 or beat_s / count < DENSEST_S:
        return [(first.start_s, first.length_s, True), (second.start_s, second.length_s, False)]
    return [(first.start_s + k * beat_s / count, beat_s / count, k == 0) for k in range(count)]


def _play(line: Line, notes: Sequence[Planned], rng: np.random.Generator) -> int:
    """Play the first of the notes, with what is slurred to it; how many that were."""
    note = notes[0]
    onset = note.start_s + human(rng)
    if rng.random() < DEAD_SHARE:
        line.mute(onset)
        return 1
    chain = 1
    while chain < min(4, len(notes)) and rng.random() < SLUR_SHARE and _can_slur(notes[chain - 1], notes[chain]):
        chain += 1
    last = notes[chain - 1]
    length = last.start_s + 0.97 * last.length_s - note.start_s
    if chain > 1:
        moves = []
        for before, after in pairwise(notes[:chain]):
            at, slid = after.start_s - note.start_s, rng.random() < SLIDE_SHARE / SLUR_SHARE
            moves.append(slide(at, before.midi, after.midi) if slid else Move(at, float(after.midi), 0.008))
        kinds = ["slide" if move.glide_s > 0.01 else "hammer" for move in moves]
        line.pick(onset, length, note.midi, moves, kinds)
    elif length > 0.30 and rng.random() < BEND_SHARE / 0.3:
        start = note.midi - int(rng.choice([1, 2]))
        bent = Move(float(rng.uniform(0.015, 0.07)), float(note.midi), float(rng.uniform(0.07, 0.15)))
        line.pick(onset, length, start, [bent], kind="bend", settled=float(note.midi))
    elif length > 0.35 and rng.random() < VIBRATO_SHARE:
        depth = float(rng.uniform(20, 45))
        shake = Vibrato(float(rng.uniform(4.5, 6.5)), depth, 0.12)
        line.pick(onset, length, note.midi, kind="vibrato", settled=note.midi + depth / 200, vibrato=shake)
    else:
        rings = len(notes) > 1 and notes[1].midi != note.midi and rng.random() < RING_SHARE
        line.pick(onset, length + (float(rng.uniform(0.05, 0.2)) if rings else 0.0), note.midi, rings=rings)
    return chain


def _can_slur(here: Planned, there: Planned) -> bool:
    """Within reach of one hand, without a rest between."""
    return 1 <= abs(here.midi - there.midi) <= 4 and there.start_s - here.start_s - here.length_s < 0.03
