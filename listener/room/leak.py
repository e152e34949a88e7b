"""Whether the input hears the output: one quiet click is played, and looked for in what comes in.

Pure. The click is a short rising chirp: next to nothing else correlates with it, so it may be played softly and is
found in hum, hiss and a room that colours it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.events import Block, Samples
from listener.level import decibels

CLICK_S = 0.03
CLICK_LEVEL = 0.1  # -20 dBFS
AROUND_S = 0.5
LATEST_S = 0.4  # loudspeaker and microphone of one room, and what a driver forgets to tell
_LOW_HZ, _HIGH_HZ = 700.0, 4500.0
_OVER_NOISE = 9.0  # correlation of the click over that of the noise (its median deviation scaled to sigma)
_LEAST_LIKENESS = 0.42
_LEAST_SHARE = 1e-3  # -60 dB: what leaks less is heard by no ear of ours


@dataclass(frozen=True, slots=True)
class Leak:
    """The click was heard: `late_samples` after it was due, at `level_db` re the level it was played at."""

    late_samples: int
    level_db: float


class LeakCheck:
    """One click at sample index `at`: `render` plays it, `push` hears what comes in, until `is_over`.

    `at` should lie half a second ahead or more, so that the noise before the click is known.
    """

    def __init__(self, at: int, rate: int) -> None:
        self._at = at
        self._rate = rate
        self._click = check_click(rate)
        self._first = at - round(AROUND_S * rate)
        self._heard: Samples = np.zeros(round((2 * AROUND_S + CLICK_S) * rate), dtype=np.float32)
        self._position = self._first

    @property
    def is_over(self) -> bool:
        return self._position >= self._first + len(self._heard)

    def render(self, start: int, frames: int) -> Samples:
        """The click where it is due, silence everywhere else."""
        out: Samples = np.zeros(frames, dtype=np.float32)
        low, high = max(start, self._at), min(start + frames, self._at + len(self._click))
        if low < high:
            out[low - start : high - start] = self._click[low - self._at : high - self._at]
        return out

    def push(self, block: Block) -> None:
        """Take in the next block; only what lies around the click is kept."""
        end = block.start_sample + len(block.samples)
        low, high = max(block.start_sample, self._first), min(end, self._first + len(self._heard))
        if low < high:
            self._heard[low - self._first : high - self._first] = block.samples[
                low - block.start_sample : high - block.start_sample
            ]
        self._position = max(self._position, end)

    def leak(self) -> Leak | None:
        """What was found, once it is over: None where the input does not hear the output."""
        return heard_click(self._heard, self._at - self._first, self._rate)


def check_click(rate: int) -> Samples:
    """The click, float32 at -20 dBFS peak."""
    seconds = np.arange(round(CLICK_S * rate)) / rate
    sweep = (_HIGH_HZ - _LOW_HZ) / CLICK_S
    phase = 2 * np.pi * (_LOW_HZ * seconds + 0.5 * sweep * seconds**2)
    click: Samples = (CLICK_LEVEL * np.sin(phase) * np.hanning(len(seconds))).astype(np.float32)
    return click


def heard_click(heard: Samples, due: int, rate: int) -> Leak | None:
    """Look for the click in `heard`, where it was due at index `due`; None where the input does not hear the output.

    `heard` should begin half a second before the click and go on half a second after it. Two things have to be true:
    the match stands out of the noise, and most of what sounds just then, within the click's band, is the click.
    The second tells it from a pick attack, whose likeness to the click stays under 0.3 on real strings, while a
    click in a live room keeps 0.5.
    """
    click = check_click(rate).astype(np.float64)
    latest = min(due + round(LATEST_S * rate), len(heard) - len(click))
    if latest <= due:
        return None
    inside = _in_band(heard, rate)
    frames = 1 << (len(heard) + len(click) - 2).bit_length()  # no wrap-around, and quick to transform
    product = np.fft.rfft(inside, frames) * np.conj(np.fft.rfft(click, frames))
    match = np.abs(np.fft.irfft(product, frames)[: len(heard) - len(click) + 1])
    power = np.concatenate([[0.0], np.cumsum(np.square(inside))])
    around = np.sqrt(np.maximum(power[len(click) :] - power[: -len(click)], 1e-15))
    at = due + int(np.argmax(match[due:latest]))
    click_power = float(np.dot(click, click))
    share, likeness = match[at] / click_power, match[at] / (around[at] * math.sqrt(click_power))
    noise = float(np.median(match)) / click_power / 0.6745
    if share < max(_LEAST_SHARE, _OVER_NOISE * noise) or likeness < _LEAST_LIKENESS:
        return None
    return Leak(at - due, decibels(float(share)))


def _in_band(heard: Samples, rate: int) -> npt.NDArray[np.float64]:
    """What lies in the band of the click: hum and the fundamentals of strings are left out."""
    spectrum = np.fft.rfft(heard.astype(np.float64))
    hz = np.fft.rfftfreq(len(heard), 1.0 / rate)
    spectrum[(hz < 0.9 * _LOW_HZ) | (hz > 1.1 * _HIGH_HZ)] = 0.0
    return np.fft.irfft(spectrum, len(heard))
