"""Recorded single notes as an instrument: from a folder with its notes.csv, or cut out of the shipped recordings."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile as sf
import soxr

from bench import FIXTURES
from guitar import ATTACK_SHARE, BODY_RMS, OVERSAMPLING, RATE, Floats, Guitar, Sample

LOWEST, HIGHEST = 40, 86
LEAST_S, LONGEST_S = 0.5, 2.0
EARLY_S = 0.06  # the attack is looked for here
LEAD_S = 0.003
FADE_S = 0.010


@dataclass(frozen=True, slots=True)
class Instrument:
    """Single notes of one guitar, and how long a note of a pitch can last."""

    name: str
    samples: tuple[Sample, ...] = field(repr=False)
    guitar: Guitar = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "guitar", Guitar(self.samples))

    def lasts_s(self, midi: float, highest: float) -> float:
        """How long a pluck that begins at `midi` can sound while it is read as fast as `highest` asks."""
        sample = min(self.samples, key=lambda one: abs(one.midi - midi))
        recorded = (len(sample.sound) - sample.attack) / (OVERSAMPLING * RATE)
        return float(recorded / 2 ** ((highest - sample.midi) / 12))


def from_folder(folder: Path, seed: int) -> Instrument:
    """A folder of one note a file, with notes.csv (file, string, midi, measured_midi).

    Of several recordings of one pitch the seed chooses one. Raises SystemExit where the table is missing.
    """
    table = folder / "notes.csv"
    if not table.exists():
        raise SystemExit(f"{table}: not there; expected a table of file, string, midi, measured_midi")
    with table.open(newline="", encoding="utf-8") as lines:
        rows = sorted(csv.DictReader(lines), key=lambda row: row["file"])
    rng = np.random.default_rng([seed, 1])
    chosen = {int(rows[k]["midi"]): rows[k] for k in rng.permutation(len(rows))}
    rows = [row for midi, row in sorted(chosen.items()) if LOWEST <= midi <= HIGHEST]
    return Instrument(folder.name, tuple(_read(folder / row["file"], float(row["measured_midi"])) for row in rows))


def from_recordings(kind: str) -> Instrument:
    """The longest picked note of each pitch in the shipped recordings of a guitar, of half a second at least.

    Their pitch is what the truth beside them says, for they were made that way. Of the guitars there (electric,
    acoustic, clean, jazz) the clean one has most of its notes so long.
    """
    longest: dict[int, tuple[float, float, float, Path]] = {}
    for path in sorted(FIXTURES.glob("*.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        if truth["guitar"] != kind or "/" in truth["recording"]:
            continue
        notes = truth["notes"]
        for note, following in zip(notes, [*notes[1:], None], strict=True):
            if note["gesture"] != "picked" or (following is not None and following["slurred"]):
                continue
            length = note["offset_s"] - note["onset_s"]
            known = longest.get(round(note["midi"]))
            if length >= LEAST_S and (known is None or length > known[0]):
                longest[round(note["midi"])] = (length, note["onset_s"], note["midi"], path.with_suffix(".flac"))
    return Instrument(f"{kind} guitar of the shipped recordings", tuple(_cut(longest.values())))


def _cut(notes: Iterable[tuple[float, float, float, Path]]) -> Iterable[Sample]:
    for length, onset, midi, path in notes:
        first = round((onset - LEAD_S) * RATE)
        sound, _ = sf.read(path, start=first, stop=first + round((length + LEAD_S) * RATE))
        yield _sample(sound, midi, round(LEAD_S * RATE))


def _read(path: Path, midi: float) -> Sample:
    sound, rate = sf.read(path, always_2d=True)
    sound = soxr.resample(sound.mean(axis=1), rate, RATE)[: round(LONGEST_S * RATE)]
    early = np.abs(sound[: round(EARLY_S * RATE)])
    return _sample(sound, midi, int(np.argmax(early > ATTACK_SHARE * early.max())))


def _sample(sound: Floats, midi: float, attack: int) -> Sample:
    """At even loudness, and faded out where the recording ends."""
    body = sound[attack + round(0.02 * RATE) : attack + round(0.25 * RATE)]
    fade = np.cos(np.linspace(0, np.pi / 2, round(FADE_S * RATE))) ** 2
    level = BODY_RMS / float(np.sqrt(np.mean(body**2)))
    sound = np.concatenate([sound[: -len(fade)], sound[-len(fade) :] * fade]) * level
    return Sample(midi, attack * OVERSAMPLING, soxr.resample(sound, RATE, RATE * OVERSAMPLING))
