"""Plucked strings of known pitch, out of physics alone: sums of decaying partials."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

Sound = npt.NDArray[np.float64]
STREAM = 44100


def string(pitch: Callable[[Sound], Sound] | float, seconds: float, decay_s: float = 0.8) -> Sound:
    """A string plucked at a fifth of its length: partial k has size sin(k pi / 5) / k^1.5; damped within 10 ms."""
    at = np.arange(round(seconds * STREAM)) / STREAM
    contour = pitch(at) if callable(pitch) else np.full(len(at), pitch)
    phase = 2 * np.pi * np.cumsum(440.0 * 2.0 ** ((contour - 69.0) / 12.0)) / STREAM
    sound = np.zeros(len(at))
    for k in range(1, 12):
        sound += np.sin(k * np.pi / 5) / k**1.5 * np.exp(-at * (1 + 0.15 * k) / decay_s) * np.sin(k * phase)
    sound[-441:] *= np.linspace(1, 0, 441)
    return 0.2 * sound


def placed(parts: Sequence[tuple[float, Sound]], seconds: float) -> Sound:
    """Sounds at their onsets in seconds, over a noise floor of -80 dB."""
    out = 1e-4 * np.random.default_rng(1).standard_normal(round(seconds * STREAM))
    for onset, sound in parts:
        first = round(onset * STREAM)
        out[first : first + len(sound)] += sound[: len(out) - first]
    return out
