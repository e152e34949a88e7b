"""From a take that was being written to one that is finished: mended, renamed, packed as FLAC without loss."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import BinaryIO

import numpy as np

from listener import wav
from listener.storage import sync_folder

PART_NAME = "audio.wav.part"
WAV_NAME = "audio.wav"
FLAC_NAME = "audio.flac"
FLAC_PART_NAME = "audio.flac.part"
NOTES_NAME = "notes.jsonl"

_BLOCK_FRAMES = 65536


def lock(handle: int) -> bool:
    """Claim an open file for this process until it is closed; False where another process is writing it."""
    try:
        import fcntl
    except ImportError:  # Windows refuses to rename a file that another process has open: claim enough
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def mend_audio(file: BinaryIO, rate: int) -> int:
    """Make the header of a WAV open for reading and writing true to its length; the frames it holds.

    Bytes of a sample that was written in part are cut off.
    """
    length = file.seek(0, os.SEEK_END)
    frames = max(0, length - wav.HEADER_BYTES) // wav.SAMPLE_BYTES
    file.truncate(wav.HEADER_BYTES + frames * wav.SAMPLE_BYTES)
    file.seek(0)
    file.write(wav.header(rate, frames))
    file.flush()
    os.fsync(file.fileno())
    return frames


def mend_notes(path: Path) -> None:
    """Cut off a last line that was written in part; a whole one that lacks its line end gets it."""
    with path.open("r+b") as file:
        data = file.read()
        whole = data.rfind(b"\n") + 1
        if whole == len(data):
            return
        try:
            json.loads(data[whole:])
        except ValueError:
            file.truncate(whole)
        else:
            file.write(b"\n")


def seal(folder: Path, rate: int) -> Path:
    """Rename a mended `audio.wav.part` and pack it as FLAC; the path of the finished sound.

    Each step leaves one whole file under its final name. The WAV goes only when the FLAC holds as many frames; a
    take without sound stays a WAV. Raises OSError.
    """
    part, plain, packed = folder / PART_NAME, folder / WAV_NAME, folder / FLAC_NAME
    if part.exists():
        part.replace(plain)
        sync_folder(folder)
    if not packed.exists() and not _pack(plain, packed, rate):
        return plain
    plain.unlink(missing_ok=True)
    sync_folder(folder)
    return packed


def _pack(plain: Path, packed: Path, rate: int) -> bool:
    """Write the FLAC; False where there is nothing to pack or the encoder's file is not as long as the sound."""
    import soundfile

    frames = (plain.stat().st_size - wav.HEADER_BYTES) // wav.SAMPLE_BYTES
    if frames <= 0:
        return False
    beside = packed.with_name(FLAC_PART_NAME)
    try:
        with plain.open("rb") as file:
            file.seek(wav.HEADER_BYTES)
            with soundfile.SoundFile(beside, "w", rate, 1, "PCM_24", format="FLAC") as flac:
                while data := file.read(_BLOCK_FRAMES * wav.SAMPLE_BYTES):
                    flac.write(_integers(data))
        if soundfile.info(beside).frames != frames:
            raise OSError(f"{beside.name} is shorter than {plain.name}")
        with beside.open("rb") as file:
            os.fsync(file.fileno())
    except soundfile.LibsndfileError as error:
        beside.unlink(missing_ok=True)
        raise OSError(f"FLAC cannot be written: {error}") from error
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    beside.replace(packed)
    return True


def _integers(data: bytes) -> np.ndarray:
    """24-bit little-endian samples in the upper three bytes of 32-bit integers, as the encoder takes them."""
    whole = np.zeros((len(data) // wav.SAMPLE_BYTES, 4), dtype=np.uint8)
    whole[:, 1:] = np.frombuffer(data, dtype=np.uint8).reshape(-1, wav.SAMPLE_BYTES)
    return whole.view("<i4")[:, 0]
