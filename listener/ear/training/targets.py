"""From marks to what each head should say in each frame, and how much that matters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import torch

from listener.ear.features import HOP, PITCHES
from listener.ear.training.marks import Mark, Marks
from listener.ear.training.tasks import LIVE, Head, Task

# A point at time u (in frames), told d late, is right in the frame that ends about u + d + 0.5 and half right beside it
REACH = (-2, -1, 0, 1, 2)
WIDTH = 1.5


class Targets:
    """Target and weight tensors of a batch on one device, float32."""

    def __init__(
        self, marks: Sequence[Marks], frames: int, device: torch.device, task: Task = LIVE, first: float = 0.0
    ) -> None:
        """Of `frames` frames of the task, which begin `first` of them into the lines."""
        line = np.concatenate([np.full(len(rows), i) for i, rows in enumerate(marks)])
        rows = torch.tensor(np.column_stack([line, np.concatenate(list(marks))]), dtype=torch.float32, device=device)
        self._line, self._kind, self._pitch = (rows[:, i].long() for i in range(3))
        self._start, self._end = (rows[:, i] * (HOP / task.hop) - first for i in (3, 4))
        self._shape = (len(marks), frames, PITCHES)
        self._device, self.task = device, task
        self.pitches = torch.stack([self._head(head) for head in task.heads], dim=-1)
        self.weights = torch.stack([self._weight(head) for head in task.heads], dim=-1)
        self.scene = torch.stack([self._points(head.marks, head.delay).amax(2) for head in task.scene], dim=-1)

    def _head(self, head: Head) -> torch.Tensor:
        return self._spans(head.marks, head.delay) if head.spans else self._points(head.marks, head.delay)

    def _weight(self, head: Head) -> torch.Tensor:
        if Mark.MOVES in head.marks:
            return torch.ones(self._shape, device=self._device)
        left_open = Mark.BLURRED if head.spans else Mark.PASSED
        return 1.0 - self._spans((left_open,), head.delay)

    def _of(self, kinds: Sequence[Mark]) -> torch.Tensor:
        return torch.isin(self._kind, torch.tensor([int(k) for k in kinds], device=self._device))

    def _points(self, kinds: Sequence[Mark], delay: int) -> torch.Tensor:
        """1 in the frame that tells a point `delay` late, falling to 0 two frames away."""
        out = torch.zeros(self._shape, device=self._device).flatten()
        chosen = self._of(kinds)
        line, pitch, at = self._line[chosen], self._pitch[chosen], self._start[chosen] + delay
        centre = torch.floor(at).long()  # frame t ends at t + 1: the one that ends at `at` + 0.5 on average
        for offset in REACH:
            frame = centre + offset
            away = (frame.float() + 0.5 - at).abs()
            value = (4.0 / 3.0 - away / WIDTH).clamp(0.0, 1.0)
            inside = (frame >= 0) & (frame < self._shape[1])
            place = ((line * self._shape[1] + frame) * PITCHES + pitch)[inside]
            out.scatter_reduce_(0, place, value[inside], "amax")
        return out.view(self._shape)

    def _spans(self, kinds: Sequence[Mark], delay: int) -> torch.Tensor:
        """1 in the frames inside spans, told `delay` late."""
        lines, frames, _ = self._shape
        edges = torch.zeros((lines, frames + 1, PITCHES), device=self._device)
        chosen = self._of(kinds)
        line, pitch = self._line[chosen], self._pitch[chosen]
        for at, sign in ((self._start[chosen], 1.0), (self._end[chosen], -1.0)):
            frame = torch.round(at + delay).long().clamp(0, frames)
            edges.index_put_((line, frame, pitch), torch.full_like(at, sign), accumulate=True)
        return (edges.cumsum(1)[:, :frames] > 0.5).float()


def loss(logits: torch.Tensor, scene: torch.Tensor, targets: Targets) -> torch.Tensor:
    """Weighted binary cross-entropy, a sum over pitches so that it does not depend on how many are silent."""
    heads, whole = targets.task.heads, targets.task.scene
    positive = torch.tensor([head.positive for head in heads], device=logits.device)
    share = torch.tensor([head.weight for head in heads], device=logits.device)
    entropy = torch.nn.functional.binary_cross_entropy_with_logits
    each = entropy(logits.float(), targets.pitches, weight=targets.weights, pos_weight=positive, reduction="none")
    rare = torch.tensor([head.positive for head in whole], device=scene.device)
    return (each.mean(dim=(0, 1)) * share).sum() + entropy(scene.float(), targets.scene, pos_weight=rare)


@torch.no_grad()
def onset_score(logits: torch.Tensor, targets: Targets, index: int, bar: float = 0.5) -> tuple[int, int, int]:
    """(told and right, told, true) by peaks of one head of points over `bar`, right within 23 ms at that pitch."""
    near = 4 * HOP // targets.task.hop
    said = torch.sigmoid(logits[..., index].float()).transpose(1, 2)
    true = targets.pitches[..., index].transpose(1, 2)
    open_ = targets.weights[..., index].transpose(1, 2) < 0.5
    pool = torch.nn.functional.max_pool1d
    told = (said == pool(said, near + 3, 1, (near + 2) // 2)) & (said > bar) & ~open_
    points = (true == pool(true, 5, 1, 2)) & (true > 0.6) & ~open_
    points &= ~torch.nn.functional.pad(points, (1, 0))[..., :-1]  # two equal frames are one point
    near_true, near_told = (pool(p.float(), 2 * near + 1, 1, near) > 0 for p in (points, told))
    hits = min(int((told & near_true).sum()), int((points & near_told).sum()))
    return hits, int(told.sum()), int(points.sum())
