"""The clips of the benchmark: solos and gestures, each in every condition. The same seed gives the same clips."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence

import numpy as np

from bench.bank import Instrument
from bench.clip import CONDITIONS, GESTURE, SOLO, Clip, TrueNote
from bench.conditions import amp, bleed, hard, room
from bench.gestures import GESTURES
from bench.line import Line
from bench.solo import FASTEST, SLOWEST, play_solo
from bench.song import Song, make_song
from guitar import RATE, Floats

QUIETEST_PEAK_DB, LOUDEST_PEAK_DB = -18.0, -4.0


def rendered(
    instrument: Instrument,
    seed: int,
    seconds: float,
    solos: int,
    gestures: Sequence[str] = tuple(GESTURES),
    conditions: Sequence[str] = CONDITIONS,
) -> Iterator[Clip]:
    """`solos` solos, then a clip of each gesture, one condition after the other. Each is `seconds` long."""
    for name in [f"{SOLO}_{number:02d}" for number in range(1, solos + 1)] + [f"{GESTURE}{one}" for one in gestures]:
        rng = np.random.default_rng([seed, zlib.crc32(name.encode())])
        song, sound, notes = _line(instrument, name, rng, seconds)
        peak = 10 ** (rng.uniform(QUIETEST_PEAK_DB, LOUDEST_PEAK_DB) / 20)
        for condition in conditions:
            chance = np.random.default_rng([seed, zlib.crc32(f"{name} {condition}".encode())])
            changed = through(condition, sound, notes, song, chance)
            samples = (changed * peak / np.abs(changed).max()).astype(np.float32)
            group = SOLO if name.startswith(SOLO) else name
            yield Clip(name, group, condition, RATE, samples, notes, song.chords)


def through(condition: str, sound: Floats, notes: Sequence[TrueNote], song: Song, rng: np.random.Generator) -> Floats:
    """The sound in a condition."""
    if condition == "amp":
        return amp(sound, rng)
    if condition == "room":
        return room(sound, rng)
    if condition == "bleed":
        return bleed(sound, rng, song)
    if condition == "hard":
        return hard(sound, rng, notes)
    return sound


def _line(
    instrument: Instrument, name: str, rng: np.random.Generator, seconds: float
) -> tuple[Song, Floats, tuple[TrueNote, ...]]:
    solo = (play_solo, SLOWEST, FASTEST)
    play, slowest, fastest = solo if name.startswith(SOLO) else GESTURES[name.removeprefix(GESTURE)]
    song = make_song(rng, float(rng.uniform(slowest, fastest)), seconds)
    line = Line(instrument, rng, seconds)
    play(line, song, rng)
    sound, notes = line.play()
    return song, sound, notes
