"""Clips and their truth as values, and their layout on disk: STEM.wav or STEM.flac with STEM.json beside it.

The truth's `notes` have `onset_s`, `offset_s`, `midi` (the settled pitch; null for a dead note), `kind`, `slurred` and,
where the pitch moves, `start_midi`. `set` names what is played ("solo", "gesture_..."), `condition` what was done to
the sound, `seconds` how long it is; `chords` have `start_s` and `end_s`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile as sf

CONDITIONS = ("clean", "amp", "room", "bleed", "hard")
SOLO, GESTURE = "solo", "gesture_"


@dataclass(frozen=True, slots=True)
class TrueNote:
    """A note as it was played. A picked note begins where its attack reaches a tenth of its early peak, a slurred one
    where the pitch comes within 50 cents of where it goes."""

    onset_s: float
    offset_s: float
    midi: float | None
    kind: str = "plain"
    slurred: bool = False
    start_midi: float | None = None


@dataclass(frozen=True, slots=True)
class Clip:
    """Mono sound of one line in one condition. `chords` are spans in seconds; None where all notes are to be graded."""

    name: str
    group: str
    condition: str
    rate: int
    samples: npt.NDArray[np.float32] = field(repr=False)
    notes: tuple[TrueNote, ...] = field(repr=False)
    chords: tuple[tuple[float, float], ...] | None = field(default=None, repr=False)

    @property
    def stem(self) -> str:
        return f"{self.name}_{self.condition}"

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate


def read_clips(folder: Path, pattern: str = "*") -> Iterator[Clip]:
    """The clips of a folder, by name. Raises SystemExit where there is none."""
    paths = [path for path in sorted(folder.glob(f"{pattern}.json")) if _sound_of(path) is not None]
    if not paths:
        raise SystemExit(f"{folder}: no {pattern}.json with a .wav or .flac of the same name beside it")
    for path in paths:
        sound = _sound_of(path)
        if sound is not None:
            yield _read_clip(path, sound)


def write_clip(folder: Path, clip: Clip) -> None:
    """As 16 bit WAV with its truth beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    sf.write(folder / f"{clip.stem}.wav", clip.samples, clip.rate, subtype="PCM_16")
    truth = {
        "clip": clip.name,
        "set": clip.group,
        "condition": clip.condition,
        "seconds": round(clip.seconds, 4),
        "notes": [asdict(note) for note in clip.notes],
        "chords": [{"start_s": start, "end_s": end} for start, end in clip.chords or ()],
    }
    (folder / f"{clip.stem}.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")


def _sound_of(truth: Path) -> Path | None:
    return next((path for suffix in (".wav", ".flac") if (path := truth.with_suffix(suffix)).exists()), None)


def _read_clip(path: Path, sound: Path) -> Clip:
    truth: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    samples, rate = sf.read(sound, dtype="float32", always_2d=True)
    return Clip(
        truth["clip"],
        truth["set"],
        truth["condition"],
        rate,
        samples.mean(axis=1, dtype=np.float32),
        tuple(_note(note) for note in truth["notes"]),
        tuple((chord["start_s"], chord["end_s"]) for chord in truth["chords"]),
    )


def _note(note: dict[str, Any]) -> TrueNote:
    known = ("onset_s", "offset_s", "midi", "kind", "slurred", "start_midi")
    return TrueNote(**{name: note[name] for name in known if name in note})
