"""A band to be heard through the microphone: drums, bass and chords of our own making, no truth attached."""

from __future__ import annotations

import numpy as np

from listener.ear.training.bank import RATE, Floats, Guitar
from listener.ear.training.noises import Noises
from listener.ear.training.strings import read

CHORDS = ((0, 4, 7), (0, 3, 7), (0, 4, 7, 10), (0, 3, 7, 10), (0, 4, 7, 11), (0, 3, 6, 9), (0, 4, 7, 9))


def band(rng: np.random.Generator, seconds: float, guitars: list[Guitar], noises: Noises) -> Floats:
    """`seconds` of a band at a random tempo, peak 1. Instruments are left out at random, never all of them."""
    out = np.zeros(round((seconds + 1.0) * RATE), np.float32)
    beat, swing = 60.0 / float(rng.uniform(60, 200)), float(rng.uniform(0.5, 0.68))
    roots = rng.integers(0, 12, 4)
    guitar = guitars[int(rng.integers(len(guitars)))]
    has = rng.random(3) < (0.75, 0.75, 0.75)
    if not has.any():
        has[int(rng.integers(3))] = True
    voice, attack_s, tune = _voice(rng), float(rng.uniform(0.001, 0.03)), float(rng.normal(0.0, 0.06))
    bass = tuple(float(x) for x in np.array([1, 0.5, 0.25, 0.1]) * rng.uniform(0.2, 1.8, 4))
    depth = int(rng.choice([28, 31, 36]))  # the lowest note of the bass: it walks through two octaves
    for i in range(int(seconds / beat) + 1):
        time = i * beat
        root = int(roots[i // 4 % 4])
        tones = CHORDS[(root + i // 4) % len(CHORDS)]
        if has[0]:
            _drums(out, i, time, beat, swing, rng, noises)
        if has[1] and rng.random() < 0.9:
            degree = root if i % 4 == 0 else root + int(rng.choice(tones))
            midi = depth + (degree - depth) % 12 + (12 if rng.random() < 0.3 else 0) + tune
            _tone(out, time, beat * 0.95, midi, bass, float(rng.uniform(0.2, 0.8)), 0.4, 0.004)
        if has[2] and rng.random() < 0.5:
            start = time + (swing * beat if rng.random() < 0.4 else 0.0)
            length = beat * float(rng.choice([0.4, 1.0, 2.0]))
            for tone in tones:
                midi = 52 + (root + tone - 52) % 12 + (12 if rng.random() < 0.2 else 0)
                if voice is None:
                    _string(out, start, length, midi, guitar, rng)
                else:
                    _tone(out, start, length, midi + tune, voice, float(rng.uniform(0.15, 1.0)), 0.12, attack_s)
    out = out[: round(seconds * RATE)]
    return np.asarray(out / (np.abs(out).max() + 1e-6), np.float32)


def _voice(rng: np.random.Generator) -> tuple[float, ...] | None:
    """The harmonics of a keyboard, or None where a guitar plays the chords."""
    if rng.random() < 0.2:
        return None
    count = int(rng.integers(2, 10))
    return tuple(float(x) for x in rng.uniform(0.0, 1.0, count) / np.arange(1, count + 1) ** rng.uniform(0.3, 2.0))


def _drums(out: Floats, i: int, time: float, beat: float, swing: float, rng: np.random.Generator,
           noises: Noises) -> None:  # fmt: skip
    if i % 2 == 0 or rng.random() < 0.2:
        at = np.arange(round(0.2 * RATE), dtype=np.float32) / RATE
        kick = np.sin(2 * np.pi * (45 * at + 2.5 * (1 - np.exp(-at / 0.03)))) * np.exp(-at / 0.06)
        _mix(out, time, 0.6 * kick.astype(np.float32))
    else:
        _mix(out, time, _hit(noises, 0.12, 0.04, 0.35, rng, 1))
    _mix(out, time, _hit(noises, 0.08, 0.02, float(rng.uniform(0.05, 0.25)), rng, 2))
    if rng.random() < 0.7:
        _mix(out, time + swing * beat, _hit(noises, 0.06, 0.015, float(rng.uniform(0.05, 0.2)), rng, 2))


def _hit(noises: Noises, seconds: float, decay: float, level: float, rng: np.random.Generator, band_: int) -> Floats:
    burst = noises.burst(2 * seconds, 1.0, rng, band_)
    burst = burst[len(burst) // 2 :]
    at = np.arange(len(burst), dtype=np.float32) / RATE
    return np.asarray(level * burst * np.exp(-at / np.float32(decay)), np.float32)


def _tone(out: Floats, start: float, seconds: float, midi: float, harmonics: tuple[float, ...], decay: float,
          level: float, attack_s: float) -> None:  # fmt: skip
    at = np.arange(round(seconds * RATE), dtype=np.float32) / RATE
    hz = 440.0 * 2.0 ** ((midi - 69.0) / 12.0)
    wave = np.zeros(len(at), np.float32)
    for k, share in enumerate(harmonics, 1):
        wave += np.float32(share) * np.sin(np.float32(2 * np.pi * hz * k) * at + np.float32(k))
    wave *= (
        np.exp(-at / np.float32(decay))
        * np.minimum(1, at / np.float32(attack_s))
        * np.minimum(1, (seconds - at) / 0.02)
    )
    _mix(out, start, level * wave)


def _string(out: Floats, start: float, seconds: float, midi: float, guitar: Guitar, rng: np.random.Generator) -> None:
    note = guitar.near(midi, rng)
    count = min(round(seconds * RATE), len(note.sound) - note.attack - 400)
    position = note.attack - 60 + np.arange(count) * 2.0 ** ((midi - note.midi) / 12.0)
    sound = read(note.sound, position[position < len(note.sound) - 3])
    sound[-200:] *= np.linspace(1, 0, len(sound[-200:]), dtype=np.float32)
    _mix(out, start + float(rng.uniform(0, 0.02)), 0.5 * sound)


def _mix(out: Floats, start: float, sound: Floats) -> None:
    first = round(start * RATE)
    sound = sound[: max(0, len(out) - first)]
    out[first : first + len(sound)] += sound
