"""The trained network at run time, frame by frame in plain numpy: what sounds, what begins, what moves.

The same small layers look at every one of the 53 semitones (weights shared over pitch, after Kelz and Widmer's and
Bittner et al.'s harmonic stacking, ICASSP 2022); a recurrent layer over the scene hears attacks and the whole; another
one, with one state per pitch, remembers what each pitch did. Gated recurrent units as torch defines them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.ear.features import BANDS, PITCHES, Sight, pitch_index

Floats = npt.NDArray[np.float32]

BACK = (0, 1, 2, 4, 8)  # frames a pitch sees, counted back from now
BANDS_BACK = (0, 1, 3)  # frames of bands that the scene sees
NEIGHBOURS = (-24, -19, -12, -7, -1, 1, 7, 12, 19, 24)  # semitones: octaves and twelfths confuse, semitones blur

# heads of a pitch: an onset told 3, 6 and 10 frames late, a picked one 6 late, sounding, moving, arrived by a glide
HEADS = ("onset_3", "onset_6", "onset_10", "picked_6", "sounding", "moving", "arrived_6")
SCENE_HEADS = ("attack_3", "dead_6")  # of the whole: any pick attack, a dead note
ONSET_DELAYS = (3, 6, 10)  # frames
SOUNDING_DELAY = 4  # frames that the heads of sounding and moving lie behind


@dataclass(frozen=True, slots=True)
class Heard:
    """What one frame says, as probabilities: `pitches` is PITCHES x HEADS, `scene` follows SCENE_HEADS."""

    pitches: Floats
    scene: Floats


@dataclass(slots=True)
class Memory:
    """All that the network remembers between frames: plain arrays, to be copied or pickled at any moment."""

    seen: Floats  # the last frames of the first layer: frames x pitches x channels, newest first
    bands: Floats  # the last frames of bands, newest first
    scene: Floats
    pitches: Floats


class Network:
    """`weights` are those that the training wrote, by name."""

    def __init__(self, weights: Mapping[str, npt.NDArray[np.floating]]) -> None:
        self._w = {name: np.ascontiguousarray(value, np.float32) for name, value in weights.items()}
        self._index = pitch_index()
        padded = PITCHES + 2 * max(NEIGHBOURS)
        self._neighbours = max(NEIGHBOURS) + np.arange(PITCHES)[:, None] + np.array(NEIGHBOURS)
        self._padded = np.zeros((padded, len(self._w["neighbour.weight"])), np.float32)

    def silence(self) -> Memory:
        """The memory before the first frame."""
        first = len(self._w["see.bias"])
        return Memory(
            np.zeros((max(BACK) + 1, PITCHES, first), np.float32),
            np.zeros((max(BANDS_BACK) + 1, BANDS), np.float32),
            np.zeros(self._w["scene.weight_hh_l0"].shape[1], np.float32),
            np.zeros((PITCHES, self._w["pitch.weight_hh_l0"].shape[1]), np.float32),
        )

    def step(self, sight: Sight, memory: Memory) -> Heard:
        """Hear one frame; `memory` is brought up to date."""
        w = self._w
        memory.seen[1:] = memory.seen[:-1]
        memory.seen[0] = _rectified(sight.flat[self._index] @ w["see.weight"].T + w["see.bias"])
        memory.bands[1:] = memory.bands[:-1]
        memory.bands[0] = sight.bands
        recent = memory.seen[list(BACK)].transpose(1, 0, 2).reshape(PITCHES, -1)
        near = _rectified(recent @ w["near.weight"].T + w["near.bias"])
        summary = (near @ w["summary.weight"].T + w["summary.bias"]).reshape(-1)
        whole = np.concatenate([memory.bands[list(BANDS_BACK)].reshape(-1), summary])
        whole = _rectified(w["whole.weight"] @ whole + w["whole.bias"])
        memory.scene = self._gated("scene", whole, memory.scene)
        shared = _rectified(w["shared.weight"] @ memory.scene + w["shared.bias"])
        self._padded[max(NEIGHBOURS) : max(NEIGHBOURS) + PITCHES] = near @ w["neighbour.weight"].T
        around = self._padded[self._neighbours].reshape(PITCHES, -1)
        split = near.shape[1], near.shape[1] + around.shape[1]
        join = w["join.weight"]
        joined = near @ join[:, : split[0]].T + around @ join[:, split[0] : split[1]].T + w["place"]
        joined = _rectified(joined + (join[:, split[1] :] @ shared + w["join.bias"]))
        memory.pitches = self._gated("pitch", joined, memory.pitches)
        pitches = _sigmoid(memory.pitches @ w["heads.weight"].T + w["heads.bias"])
        return Heard(pitches, _sigmoid(w["scene_heads.weight"] @ memory.scene + w["scene_heads.bias"]))

    def _gated(self, name: str, into: Floats, before: Floats) -> Floats:
        """One step of a gated recurrent unit (Cho et al., EMNLP 2014, with the reset gate after the product)."""
        w = self._w
        from_in = into @ w[f"{name}.weight_ih_l0"].T + w[f"{name}.bias_ih_l0"]
        from_before = before @ w[f"{name}.weight_hh_l0"].T + w[f"{name}.bias_hh_l0"]
        size = before.shape[-1]
        gates = _sigmoid(from_in[..., : 2 * size] + from_before[..., : 2 * size])
        reset, keep = gates[..., :size], gates[..., size:]
        new = np.tanh(from_in[..., 2 * size :] + reset * from_before[..., 2 * size :])
        return np.asarray(new + keep * (before - new), np.float32)


def _rectified(values: Floats) -> Floats:
    return np.maximum(values, np.float32(0.0))


def _sigmoid(values: Floats) -> Floats:
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * values)), np.float32)
