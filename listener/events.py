"""The language of the ear: notes that are heard in time, and what may still change about them.

All times are sample indices of the audio stream at the stream's own rate. The sample index is the only clock;
`latency_samples` has already been taken off by `sources`, so an index here is the moment at which the player heard the
band's sample of the same index.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]


class Gesture(StrEnum):
    """How a note came to its pitch."""

    PICKED = "picked"
    SLURRED = "slurred"  # a hammer-on or pull-off: a new pitch without a new pick attack
    BEND = "bend"
    RELEASE = "release"
    SLIDE = "slide"
    CURL = "curl"
    VIBRATO = "vibrato"
    DEAD = "dead"


@dataclass(frozen=True, slots=True)
class Block:
    """Consecutive mono samples, float32 in -1 to 1.

    `gap` is how many of the samples, counted from the block's first one, were lost by the device and are silence
    that keeps the clock right; 0 where nothing was lost.
    """

    start_sample: int
    samples: Samples
    gap: int = 0


@dataclass(frozen=True, slots=True)
class Note:
    """One heard note, as known now.

    `pitch_midi` is the settled pitch against the player's reference (69.0 = A4), None for a dead note.
    `from_midi` is the start of a bend or slide that did not stand long enough to be a note of its own, else None.
    `slurred_from` is the id of the note this one was slurred out of without a pick attack, else None.
    `rise_cents` is the net rise inside the note with periodic movement removed (curl: 25 to 70).
    `offset_sample` is None while the note sounds. `voice` tells simultaneous notes apart (0 for a single line).
    `level_db` is the peak level of its attack in dB re full scale. `contour` holds (sample, MIDI) pairs.
    """

    id: int
    onset_sample: int
    offset_sample: int | None
    pitch_midi: float | None
    gesture: Gesture = Gesture.PICKED
    from_midi: float | None = None
    slurred_from: int | None = None
    rise_cents: float = 0.0
    voice: int = 0
    level_db: float = -20.0
    confidence: float = 1.0
    unsure: bool = False
    touches_gap: bool = False
    contour: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Opened:
    """A note is believed. `told_sample` is the stream position at which the ear said so."""

    id: int
    note: Note
    told_sample: int


@dataclass(frozen=True, slots=True)
class Revised:
    """What is known of an open note has changed."""

    id: int
    note: Note
    told_sample: int


@dataclass(frozen=True, slots=True)
class Final:
    """The note will not change any more; its last `Opened` or `Revised` stands."""

    id: int
    told_sample: int


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """The note was none."""

    id: int
    told_sample: int


@dataclass(frozen=True, slots=True)
class Watermark:
    """Nothing that began before `sample` will change any more, and nothing new will begin before it."""

    sample: int


EarEvent = Opened | Revised | Final | Withdrawn | Watermark


class Ear(Protocol):
    """A push parser of sound: blocks in, events out. Blocks of any size give the same events."""

    @property
    def version(self) -> str:
        """Name and number of this ear, kept with every take and document."""

    def push(self, block: Block) -> list[EarEvent]:
        """Hear one block that continues the one before."""

    def finish(self) -> list[EarEvent]:
        """The stream ends: make final what is known, and set the watermark past the end."""
