"""What becomes of a clean line before an ear hears it: an amplifier, a room, the band in the air, hard drive.

Each takes and gives mono sound at RATE; the level is set afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import signal

from bench.clip import TrueNote
from bench.song import Song
from guitar import RATE, Floats
from listener.band import Band

BLEED_DB = -12.0  # the band in the microphone against the guitar
BLEED_LATE_S = 0.008
HUM_DB = -38.0
ROOM_NOISE_DB = -28.0
FLOOR_DB = -62.0  # noise of the pickup, against the peak, before the hard drive


def amp(sound: Floats, rng: np.random.Generator) -> Floats:
    """One stage of soft drive, a loudspeaker's band, and mains hum."""
    driven = np.tanh(rng.uniform(3, 8) * sound / np.abs(sound).max())
    speaker = _filtered(driven, "band", (75, 4800), 2)
    at = np.arange(len(sound)) / RATE
    hum = np.sum([np.sin(2 * np.pi * 50 * k * at + k) / k for k in (1, 2, 3, 5, 7)], axis=0)
    return speaker + hum / rms(hum) * rms(speaker) * 10 ** (HUM_DB / 20)


def room(sound: Floats, rng: np.random.Generator) -> Floats:
    """A small room, and its noise."""
    wet = _reverberated(sound, rng, float(rng.uniform(0.25, 0.5)), float(rng.uniform(0.3, 0.45)))
    return wet + _pink(len(sound), rng) * rms(wet) * 10 ** (ROOM_NOISE_DB / 20)


def bleed(sound: Floats, rng: np.random.Generator, song: Song) -> Floats:
    """The band that the player hears from a loudspeaker, in the microphone as well."""
    band = Band(song.timeline, RATE, song.swing)
    dry = band.render(0, len(sound)).astype(np.float64)
    heard = _reverberated(_filtered(dry, "band", (110, 9000), 2), rng, 0.25, 0.3)
    late = round(BLEED_LATE_S * RATE)
    heard = np.concatenate([np.zeros(late), heard[:-late]])
    return sound + heard * rms(sound) / rms(heard) * 10 ** (BLEED_DB / 20)


def hard(sound: Floats, rng: np.random.Generator, notes: Sequence[TrueNote]) -> Floats:
    """Pick noise before each stroke and the pickup's noise, all driven through two stages at fourfold rate."""
    clean = sound / np.abs(sound).max()
    clean = clean + rng.standard_normal(len(clean)) * 10 ** (FLOOR_DB / 20)
    for note in notes:
        if not note.slurred:
            _add_pick(clean, note.onset_s, rng)
    fast = signal.resample_poly(_filtered(clean, "high", 120, 1), 4, 1)
    first = np.tanh(10 ** (rng.uniform(24, 34) / 20) * fast / np.abs(fast).max() + 0.15)
    second = np.tanh(2.0 * signal.sosfilt(signal.butter(1, 90, "high", fs=4 * RATE, output="sos"), first))
    driven = signal.resample_poly(second, 1, 4)[: len(sound)]
    return _filtered(driven, "band", (80, float(rng.uniform(4000, 5500))), 2)


def rms(sound: Floats) -> float:
    return float(np.sqrt(np.mean(np.square(sound)))) + 1e-12


def _add_pick(sound: Floats, onset_s: float, rng: np.random.Generator) -> None:
    """The pick on the string, 2 to 12 ms long, up to the moment when it lets go."""
    length = round(rng.uniform(0.002, 0.012) * RATE)
    first = round(onset_s * RATE) - length
    if first < 0:
        return
    scrape = _filtered(rng.standard_normal(length), "band", (900, 6000), 1) * np.linspace(0.2, 1, length)
    sound[first : first + length] += scrape / np.abs(scrape).max() * 10 ** (rng.uniform(-42, -30) / 20)


def _reverberated(sound: Floats, rng: np.random.Generator, decay_s: float, share: float) -> Floats:
    """Convolved with a few early reflections and a tail that falls by 60 dB in `decay_s`; `share` is its amplitude."""
    at = np.arange(round(decay_s * RATE)) / RATE
    tail = rng.standard_normal(len(at)) * 10 ** (-3 * at / decay_s) * (at > 0.012)
    for late in rng.uniform(0.003, 0.02, 5):
        tail[round(late * RATE)] += float(rng.choice([-1, 1])) * 8 * rng.uniform(0.5, 1.0)
    tail *= share / np.sqrt(np.sum(tail**2))
    tail[0] = 1.0
    wet: Floats = signal.fftconvolve(sound, tail)[: len(sound)]
    return wet


def _pink(length: int, rng: np.random.Generator) -> Floats:
    spectrum = np.fft.rfft(rng.standard_normal(length))
    noise = np.fft.irfft(spectrum / np.sqrt(np.maximum(1, np.arange(len(spectrum)))), length)
    return np.asarray(noise / rms(noise))


def _filtered(sound: Floats, kind: str, edge_hz: float | tuple[float, float], order: int) -> Floats:
    out: Floats = signal.sosfilt(signal.butter(order, edge_hz, kind, fs=RATE, output="sos"), sound)
    return out
