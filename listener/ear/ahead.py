"""The network of the review ear at run time: it hears a whole recording, forwards and backwards.

The same features and the same small layers over pitch as the live network, every second hop, with recurrent layers that
run both ways (Schuster and Paliwal, "Bidirectional recurrent neural networks", IEEE Trans. Signal Processing 45(11),
1997). All that does not recur is one product over many frames, which makes it many times faster than real time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.ear.features import BANDS, HOP, LONG, PITCHES, RATE, Features, pitch_index
from listener.ear.network import NEIGHBOURS, Floats

STRIDE = 2 * HOP  # samples between frames: 11.6 ms
BACK = (-2, -1, 0, 1, 2, 4)  # frames a pitch sees, counted back from now; those below 0 lie ahead
BANDS_BACK = (-2, -1, 0, 1, 2)  # frames of bands that the scene sees
HEADS = ("onset", "picked", "sounding", "moving", "arrived")  # of a pitch
SCENE_HEADS = ("attack", "dead")  # of the whole
SILENT_FRAMES = 9  # of silence before every recording, so that it may begin with a note: 0.1 s
DELAY = 2  # frames that every head lies behind, since the features look back
WINDOW, MARGIN = round(30.0 * RATE / STRIDE), round(2.0 * RATE / STRIDE)  # frames heard in one go, and around them
CHUNK, BLOCK = 172, 64  # frames whose features, and whose recurrent inputs, are in memory at one time


@dataclass(frozen=True, slots=True)
class Hindsight:
    """What every frame says, as probabilities: `pitches` is frames x PITCHES x HEADS, `scene` frames x SCENE_HEADS."""

    pitches: Floats
    scene: Floats


class AheadNetwork:
    """`weights` are those that the training wrote, by name; `a4_hz` is the player's A4."""

    def __init__(self, weights: Mapping[str, npt.NDArray[np.floating]], a4_hz: float = 440.0) -> None:
        w = {name: np.asarray(value, np.float32) for name, value in weights.items()}
        self._features = Features(a4_hz)
        self._index = pitch_index()
        self._neighbours = max(NEIGHBOURS) + np.arange(PITCHES)[:, None] + np.array(NEIGHBOURS)
        self._see = _layer(w, "see")
        near, bias = _layer(w, "near")
        self._near = np.split(near, len(BACK)), bias
        channels, around = len(bias), len(NEIGHBOURS) * len(w["neighbour.weight"])
        join = w["join.weight"].T
        self._from_near = np.concatenate([w["neighbour.weight"].T, w["summary.weight"].T, join[:channels]], axis=1)
        self._parts = np.cumsum([len(w["neighbour.weight"]), len(w["summary.weight"])])
        self._summary = w["summary.bias"]
        self._around, self._from_scene = join[channels : channels + around], join[channels + around :]
        self._place = w["place"] + w["join.bias"]
        self._whole, self._shared = _layer(w, "whole"), _layer(w, "shared")
        self._scene, self._pitch = _Recurrent(w, "scene"), _Recurrent(w, "pitch")
        self._heads, self._scene_heads = _layer(w, "heads"), _layer(w, "scene_heads")

    def hear(self, sound: Floats) -> Hindsight:
        """`sound`: float32 at RATE. Frame t is told by the sound up to sample (t + 1) * STRIDE, of DELAY earlier."""
        frames = SILENT_FRAMES + -(-len(sound) // STRIDE) + DELAY
        tape = np.zeros(LONG - STRIDE + frames * STRIDE, np.float32)
        begin = LONG - STRIDE + SILENT_FRAMES * STRIDE
        tape[begin : begin + len(sound)] = sound
        tapes = np.lib.stride_tricks.sliding_window_view(tape, LONG)[::STRIDE]
        pitches = np.zeros((frames, PITCHES, len(HEADS)), np.float32)
        scene = np.zeros((frames, len(SCENE_HEADS)), np.float32)
        for first in range(0, frames, WINDOW):
            start, end = max(0, first - MARGIN), min(frames, first + WINDOW + MARGIN)
            kept = slice(first - start, min(frames, first + WINDOW) - start)
            here = self._window(tapes[start:end])
            pitches[first : first + WINDOW], scene[first : first + WINDOW] = here.pitches[kept], here.scene[kept]
        return Hindsight(pitches[SILENT_FRAMES:], scene[SILENT_FRAMES:])

    def _window(self, tapes: Floats) -> Hindsight:
        seen, bands = self._look(tapes)
        neighbour, summary, joined = self._gather(seen)
        whole = np.concatenate([*_shifted(bands, BANDS_BACK), summary + np.tile(self._summary, PITCHES)], axis=1)
        scene = self._scene.run(_rectified(_apply(self._whole, whole))[:, None])[:, :, 0].reshape(len(tapes), -1)
        joined += (_rectified(_apply(self._shared, scene)) @ self._from_scene)[:, None]
        joined += self._place
        reach = max(NEIGHBOURS)
        padded = np.pad(neighbour, ((0, 0), (reach, reach), (0, 0)))
        for first in range(0, len(tapes), CHUNK):
            part = slice(first, first + CHUNK)
            around = padded[part].take(self._neighbours, axis=1)
            joined[part] += around.reshape(*around.shape[:2], -1) @ self._around
        logits = self._pitch.run(_rectified(joined), self._heads)
        return Hindsight(_logistic(logits), _logistic(_apply(self._scene_heads, scene)))

    def _look(self, tapes: Floats) -> tuple[Floats, Floats]:
        """The first layer of every frame, frames x PITCHES x channels, and the bands."""
        seen = np.empty((len(tapes), PITCHES, len(self._see[1])), np.float32)
        bands = np.empty((len(tapes), BANDS), np.float32)
        for first in range(0, len(tapes), CHUNK):
            part = slice(first, first + CHUNK)
            sight = self._features.see(tapes[part])
            bands[part] = sight.bands
            seen[part] = _rectified(_apply(self._see, sight.flat.take(self._index, axis=1)))
        return seen, bands

    def _gather(self, seen: Floats) -> tuple[Floats, Floats, Floats]:
        """Of the second layer, which sees frames before and after: what it tells neighbours, the scene and itself."""
        (weights, bias), frames = self._near, len(seen)
        reach_back, reach_on = max(BACK), -min(BACK)
        padded = np.pad(seen, ((reach_back, reach_on), (0, 0), (0, 0)))
        split = *self._parts.tolist(), self._from_near.shape[1]
        told = [np.empty((frames, PITCHES, b - a), np.float32) for a, b in zip((0, *split), split, strict=False)]
        for first in range(0, frames, CHUNK):
            count = min(CHUNK, frames - first)
            near = bias + sum(
                padded[reach_back - back + first : reach_back - back + first + count] @ weight
                for back, weight in zip(BACK, weights, strict=True)
            )
            parts = np.split(_rectified(near) @ self._from_near, self._parts, axis=-1)
            for whole, part in zip(told, parts, strict=True):
                whole[first : first + count] = part
        return told[0], told[1].reshape(frames, -1), told[2]


class _Recurrent:
    """Two gated recurrent units (Cho et al., EMNLP 2014, as torch defines them), one for each way; both take their
    steps at the same time. Reset, keep and new stand in planes of their own, the halves of the logistic function
    (1 + tanh(x / 2)) / 2 already in the weights of the first two."""

    def __init__(self, w: Mapping[str, Floats], name: str) -> None:
        ends = ("l0", "l0_reverse")
        self._size = w[f"{name}.weight_hh_l0"].shape[1]
        halves = np.array([0.5, 0.5, 1.0], np.float32)
        into, held, biases, new = [], [], [], []
        for end in ends:
            planes = [w[f"{name}.{kind}_{end}"].reshape(3, self._size, -1) for kind in ("weight_ih", "weight_hh")]
            into.append([half * plane.T for half, plane in zip(halves, planes[0], strict=True)])
            held.append([half * plane.T for half, plane in zip(halves, planes[1], strict=True)])
            given, before = (w[f"{name}.bias_{kind}_{end}"].reshape(3, -1) for kind in ("ih", "hh"))
            biases.append([0.5 * (given[0] + before[0]), 0.5 * (given[1] + before[1]), given[2]])
            new.append(before[2])
        self._into, self._biases = into, biases
        self._held = np.ascontiguousarray(np.array(held).swapaxes(0, 1))  # plane x way x size x size
        self._new = np.array(new)[:, None]

    def run(self, values: Floats, heads: tuple[Floats, Floats] | None = None) -> Floats:
        """`values`: frames x rows x channels. The states, frames x ways x rows x size; or, so that they need not all be
        kept, what `heads` make of them, frames x rows x heads."""
        frames, rows, size = len(values), values.shape[1], self._size
        out = np.zeros((frames, 2, rows, size) if heads is None else (frames, rows, len(heads[1])), np.float32)
        state = np.zeros((2, rows, size), np.float32)
        block = np.empty((BLOCK, 3, 2, rows, size), np.float32)
        states = np.empty((BLOCK, 2, rows, size), np.float32)
        new = np.ascontiguousarray(np.broadcast_to(self._new, state.shape))
        for first in range(0, frames, BLOCK):
            count = min(BLOCK, frames - first)
            ways = slice(first, first + count), slice(frames - first - count, frames - first)
            for way, order in ((0, 1), (1, -1)):
                for plane in range(3):
                    given = _apply((self._into[way][plane], self._biases[way][plane]), values[ways[way]])
                    block[:count, plane, way] = given[::order]
            for i in range(count):
                state = states[i] = self._step(block[i], state, new)
            for way, order in ((0, 1), (1, -1)):
                told = states[:count, way][::order]
                if heads is None:
                    out[ways[way], way] = told
                else:
                    out[ways[way]] += told @ heads[0][way * size : (way + 1) * size]
        return out if heads is None else out + heads[1]

    def _step(self, given: Floats, before: Floats, bias: Floats) -> Floats:
        told = np.matmul(before, self._held)
        gates, new = told[:2], told[2]
        gates += given[:2]
        np.tanh(gates, out=gates)
        gates += np.float32(1.0)
        gates *= np.float32(0.5)
        new += bias
        new *= gates[0]
        new += given[2]
        np.tanh(new, out=new)
        after: Floats = before - new
        after *= gates[1]
        after += new
        return after


def _layer(w: Mapping[str, Floats], name: str) -> tuple[Floats, Floats]:
    return np.ascontiguousarray(w[f"{name}.weight"].T), w[f"{name}.bias"]


def _apply(layer: tuple[Floats, Floats], into: Floats) -> Floats:
    out: Floats = into @ layer[0]
    out += layer[1]
    return out


def _shifted(values: Floats, frames_back: tuple[int, ...]) -> list[Floats]:
    most, least, count = max(frames_back), min(frames_back), len(values)
    padded = np.pad(values, ((most, -least), (0, 0)))
    return [padded[most - back : most - back + count] for back in frames_back]


def _rectified(values: Floats) -> Floats:
    """In place. Beside an array of zeros: a single number takes twice as long."""
    return np.maximum(values, np.zeros(values.shape[-1], np.float32), out=values)


def _logistic(values: Floats) -> Floats:
    """In place, as (1 + tanh(x / 2)) / 2, which cannot overflow."""
    values *= np.float32(0.5)
    np.tanh(values, out=values)
    values += np.float32(1.0)
    values *= np.float32(0.5)
    return values
