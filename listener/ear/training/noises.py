"""Sounds of the hand that are no notes: muted strokes, squeaks, clicks of the pick, the blip of a finger that lifts."""

from __future__ import annotations

import numpy as np
from scipy import signal

from listener.ear.training.bank import RATE, Floats, Guitar
from listener.ear.training.strings import read

_BANDS = ((180, 2600), (600, 4500), (1500, 9000), (100, 900))
_STORE_S = 4.0


class Noises:
    """Band noise made once and cut from at random: filters are slow to build."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        white = rng.standard_normal((len(_BANDS), round(_STORE_S * RATE)))
        self._store = np.stack([signal.sosfilt(signal.butter(2, band, "band", fs=RATE, output="sos"), row)
                                for band, row in zip(_BANDS, white, strict=True)]).astype(np.float32)  # fmt: skip
        self._store /= np.sqrt(np.mean(self._store**2, axis=1, keepdims=True))

    def burst(self, seconds: float, peak: float, rng: np.random.Generator, band: int | None = None) -> Floats:
        """Noise under a bell, `peak` at its loudest."""
        length = max(8, round(seconds * RATE))
        row = self._store[band if band is not None else int(rng.integers(len(_BANDS)))]
        first = int(rng.integers(0, len(row) - length))
        out = row[first : first + length] * np.hanning(length).astype(np.float32)
        return np.asarray(out * (peak / (np.abs(out).max() + 1e-9)), np.float32)

    def dead(self, guitar: Guitar, rng: np.random.Generator) -> Floats:
        """A muted stroke: a scrape of the pick and a thud of one to three strings that die within some 15 to 50 ms."""
        length = round(0.12 * RATE)
        at = np.arange(length, dtype=np.float32) / RATE
        scrape = self._store[0][(first := int(rng.integers(0, self._store.shape[1] - length))) : first + length]
        scrape = scrape * np.exp(-at / np.float32(rng.uniform(0.005, 0.014)))
        out = scrape * np.float32(rng.uniform(0.05, 0.25) / np.abs(scrape).max())
        for _ in range(int(rng.choice([1, 1, 2, 3]))):
            note = guitar.near(float(rng.uniform(40, 66)), rng)
            thud = read(note.sound, note.attack + np.arange(float(length)) * float(rng.uniform(0.9, 1.1)))
            out += np.float32(rng.uniform(0.2, 0.7)) * thud * np.exp(-at / np.float32(rng.uniform(0.004, 0.017)))
        return np.asarray(out * np.float32(10 ** (rng.uniform(-12, 0) / 20)), np.float32)

    @staticmethod
    def blip(guitar: Guitar, midi: float, rng: np.random.Generator) -> Floats:
        """A finger that lifts off a string: a faint, short sound of a lower pitch."""
        length = round(0.09 * RATE)
        at = np.arange(length, dtype=np.float32) / RATE
        note = guitar.near(max(40.0, midi - float(rng.integers(1, 8))), rng)
        skip = float(rng.uniform(0.01, 0.2)) * RATE
        sound = read(note.sound, note.attack + skip + np.arange(float(length)))
        sound *= np.exp(-at / np.float32(rng.uniform(0.006, 0.025)))
        sound[:40] *= np.linspace(0, 1, 40, dtype=np.float32)
        return np.asarray(sound * np.float32(10 ** (rng.uniform(-30, -12) / 20)), np.float32)
