"""The network as torch trains it: whole lines at once, the same sums as `listener.ear.network` does frame by frame."""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import nn

from listener.ear.features import BANDS, PITCHES, pitch_index
from listener.ear.network import BACK, BANDS_BACK, HEADS, NEIGHBOURS, SCENE_HEADS


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


class Model(nn.Module):
    """Features to logits: lines x frames x PITCHES x HEADS, and lines x frames x SCENE_HEADS."""

    def __init__(self, shape: Shape = Shape()) -> None:
        super().__init__()
        self.shape = shape
        index = torch.tensor(pitch_index())
        self.register_buffer("index", index, persistent=False)
        self.see = nn.Linear(index.shape[1], shape.see)
        self.near = nn.Linear(len(BACK) * shape.see, shape.near)
        self.summary = nn.Linear(shape.near, shape.summary)
        self.whole = nn.Linear(len(BANDS_BACK) * BANDS + PITCHES * shape.summary, shape.whole)
        self.scene = nn.GRU(shape.whole, shape.scene, batch_first=True)
        self.shared = nn.Linear(shape.scene, shape.shared)
        self.neighbour = nn.Linear(shape.near, shape.neighbour, bias=False)
        self.join = nn.Linear(shape.near + len(NEIGHBOURS) * shape.neighbour + shape.shared, shape.join)
        self.place = nn.Parameter(torch.zeros(PITCHES, shape.join))
        self.pitch = nn.GRU(shape.join, shape.pitch, batch_first=True)
        self.heads = nn.Linear(shape.pitch, len(HEADS))
        self.scene_heads = nn.Linear(shape.scene, len(SCENE_HEADS))
        nn.init.constant_(self.heads.bias, -4.0)
        nn.init.constant_(self.scene_heads.bias, -3.0)

    def forward(self, flat: torch.Tensor, bands: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """See the class."""
        lines, frames, _ = flat.shape
        seen = torch.relu(self.see(flat[..., self.index]))
        near = torch.relu(self.near(_back(seen, BACK)))
        summary = self.summary(near).flatten(2)
        whole = torch.relu(self.whole(torch.cat([_back(bands, BANDS_BACK), summary], dim=-1)))
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
    """Frames now and before side by side in the last dimension, zeros where the line had not begun."""
    length = values.shape[1]
    before = (0, 0) * (values.dim() - 2) + (max(frames_back), 0)
    padded = nn.functional.pad(values, before)
    return torch.cat([padded[:, max(frames_back) - b : max(frames_back) - b + length] for b in frames_back], dim=-1)
