"""Who hears: an ear or a peer behind one face, with the processor time that it took."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.ear.kinds import make_ear
from listener.events import EarEvent, Gesture, Note, Opened, Revised, Withdrawn
from listener.sources.arrays import ArraySource

Samples = npt.NDArray[np.float32]
WARM_UP_S = 1.0


@dataclass(frozen=True, slots=True)
class HeardNote:
    """A pitched note as it was told in the end; `told_s` is the stream position at which this pitch was first told.

    What a peer does not tell is None; `note` is what an ear told, whole.
    """

    onset_s: float
    offset_s: float
    midi: float
    told_s: float | None = None
    from_midi: float | None = None
    confidence: float | None = None
    unsure: bool = False
    note: Note | None = None


@dataclass(slots=True)
class Hearer:
    """`hear` turns samples at a rate into notes; `spent_s` and `heard_s` grow with every call of `listen`."""

    name: str
    hear: Callable[[Samples, int], list[HeardNote]]
    is_ear: bool
    version: str
    spent_s: float = 0.0
    heard_s: float = 0.0

    def warm_up(self, rate: int) -> None:
        """Load and compile, so that it is not counted."""
        noise = np.random.default_rng(1).standard_normal(round(WARM_UP_S * rate))
        self.hear((0.1 * noise).astype(np.float32), rate)

    def listen(self, samples: Samples, rate: int) -> list[HeardNote]:
        """The notes in order of onset."""
        begun = processor_s()
        notes = self.hear(samples, rate)
        self.spent_s += processor_s() - begun
        self.heard_s += len(samples) / rate
        return sorted(notes, key=lambda note: note.onset_s)

    @property
    def cost(self) -> float:
        """Processor seconds per second of sound."""
        return self.spent_s / self.heard_s if self.heard_s else 0.0


def processor_s() -> float:
    """Processor time of this process, all threads, and of its children that have ended."""
    times = os.times()
    return time.process_time() + times.children_user + times.children_system


def ear(name: str) -> Hearer:
    """One of the project's own ears, fed block by block as in a sitting."""

    def hear(samples: Samples, rate: int) -> list[HeardNote]:
        return [_heard(note, told, rate) for note, told in notes_of(ear_events(name, samples, rate))]

    return Hearer(name, hear, True, make_ear(name, 44_100, 440.0).version)


def ear_events(name: str, samples: Samples, rate: int) -> list[EarEvent]:
    """All that an ear says about the samples."""
    listening, events = make_ear(name, rate, 440.0), []
    for block in ArraySource(samples, rate).blocks():
        events += listening.push(block)
    return events + listening.finish()


def notes_of(events: Iterable[EarEvent]) -> list[tuple[Note, int]]:
    """Pitched notes as they were left, each with the sample at which its pitch was first told within 50 cents."""
    left: dict[int, Note] = {}
    told: dict[int, list[tuple[int, float]]] = {}
    for event in events:
        if isinstance(event, Opened | Revised):
            left[event.id] = event.note
            if event.note.pitch_midi is not None:
                told.setdefault(event.id, []).append((event.told_sample, event.note.pitch_midi))
        elif isinstance(event, Withdrawn):
            left.pop(event.id, None)
    pairs = []
    for number, note in left.items():
        if note.pitch_midi is not None and note.gesture is not Gesture.DEAD:
            first = next(at for at, midi in told[number] if abs(midi - note.pitch_midi) <= 0.5)
            pairs.append((note, first))
    return pairs


def _heard(note: Note, told: int, rate: int) -> HeardNote:
    assert note.pitch_midi is not None
    end = note.onset_sample if note.offset_sample is None else note.offset_sample
    return HeardNote(
        note.onset_sample / rate,
        end / rate,
        note.pitch_midi,
        told / rate,
        note.from_midi,
        note.confidence,
        note.unsure,
        note,
    )
