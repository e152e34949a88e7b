"""What there is to learn: one network that hears live, one that hears a recording with look-ahead."""

from __future__ import annotations

from dataclasses import dataclass

from listener.ear import ahead, network
from listener.ear.features import HOP
from listener.ear.training.marks import Mark

ONSETS = (Mark.PICKED, Mark.SLURRED)
STRUCK = (Mark.PICKED, Mark.DEAD)


@dataclass(frozen=True, slots=True)
class Head:
    """One output: what it tells of these marks, as points or as spans, `delay` frames late; what a positive counts for
    beside a negative, and what the head counts for beside the others."""

    name: str
    marks: tuple[Mark, ...]
    spans: bool
    delay: int
    positive: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Shape:
    """How wide each layer is."""

    see: int = 40
    near: int = 56
    summary: int = 2
    whole: int = 96
    scene: int = 96
    shared: int = 24
    neighbour: int = 8
    join: int = 64
    pitch: int = 64


@dataclass(frozen=True, slots=True)
class Task:
    """A network and what it is to say; `back` and `bands_back` are frames that it sees, those below 0 ahead of now."""

    name: str
    hop: int
    back: tuple[int, ...]
    bands_back: tuple[int, ...]
    both_ways: bool
    heads: tuple[Head, ...]
    scene: tuple[Head, ...]
    shape: Shape = Shape()

    @property
    def scored(self) -> tuple[int, ...]:
        """Which heads tell points: their peaks can be scored."""
        return tuple(i for i, head in enumerate(self.heads) if not head.spans)


def _heads(names: tuple[str, ...], delays: tuple[int, ...]) -> tuple[Head, ...]:
    made = []
    for name, delay in zip(names, delays, strict=True):
        stem = name.partition("_")[0]
        made.append(Head(name, *_KINDS[stem][:2], delay, *_KINDS[stem][2:]))
    return tuple(made)


_KINDS: dict[str, tuple[tuple[Mark, ...], bool, float, float]] = {
    "onset": (ONSETS, False, 5.0, 1.0),
    "picked": ((Mark.PICKED,), False, 4.0, 0.7),
    "arrived": ((Mark.ARRIVED,), False, 6.0, 0.7),
    "sounding": ((Mark.SOUNDS,), True, 2.0, 0.5),
    "moving": ((Mark.MOVES,), True, 4.0, 0.4),
    "attack": (STRUCK, False, 3.0, 1.0),
    "dead": ((Mark.DEAD,), False, 3.0, 1.0),
}
_LATE = (*network.ONSET_DELAYS, 6, network.SOUNDING_DELAY, network.SOUNDING_DELAY, 6)

LIVE = Task(
    "live", HOP, network.BACK, network.BANDS_BACK, False,
    _heads(network.HEADS, _LATE), _heads(network.SCENE_HEADS, (network.ONSET_DELAYS[0], 6)),
)  # fmt: skip
REVIEW = Task(
    "review", ahead.STRIDE, ahead.BACK, ahead.BANDS_BACK, True,
    _heads(ahead.HEADS, (ahead.DELAY,) * len(ahead.HEADS)), _heads(ahead.SCENE_HEADS, (ahead.DELAY,) * 2),
    Shape(see=48, near=64, scene=64, join=72),
)  # fmt: skip
TASKS = {task.name: task for task in (LIVE, REVIEW)}
