"""From marks to what each head should say in each frame, and how much that matters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import torch

from listener.ear.features import PITCHES
from listener.ear.network import HEADS, ONSET_DELAYS, SCENE_HEADS, SOUNDING_DELAY
from listener.ear.training.marks import Mark, Marks

# A point at time u (in frames), told d late, is right in the frame that ends about u + d + 0.5 and half right beside it
REACH = (-2, -1, 0, 1, 2)
WIDTH = 1.5
POSITIVE = {"onset_3": 4.0, "onset_6": 5.0, "onset_10": 5.0, "picked_6": 4.0, "sounding": 2.0, "moving": 4.0,
            "arrived_6": 6.0}  # fmt: skip
HEAD_WEIGHT = {"onset_3": 0.7, "onset_6": 1.0, "onset_10": 1.0, "picked_6": 0.7, "sounding": 0.5, "moving": 0.4,
               "arrived_6": 0.7}  # fmt: skip
SCENE_POSITIVE = 3.0
ONSETS = (Mark.PICKED, Mark.SLURRED)
FOREVER = 10_000.0


class Targets:
    """Target and weight tensors of a batch on one device, float32."""

    def __init__(self, marks: Sequence[Marks], frames: int, device: torch.device) -> None:
        line = np.concatenate([np.full(len(rows), i) for i, rows in enumerate(marks)])
        rows = torch.tensor(np.column_stack([line, np.concatenate(list(marks))]), dtype=torch.float32, device=device)
        self._line, self._kind, self._pitch = (rows[:, i].long() for i in range(3))
        self._start, self._end = rows[:, 3], rows[:, 4]
        self._shape = (len(marks), frames, PITCHES)
        self._device = device
        self.pitches = torch.stack([self._head(name) for name in HEADS], dim=-1)
        self.weights = torch.stack([self._weight(name) for name in HEADS], dim=-1)
        self.scene = torch.stack([self._attack(), self._points((Mark.DEAD,), 6).amax(2)], dim=-1)
        assert self.scene.shape[-1] == len(SCENE_HEADS)

    def _head(self, name: str) -> torch.Tensor:
        if name.startswith("onset_"):
            return self._points(ONSETS, int(name.removeprefix("onset_")))
        if name == "picked_6":
            return self._points((Mark.PICKED,), 6)
        if name == "arrived_6":
            return self._points((Mark.ARRIVED,), 6)
        return self._spans((Mark.SOUNDS if name == "sounding" else Mark.MOVES,), SOUNDING_DELAY)

    def _weight(self, name: str) -> torch.Tensor:
        if name == "moving":
            return torch.ones(self._shape, device=self._device)
        if name == "sounding":
            return 1.0 - self._spans((Mark.BLURRED,), SOUNDING_DELAY)
        delay = 6 if name.endswith("_6") else int(name.rpartition("_")[2])
        return 1.0 - self._spans((Mark.PASSED,), delay)

    def _attack(self) -> torch.Tensor:
        return self._points((Mark.PICKED, Mark.DEAD), ONSET_DELAYS[0]).amax(2)

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
    positive = torch.tensor([POSITIVE[h] for h in HEADS], device=logits.device)
    share = torch.tensor([HEAD_WEIGHT[h] for h in HEADS], device=logits.device)
    entropy = torch.nn.functional.binary_cross_entropy_with_logits
    each = entropy(logits.float(), targets.pitches, weight=targets.weights, pos_weight=positive, reduction="none")
    whole = entropy(scene.float(), targets.scene, pos_weight=torch.tensor(SCENE_POSITIVE, device=scene.device))
    return (each.mean(dim=(0, 1)) * share).sum() + whole


@torch.no_grad()
def onset_score(logits: torch.Tensor, targets: Targets, head: str, bar: float = 0.5) -> tuple[int, int, int]:
    """(told and right, told, true) by peaks of one onset head over `bar`, right within four frames at that pitch."""
    index = HEADS.index(head)
    said = torch.sigmoid(logits[..., index].float()).transpose(1, 2)
    true = targets.pitches[..., index].transpose(1, 2)
    open_ = targets.weights[..., index].transpose(1, 2) < 0.5
    pool = torch.nn.functional.max_pool1d
    told = (said == pool(said, 7, 1, 3)) & (said > bar) & ~open_
    points = (true == pool(true, 5, 1, 2)) & (true > 0.6) & ~open_
    points &= ~torch.nn.functional.pad(points, (1, 0))[..., :-1]  # two equal frames are one point
    near_true, near_told = pool(points.float(), 9, 1, 4) > 0, pool(told.float(), 9, 1, 4) > 0
    hits = min(int((told & near_true).sum()), int((points & near_told).sum()))
    return hits, int(told.sum()), int(points.sum())
