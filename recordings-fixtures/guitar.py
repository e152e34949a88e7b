"""A guitar made of recorded single notes: reads and checks them, and plays plucks whose pitch moves exactly as told.

A pluck is one pick attack. Its sound is the nearest recorded note read at a changing speed, so that a bend, a slide or
a vibrato is known to the cent and to the sample. Units: seconds, MIDI note numbers as floats (69.0 = A4 = 440 Hz),
decibels.
"""

from __future__ import annotations

import re
import struct
import subprocess
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import librosa
import numpy as np
import numpy.typing as npt
import soundfile as sf
import soxr
from scipy import signal

RATE = 44_100
OVERSAMPLING = 4  # linear interpolation on a fourfold grid keeps images below the noise of 16 bits for a guitar
ATTACK_SHARE = 0.1  # an onset is where the attack reaches a tenth of its early peak
LEAD_S = 0.002  # sound kept before the onset: the pick's first touch
MAX_DETUNE_CENTS = 25.0
MAX_DRIFT_CENTS = 15.0
BODY_RMS = 0.1

Floats = npt.NDArray[np.float64]
_LETTERS = {"C": 0, "Cs": 1, "D": 2, "Ds": 3, "E": 4, "F": 5, "Fs": 6, "G": 7, "Gs": 8, "A": 9, "As": 10, "B": 11}


@dataclass(frozen=True, slots=True)
class Move:
    """The pitch leaves for `to_midi` at `at_s` after the onset and is there `glide_s` later.

    `shape` is "smooth" (the hand speeds up and slows down again) or "frets" (steps from fret to fret).
    """

    at_s: float
    to_midi: float
    glide_s: float
    shape: str = "smooth"

    @property
    def end_s(self) -> float:
        return self.at_s + self.glide_s


@dataclass(frozen=True, slots=True)
class Vibrato:
    """A guitar's vibrato only rises: the pitch swings between 0 and `depth_cents` above."""

    hz: float
    depth_cents: float
    from_s: float


@dataclass(frozen=True, slots=True)
class Pluck:
    """One pick attack: when, how long until it is damped, and where its pitch goes."""

    onset_s: float
    duration_s: float
    midi: float
    moves: tuple[Move, ...] = ()
    vibrato: Vibrato | None = None
    level_db: float = 0.0
    damp_s: float = 0.015


@dataclass(frozen=True, slots=True)
class Sample:
    """One recorded note: oversampled sound at even loudness, its attack (in oversampled samples) and its pitch."""

    midi: float
    attack: int
    sound: Floats


class Guitar:
    """Recorded notes of one instrument."""

    def __init__(self, samples: Iterable[Sample]) -> None:
        self._samples = sorted(samples, key=lambda sample: sample.midi)
        if len(self._samples) < 8:
            raise SystemExit(f"only {len(self._samples)} usable single notes: is this the right folder?")

    def play(self, pluck: Pluck, out: Floats) -> None:
        """Add the sound of `pluck` to `out`, mono at RATE."""
        sample = self._nearest(pluck.midi)
        lead = round(LEAD_S * RATE)
        at = np.arange(-lead, round((pluck.duration_s + pluck.damp_s) * RATE)) / RATE
        speed = 2.0 ** ((contour(pluck, at) - sample.midi) / 12)
        position = np.concatenate([[0.0], np.cumsum(speed[:-1])])
        position = sample.attack + OVERSAMPLING * (position - position[lead])
        sound = np.interp(position, np.arange(len(sample.sound)), sample.sound, left=0.0, right=0.0)
        sound *= _envelope(at, pluck) * 10 ** (pluck.level_db / 20)
        first = round(pluck.onset_s * RATE) - lead
        out[first : first + len(sound)] += sound[: len(out) - first]

    def thud(self, onset_s: float, rng: np.random.Generator, out: Floats) -> None:
        """Add a dead note: the pick's scrape and a muted string that dies within some 20 ms."""
        sample = self._nearest(float(rng.integers(45, 58)))
        at = np.arange(round(0.12 * RATE)) / RATE
        string = sample.sound[sample.attack :: OVERSAMPLING][: len(at)] * np.exp(-at / rng.uniform(0.006, 0.011))
        pick = signal.butter(2, [250, 2800], "band", fs=RATE, output="sos")
        scrape = signal.sosfilt(pick, rng.standard_normal(len(at)))
        scrape *= np.exp(-at / 0.008) * np.minimum(1, at / 0.001)
        first = round(onset_s * RATE)
        out[first : first + len(at)] += 0.6 * string + 0.12 * scrape / np.abs(scrape).max()

    def _nearest(self, midi: float) -> Sample:
        return min(self._samples, key=lambda sample: abs(sample.midi - midi))


def contour(pluck: Pluck, at: Floats) -> Floats:
    """The pitch in MIDI at each moment `at` (seconds after the onset)."""
    pitch = np.full(len(at), pluck.midi)
    here = pluck.midi
    for move in pluck.moves:
        share = np.clip((at - move.at_s) / max(move.glide_s, 1e-4), 0, 1)
        pitch += (move.to_midi - here) * _shaped(share, move, abs(move.to_midi - here))
        here = move.to_midi
    if pluck.vibrato is not None:
        swing = 0.5 * (1 - np.cos(2 * np.pi * pluck.vibrato.hz * (at - pluck.vibrato.from_s)))
        pitch += np.where(at > pluck.vibrato.from_s, swing, 0.0) * pluck.vibrato.depth_cents / 100
    return pitch


def arrival_s(pluck: Pluck, index: int) -> float:
    """When move number `index` has come within 50 cents of where it goes: the onset of a slurred note."""
    move = pluck.moves[index]
    at = pluck.onset_s + move.at_s + np.arange(round(move.glide_s * RATE) + 2) / RATE
    near = np.abs(contour(pluck, at - pluck.onset_s) - move.to_midi) <= 0.5
    return float(at[int(np.argmax(near))])


def _shaped(share: Floats, move: Move, semitones: float) -> Floats:
    if move.shape == "frets":
        steps = max(1, round(semitones))
        fret = np.minimum(np.floor(share * steps), steps - 1)
        within = np.clip((share * steps - fret) * (move.glide_s / steps) / 0.010, 0, 1)  # 10 ms from fret to fret
        return (fret + 0.5 * (1 - np.cos(np.pi * within))) / steps
    return 0.5 * (1 - np.cos(np.pi * share))


def _envelope(at: Floats, pluck: Pluck) -> Floats:
    """No click: a ramp up before the attack, and a finger that damps the string within `damp_s`."""
    rise = np.clip((at + LEAD_S) / LEAD_S, 0, 1)
    damping = np.clip((at - pluck.duration_s) / pluck.damp_s, 0, 1)
    return rise * 0.5 * (1 + np.cos(np.pi * damping))


# --- where the notes come from -------------------------------------------------------------------------------------


def from_note_files(folder: Path) -> Guitar:
    """A folder of files named after their notes (Cs3.mp3 is the C sharp below middle C); subfolders are searched."""
    return Guitar(_checked(_note_files(folder)))


def from_soundfont(soundfont: Path, program: int) -> Guitar:
    """Notes of a General MIDI program (counted from 0), a minor third apart, rendered by fluidsynth without effects."""
    pitches = list(range(40, 83, 3))
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder, "notes.mid"), Path(folder, "notes.wav")
        score.write_bytes(_midi_file(program, pitches))
        command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(RATE), "-T", "wav", "-F"]
        subprocess.run([*command, str(sound), str(soundfont), str(score)], check=True, capture_output=True)
        stereo, _ = sf.read(sound, always_2d=True)
    left = stereo[:, 0]
    parts = ((pitch, left[4 * i * RATE : 4 * (i + 1) * RATE]) for i, pitch in enumerate(pitches))
    return Guitar(_checked(parts))


def _note_files(folder: Path) -> Iterator[tuple[int, Floats]]:
    for path in sorted(folder.rglob("*.mp3")):
        name = re.fullmatch(r"([A-G]s?)(\d)", path.stem)
        if name:
            sound, rate = sf.read(path, always_2d=True)
            yield _LETTERS[name[1]] + 12 * (int(name[2]) + 1), soxr.resample(sound.mean(axis=1), rate, RATE)


def _midi_file(program: int, pitches: list[int]) -> bytes:
    """A format 0 file at one tick a millisecond: each pitch for 3.6 s, four seconds apart."""

    def ticks(value: int) -> bytes:
        return bytes([0x80 | (value >> 7), value & 0x7F])

    events = b"\x00\xff\x51\x03" + (1_000_000).to_bytes(3, "big") + bytes([0, 0xC0, program])
    wait = 50
    for pitch in pitches:
        events += ticks(wait) + bytes([0x90, pitch, 96]) + ticks(3600) + bytes([0x80, pitch, 0])
        wait = 400
    events += b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000) + b"MTrk" + struct.pack(">I", len(events)) + events


def _checked(notes: Iterable[tuple[int, Floats]]) -> Iterator[Sample]:
    """Measure each note's attack and pitch; leave out what lies outside the guitar, is out of tune or drifts."""
    for midi, sound in notes:
        if not 40 <= midi <= 84:
            continue
        early = np.abs(sound[: round(0.3 * RATE)])
        attack = int(np.argmax(early > ATTACK_SHARE * early.max()))
        pitch, drift = _pitch(sound[attack : attack + round(1.2 * RATE)], midi)
        if abs(pitch - midi) * 100 > MAX_DETUNE_CENTS or drift > MAX_DRIFT_CENTS:
            continue
        body = sound[attack + round(0.02 * RATE) : attack + round(0.25 * RATE)]
        level = BODY_RMS / float(np.sqrt(np.mean(body**2)))
        yield Sample(pitch, attack * OVERSAMPLING, soxr.resample(sound * level, RATE, RATE * OVERSAMPLING))


def _pitch(sound: Floats, midi: int) -> tuple[float, float]:
    """Pitch in MIDI, and its drift in cents between 0.1 and 0.9 s, by probabilistic YIN (Mauch and Dixon, 2014)."""
    span = {"fmin": librosa.midi_to_hz(midi - 3), "fmax": librosa.midi_to_hz(midi + 3)}
    f0, _, _ = librosa.pyin(sound, **span, sr=RATE, frame_length=4096, resolution=0.02, max_transition_rate=10)
    track = librosa.hz_to_midi(f0[round(0.1 * RATE / 1024) : round(0.9 * RATE / 1024)])
    track = track[np.isfinite(track)]
    if len(track) < 10:
        return float("nan"), float("inf")
    third = len(track) // 3
    drift = abs(float(np.median(track[:third]) - np.median(track[-third:]))) * 100
    return float(np.median(track)), drift
