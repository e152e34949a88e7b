"""The trained network at run time, frame by frame in plain numpy: what sounds, what begins, what moves.

The same small layers look at every one of the 53 semitones (weights shared over pitch, after Kelz and Widmer's and
Bittner et al.'s harmonic stacking, ICASSP 2022); a recurrent layer over the scene hears attacks and the whole; another
one, with one state per pitch, remembers what each pitch did. Gated recurrent units as torch defines them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from listener.ear.features import BANDS, PITCHES, Sight, pitch_index, silent_sight

Floats = npt.NDArray[np.float32]

BACK = (0, 1, 2, 4, 8)  # frames a pitch sees, counted back from now
BANDS_BACK = (0, 1, 3)  # frames of bands that the scene sees
NEIGHBOURS = (-24, -19, -12, -7, -1, 1, 7, 12, 19, 24)  # semitones: octaves and twelfths confuse, semitones blur

# heads of a pitch: an onset told 3, 6 and 10 frames late, a picked one 6 late, sounding, moving, arrived by a glide
HEADS = ("onset_3", "onset_6", "onset_10", "picked_6", "sounding", "moving", "arrived_6")
SCENE_HEADS = ("attack_3", "dead_6")  # of the whole: any pick attack, a dead note
ONSET_DELAYS = (3, 6, 10)  # frames
SILENT_HOPS = 18  # frames of silence before every stream: 0.1 s
SOUNDING_DELAY = 4  # frames that the heads of sounding and moving lie behind


@dataclass(frozen=True, slots=True)
class Heard:
    """What one frame says, as probabilities: `pitches` is PITCHES x HEADS, `scene` follows SCENE_HEADS."""

    pitches: Floats
    scene: Floats


@dataclass(slots=True)
class Memory:
    """All that the network remembers between frames: plain arrays, to be copied or pickled at any moment."""

    seen: list[Floats]  # the last frames of the first layer, each pitches x channels, newest first
    bands: list[Floats]  # the last frames of bands, newest first
    scene: Floats
    pitches: Floats


class Network:
    """`weights` are those that the training wrote, by name.

    Kept are their transposes in memory order, which is how small products are fastest, with the halves of the logistic
    function (1 + tanh(x / 2)) / 2 already in them. The three parts of a recurrent layer's products lie in planes of
    their own, so that whatever follows runs through memory in one go.
    """

    def __init__(self, weights: Mapping[str, npt.NDArray[np.floating]]) -> None:
        w = {name: np.asarray(value, np.float32) for name, value in weights.items()}
        channels, near = len(w["near.bias"]), len(w["neighbour.weight"])
        around = near * len(NEIGHBOURS)
        join = w["join.weight"]
        self._split = near, near + len(join)
        from_near = np.concatenate([w["neighbour.weight"], join[:, :channels], w["summary.weight"]])
        layers = {name: (w[f"{name}.weight"], w[f"{name}.bias"]) for name in ("see", "near", "whole", "shared")}
        layers["heads"] = 0.5 * w["heads.weight"], 0.5 * w["heads.bias"]
        layers["scene_heads"] = 0.5 * w["scene_heads.weight"], 0.5 * w["scene_heads.bias"]
        layers["from_near"] = from_near, np.concatenate([np.zeros(self._split[1], np.float32), w["summary.bias"]])
        layers["around"] = join[:, channels : channels + around], w["place"]
        layers["scene_join"] = join[:, channels + around :], w["join.bias"]
        over_pitches = dict.fromkeys(("see", "near", "from_near", "heads"), PITCHES)
        self._layers = {
            name: (np.ascontiguousarray(weight.T), _repeated(bias, over_pitches.get(name)))
            for name, (weight, bias) in layers.items()
        }
        self._gates = {"scene": _gates(w, "scene", None), "pitch": _gates(w, "pitch", PITCHES)}
        self._sizes = len(w["see.bias"]), w["scene.weight_hh_l0"].shape[1], w["pitch.weight_hh_l0"].shape[1]
        self._index = pitch_index()
        self._neighbours = max(NEIGHBOURS) + np.arange(PITCHES)[:, None] + np.array(NEIGHBOURS)

    def silence(self) -> Memory:
        """The memory before the first frame: a while of silence, so that a stream may begin with a note."""
        first, scene, pitch = self._sizes
        memory = Memory(
            [np.zeros((PITCHES, first), np.float32)] * (max(BACK) + 1),
            [np.zeros(BANDS, np.float32)] * (max(BANDS_BACK) + 1),
            np.zeros(scene, np.float32),
            np.zeros((PITCHES, pitch), np.float32),
        )
        for _ in range(SILENT_HOPS):
            self.step(silent_sight(), memory)
        return memory

    def step(self, sight: Sight, memory: Memory) -> Heard:
        """Hear one frame; `memory` is brought up to date."""
        memory.seen = [_rectified(self._layer("see", sight.flat.take(self._index))), *memory.seen[:-1]]
        memory.bands = [sight.bands, *memory.bands[:-1]]
        near = _rectified(self._layer("near", np.concatenate([memory.seen[back] for back in BACK], axis=1)))
        told = self._layer("from_near", near)
        neighbour, own = self._split
        whole = np.concatenate([*(memory.bands[back] for back in BANDS_BACK), told[:, own:].reshape(-1)])
        memory.scene = self._gated("scene", _rectified(self._layer("whole", whole)), memory.scene)
        shared = _rectified(self._layer("shared", memory.scene))
        padded = np.zeros((PITCHES + 2 * max(NEIGHBOURS), neighbour), np.float32)
        padded[max(NEIGHBOURS) : max(NEIGHBOURS) + PITCHES] = told[:, :neighbour]
        joined = self._layer("around", padded.take(self._neighbours, axis=0).reshape(PITCHES, -1))
        joined += told[:, neighbour:own]
        joined += self._layer("scene_join", shared)
        memory.pitches = self._gated("pitch", _rectified(joined), memory.pitches)
        return Heard(
            _logistic(self._layer("heads", memory.pitches)), _logistic(self._layer("scene_heads", memory.scene))
        )

    def _layer(self, name: str, into: Floats) -> Floats:
        weight, bias = self._layers[name]
        out: Floats = into @ weight
        out += bias
        return out

    def _gated(self, name: str, into: Floats, before: Floats) -> Floats:
        """One step of a gated recurrent unit (Cho et al., EMNLP 2014, with the reset gate after the product)."""
        from_in, from_before, bias, bias_before = self._gates[name]
        given, held = np.matmul(into, from_in), np.matmul(before, from_before)
        given += bias
        held[2] += bias_before
        reset, keep = _logistic(given[:2] + held[:2])
        new: Floats = np.multiply(held[2], reset, out=reset)
        new += given[2]
        np.tanh(new, out=new)
        out: Floats = before - new
        out *= keep
        out += new
        return out


def _gates(w: Mapping[str, Floats], name: str, rows: int | None) -> tuple[Floats, Floats, Floats, Floats]:
    """Of a recurrent layer: the products with what comes in and with what is remembered, gate x channels x size, their
    biases, and what the second product adds to the new state alone."""
    size = w[f"{name}.weight_hh_l0"].shape[1]
    halves = np.array([0.5, 0.5, 1.0], np.float32)  # reset and keep are logistic, new is not
    planes = [
        np.ascontiguousarray((halves[:, None, None] * w[f"{name}.weight_{way}_l0"].reshape(3, size, -1)).swapaxes(1, 2))
        for way in ("ih", "hh")
    ]
    given, held = (halves[:, None] * w[f"{name}.bias_{way}_l0"].reshape(3, size) for way in ("ih", "hh"))
    given[:2] += held[:2]
    return planes[0], planes[1], _repeated(given, rows), _repeated(held[2], rows)


def _repeated(bias: Floats, rows: int | None) -> Floats:
    """The same for every pitch, laid out in full: so it is added fastest."""
    return bias if rows is None else np.repeat(bias[..., None, :], rows, axis=-2)


def _rectified(values: Floats) -> Floats:
    """In place. Against an array of zeros: four times as fast as against one."""
    return np.maximum(values, _zeros(values.shape), out=values)


@lru_cache(maxsize=16)
def _zeros(shape: tuple[int, ...]) -> Floats:
    return np.zeros(shape, np.float32)


def _logistic(halved: Floats) -> Floats:
    """The logistic function of twice the values, in place."""
    np.tanh(halved, out=halved)
    halved += np.float32(1.0)
    halved *= np.float32(0.5)
    return halved
