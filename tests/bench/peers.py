"""General-purpose libraries that hear notes: what a player could have instead, the whole file in hand.

Each is imported in its own function, so that only the one asked for has to be installed. What is set here was chosen
in their favour on a few rendered clips; everything else is as they come.
"""

from __future__ import annotations

import contextlib
import importlib.metadata
import io
import logging
import tempfile
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile as sf

from bench.hearers import HeardNote, Hearer, Samples

Floats = npt.NDArray[np.float64]
LOW_HZ, HIGH_HZ = 75.0, 1400.0
HOP = 256
SHORTEST_NOTE_S = 0.035
AWAY_SEMITONES = 0.6
AWAY_S = 0.030  # a pitch that is away for so long is another note
GAP_S = 0.030


def basic_pitch(samples: Samples, rate: int) -> list[HeardNote]:
    """basic-pitch by onnxruntime: onset 0.6, frame 0.4, notes from 58 ms on."""
    inference, model = _basic_pitch()
    with tempfile.NamedTemporaryFile(suffix=".wav") as file, contextlib.redirect_stdout(io.StringIO()):
        sf.write(file.name, samples, rate, subtype="FLOAT")
        _, _, notes = inference.predict(
            file.name,
            model,
            onset_threshold=0.6,
            frame_threshold=0.4,
            minimum_note_length=58,
            minimum_frequency=LOW_HZ,
            maximum_frequency=HIGH_HZ,
        )
    return [HeardNote(float(note[0]), float(note[1]), float(note[2])) for note in notes]


def swift_f0(samples: Samples, rate: int) -> list[HeardNote]:
    """swift-f0 with its own notes, a pitch held for 30 ms."""
    from swift_f0 import segment_notes

    notes = segment_notes(_swift_f0_model().detect(samples, rate, fmin=LOW_HZ, fmax=HIGH_HZ), pitch_hold_ms=30.0)
    return [HeardNote(note.start, note.end, float(_midi(note.pitch_hz))) for note in notes]


def swift_f0_attacks(samples: Samples, rate: int) -> list[HeardNote]:
    """swift-f0's frames of 16 ms with a confidence of at least 0.5, cut at librosa's attacks."""
    found = _swift_f0_model().detect(samples, rate, fmin=LOW_HZ, fmax=HIGH_HZ)
    voiced = found.confidence >= 0.5
    return cut(np.asarray(found.timestamps), _midi(found.pitch_hz), voiced, attacks(samples, rate))


def pyin(samples: Samples, rate: int) -> list[HeardNote]:
    """librosa.pyin, frames of 2048 every 256, cut at librosa's attacks."""
    import librosa

    hz, voiced, _ = librosa.pyin(
        samples,
        fmin=LOW_HZ,
        fmax=HIGH_HZ,
        sr=rate,
        frame_length=2048,
        hop_length=HOP,
        resolution=0.2,
        max_transition_rate=100,
    )
    times = librosa.times_like(hz, sr=rate, hop_length=HOP)
    return cut(times, _midi(hz), voiced & _loud(samples, rate, times, 40.0), attacks(samples, rate))


def yin(samples: Samples, rate: int) -> list[HeardNote]:
    """librosa.yin, frames of 2048 every 256, voiced within 35 dB of the loudest, cut at librosa's attacks."""
    import librosa

    hz = librosa.yin(
        samples, fmin=LOW_HZ, fmax=HIGH_HZ, sr=rate, frame_length=2048, hop_length=HOP, trough_threshold=0.15
    )
    times = librosa.times_like(hz, sr=rate, hop_length=HOP)
    return cut(times, _midi(hz), _loud(samples, rate, times, 35.0), attacks(samples, rate))


# name, function, the distributions that it needs
PEERS: dict[str, tuple[Callable[[Samples, int], list[HeardNote]], tuple[str, ...]]] = {
    "basic-pitch": (basic_pitch, ("basic-pitch", "onnxruntime")),
    "swift-f0": (swift_f0, ("swift-f0",)),
    "swift-f0+attacks": (swift_f0_attacks, ("swift-f0", "librosa")),
    "pyin+attacks": (pyin, ("librosa",)),
    "yin+attacks": (yin, ("librosa",)),
}


def missing(name: str) -> list[str]:
    """The distributions that this peer lacks here."""
    return [one for one in PEERS[name][1] if _version(one) is None]


def peer(name: str) -> Hearer:
    """A peer that is installed."""
    hear, needs = PEERS[name]
    return Hearer(name, hear, False, f"{needs[0]} {_version(needs[0])}")


def attacks(samples: Samples, rate: int) -> Floats:
    """The times of the attacks in seconds, by the spectral flux of librosa."""
    import librosa

    strength = librosa.onset.onset_strength(
        y=samples, sr=rate, hop_length=HOP, n_fft=1024, n_mels=80, fmax=8000, lag=2, max_size=3
    )
    times = librosa.onset.onset_detect(
        onset_envelope=strength,
        sr=rate,
        hop_length=HOP,
        units="time",
        delta=0.06,
        wait=8,
        pre_avg=20,
        post_avg=20,
        pre_max=5,
        post_max=5,
    )
    return np.asarray(times, dtype=np.float64)


def cut(times: Floats, midi: Floats, voiced: npt.NDArray[np.bool_], at: Floats) -> list[HeardNote]:
    """Notes out of frames of pitch: cut at the attacks, at gaps, and where the pitch has gone to stay elsewhere."""
    hop = float(np.median(np.diff(times)))
    notes = []
    for start, end in pairwise([-np.inf, *at, np.inf]):
        frames = np.flatnonzero((times >= start) & (times < end) & voiced & np.isfinite(midi))
        gaps = np.flatnonzero(np.diff(times[frames]) > GAP_S) + 1
        for stretch in np.split(frames, gaps):
            for run in _steady_runs(stretch, midi, max(2, round(AWAY_S / hop))):
                if len(run) * hop < SHORTEST_NOTE_S:
                    continue
                begun = start if run[0] == frames[0] and times[run[0]] - start < 0.06 else times[run[0]]
                pitch = float(np.median(midi[run[len(run) // 3 :]]))
                notes.append(HeardNote(float(begun), float(times[run[-1]] + hop), pitch))
    return notes


def _steady_runs(frames: npt.NDArray[np.intp], midi: Floats, patience: int) -> list[list[int]]:
    runs: list[list[int]] = [[]]
    away: list[int] = []
    for frame in frames.tolist():
        run = runs[-1]
        if not run or abs(midi[frame] - np.median(midi[run[-8 * patience :]])) <= AWAY_SEMITONES:
            run.append(frame)
            away = []
            continue
        away.append(frame)
        if len(away) >= patience and np.ptp(midi[away[-patience:]]) < 0.8:
            runs.append(away[-patience:])
            away = []
    return runs


def _loud(samples: Samples, rate: int, times: Floats, within_db: float) -> npt.NDArray[np.bool_]:
    """Frames no more than `within_db` under the loudest."""
    width = round(0.02 * rate)
    power = np.convolve(np.square(samples, dtype=np.float64), np.ones(width) / width, "same")
    here = power[np.clip(np.round(times * rate).astype(int), 0, len(samples) - 1)]
    return np.asarray(here > power.max() * 10 ** (-within_db / 10))


def _midi(hz: Any) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(69 + 12 * np.log2(np.asarray(hz, dtype=np.float64) / 440.0))


@cache
def _basic_pitch() -> tuple[Any, Any]:
    """Its module and its model."""
    logging.getLogger().setLevel(logging.ERROR)  # it warns of every engine that is not installed
    from basic_pitch import ICASSP_2022_MODEL_PATH, inference

    return inference, inference.Model(ICASSP_2022_MODEL_PATH.with_name("nmp.onnx"))


@cache
def _swift_f0_model() -> Any:
    from swift_f0 import SwiftF0

    return SwiftF0(threads=1, spin=False)


def _version(distribution: str) -> str | None:
    try:
        return importlib.metadata.version(distribution)
    except importlib.metadata.PackageNotFoundError:
        return None
