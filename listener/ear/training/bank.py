"""The bank: single notes of guitars, measured and evened, in one file that needs nothing but numpy to be read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

RATE = 22050
FILE = "notes.npz"
KEPT_S = 2.2


@dataclass(frozen=True, slots=True)
class Single:
    """One note: float32 sound at RATE, the sample at which its attack reaches a tenth of its early peak, its pitch."""

    sound: Floats
    attack: int
    midi: float


@dataclass(frozen=True, slots=True)
class Guitar:
    """All notes of one instrument, lowest first."""

    name: str
    notes: tuple[Single, ...]

    def near(self, midi: float, rng: np.random.Generator) -> Single:
        """A note close in pitch: one of the three nearest, the closer ones more often."""
        order = sorted(self.notes, key=lambda note: abs(note.midi - midi))[:3]
        return order[min(len(order) - 1, int(rng.choice(3, p=(0.6, 0.25, 0.15))))]


def save(path: Path, guitars: Iterable[Guitar]) -> None:
    """Write all guitars to one file, sounds in half precision."""
    notes = [(guitar.name, note) for guitar in guitars for note in guitar.notes]
    np.savez(
        path,
        guitar=np.array([name for name, _ in notes]),
        midi=np.array([note.midi for _, note in notes]),
        attack=np.array([note.attack for _, note in notes]),
        length=np.array([len(note.sound) for _, note in notes]),
        sound=np.concatenate([note.sound for _, note in notes]).astype(np.float16),
    )


def load(folder: Path, without: Sequence[str] = ()) -> list[Guitar]:
    """The guitars of the bank in `folder`, except those named. Raises ValueError for a name that is not there."""
    with np.load(folder / FILE) as held:
        columns = {key: held[key] for key in held.files}
    ends = np.cumsum(columns["length"])
    guitars: dict[str, list[Single]] = {}
    for i, end in enumerate(ends):
        sound = columns["sound"][end - columns["length"][i] : end].astype(np.float32)
        note = Single(sound, int(columns["attack"][i]), float(columns["midi"][i]))
        guitars.setdefault(str(columns["guitar"][i]), []).append(note)
    for name in without:
        if name not in guitars:
            raise ValueError(f"no guitar named {name!r} in the bank: it holds {', '.join(sorted(guitars))}")
    return [Guitar(name, tuple(sorted(notes, key=lambda n: n.midi))) for name, notes in guitars.items()
            if name not in without]  # fmt: skip
