"""A take as a live sitting would hear it: three muted strokes, the lead-in, then a line from the fixtures."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf
import soxr

FIXTURES = Path(__file__).parents[1] / "recordings-fixtures"
STROKES_S = (1.0, 1.5, 2.0)
BREATH_S = 1.0  # from the third stroke to the first click, as the README's "after a breath"
END_S = 4.0  # silence after the line, so that no player's buffer cuts it


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """A file that starts a sitting by itself. `first_beat_s` is where beat 1 lies in it by construction."""

    path: Path
    chart: Path
    first_beat_s: float
    seconds: float


def rehearse(folder: Path, name: str, rate: int) -> Rehearsal:
    """Write the fixture `name` at `rate` behind three muted strokes that are cut from the dead notes."""
    truth = json.loads((FIXTURES / f"{name}.json").read_text())
    line, line_rate = sf.read(FIXTURES / f"{name}.flac", dtype="float32")
    beats = int(truth["chart"].split("meter: ")[1].split("/")[0])
    bars = int(np.ceil(4.0 * truth["tempo_bpm"] / 60 / beats))  # whole bars of at least four seconds
    first_beat_s = STROKES_S[-1] + BREATH_S + bars * beats * 60 / truth["tempo_bpm"]
    out = np.zeros(round((first_beat_s + truth["seconds"] + END_S) * rate), np.float32)
    stroke, onset_s = _dead_stroke(rate)
    for at_s in STROKES_S:
        _add(out, stroke, at_s - onset_s, rate)
    _add(out, soxr.resample(line, line_rate, rate), first_beat_s - truth["start_s"], rate)
    path, chart = folder / f"{name}.wav", folder / f"{name}.txt"
    sf.write(path, out, rate, subtype="PCM_16")
    chart.write_text(truth["chart"], encoding="utf-8")
    return Rehearsal(path, chart, first_beat_s, len(out) / rate)


def low_e(folder: Path, rate: int) -> Path:
    """The open low E alone (the low line's first note, MIDI 40), after half a second, with silence after it."""
    truth = json.loads((FIXTURES / "low_line.json").read_text())
    note = next(note for note in truth["notes"] if round(note["midi"]) == 40)
    sound, sound_rate = sf.read(FIXTURES / "low_line.flac", dtype="float32")
    part = sound[round((note["onset_s"] - 0.05) * sound_rate) : round(note["offset_s"] * sound_rate)]
    out = np.zeros(6 * rate, np.float32)
    _add(out, soxr.resample(part, sound_rate, rate), 0.5, rate)
    path = folder / "low_e.wav"
    sf.write(path, out, rate, subtype="PCM_16")
    return path


def _dead_stroke(rate: int) -> tuple[np.ndarray, float]:
    """The first dead note of the fixtures alone, and its onset in it."""
    truth = json.loads((FIXTURES / "dead_notes.json").read_text())
    note = next(note for note in truth["notes"] if note["gesture"] == "dead")
    sound, sound_rate = sf.read(FIXTURES / "dead_notes.flac", dtype="float32")
    lead_s = 0.02
    first, last = round((note["onset_s"] - lead_s) * sound_rate), round((note["offset_s"] + 0.02) * sound_rate)
    return soxr.resample(sound[first:last], sound_rate, rate), lead_s


def _add(out: np.ndarray, sound: np.ndarray, at_s: float, rate: int) -> None:
    first = round(at_s * rate)
    out[first : first + len(sound)] += sound[: len(out) - first]
