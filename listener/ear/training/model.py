"""The networks as torch trains them: whole lines at once, the same sums as `listener.ear.network` does frame by frame
and `listener.ear.ahead` both ways."""

from __future__ import annotations

import torch
from torch import nn

from listener.ear.features import BANDS, PITCHES, pitch_index
from listener.ear.network import NEIGHBOURS
from listener.ear.training.tasks import LIVE, Task


class Model(nn.Module):
    """Features to logits: lines x frames x PITCHES x heads, and lines x frames x scene heads."""

    def __init__(self, task: Task = LIVE) -> None:
        super().__init__()
        self.task, shape, ways = task, task.shape, 2 if task.both_ways else 1
        index = torch.tensor(pitch_index())
        self.register_buffer("index", index, persistent=False)
        self.see = nn.Linear(index.shape[1], shape.see)
        self.near = nn.Linear(len(task.back) * shape.see, shape.near)
        self.summary = nn.Linear(shape.near, shape.summary)
        self.whole = nn.Linear(len(task.bands_back) * BANDS + PITCHES * shape.summary, shape.whole)
        self.scene = nn.GRU(shape.whole, shape.scene, batch_first=True, bidirectional=task.both_ways)
        self.shared = nn.Linear(ways * shape.scene, shape.shared)
        self.neighbour = nn.Linear(shape.near, shape.neighbour, bias=False)
        self.join = nn.Linear(shape.near + len(NEIGHBOURS) * shape.neighbour + shape.shared, shape.join)
        self.place = nn.Parameter(torch.zeros(PITCHES, shape.join))
        self.pitch = nn.GRU(shape.join, shape.pitch, batch_first=True, bidirectional=task.both_ways)
        self.heads = nn.Linear(ways * shape.pitch, len(task.heads))
        self.scene_heads = nn.Linear(ways * shape.scene, len(task.scene))
        nn.init.constant_(self.heads.bias, -4.0)
        nn.init.constant_(self.scene_heads.bias, -3.0)

    def forward(self, flat: torch.Tensor, bands: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """See the class."""
        lines, frames, _ = flat.shape
        seen = torch.relu(self.see(flat[..., self.index]))
        near = torch.relu(self.near(_back(seen, self.task.back)))
        summary = self.summary(near).flatten(2)
        whole = torch.relu(self.whole(torch.cat([_back(bands, self.task.bands_back), summary], dim=-1)))
        scene = _in_full(self.scene, whole)
        shared = torch.relu(self.shared(scene))[:, :, None, :].expand(-1, -1, PITCHES, -1)
        padded = nn.functional.pad(self.neighbour(near), (0, 0, max(NEIGHBOURS), max(NEIGHBOURS)))
        first = [max(NEIGHBOURS) + n for n in NEIGHBOURS]
        around = torch.cat([padded[:, :, at : at + PITCHES] for at in first], dim=-1)
        joined = torch.relu(self.join(torch.cat([near, around, shared], dim=-1)) + self.place)
        rows = joined.transpose(1, 2).reshape(lines * PITCHES, frames, -1)
        logits = self.heads(_in_full(self.pitch, rows)).reshape(lines, PITCHES, frames, -1).transpose(1, 2)
        return logits, self.scene_heads(scene)


def _in_full(layer: nn.GRU, values: torch.Tensor) -> torch.Tensor:
    """A recurrent layer in single precision: the fast kernels know no bfloat16, and states add up small steps."""
    with torch.autocast(values.device.type, enabled=False):
        states, _ = layer(values.float())
    return states


def _back(values: torch.Tensor, frames_back: tuple[int, ...]) -> torch.Tensor:
    """Frames before and after side by side in the last dimension, zeros beyond either end of the line."""
    length, most, least = values.shape[1], max(0, *frames_back), min(0, *frames_back)
    padded = nn.functional.pad(values, (0, 0) * (values.dim() - 2) + (most, -least))
    return torch.cat([padded[:, most - b : most - b + length] for b in frames_back], dim=-1)
