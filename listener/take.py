"""A take on disk: the sound as it was heard and the notes as they became final, written while one plays.

A take is a folder:
    take.json        how it was played: rate, first sample, changes, tempo, rules, ear, device, latency and its source
    audio.wav.part   24-bit mono PCM while it is written; `audio.flac` once closed
    notes.jsonl      one JSON object a line, each written whole
Nothing is held back in this process: a killed program loses no sample that was given to `write`. Every second the
header's sizes are made true and everything is forced to the disk, so that a power cut costs at most that second.
`repair_takes` finishes at the next start what a crash has left open.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from listener import wav
from listener.errors import StorageError
from listener.events import Block
from listener.sealing import FLAC_PART_NAME, NOTES_NAME, PART_NAME, WAV_NAME, lock, mend_audio, mend_notes, seal
from listener.storage import TAKES_NAME, storage_error, sync_folder, write_atomically

SCHEMA = "bluethird/take/1"
HEADER_NAME = "take.json"
SYNC_S = 1.0


def new_take_folder(home: Path, when: datetime) -> Path:
    """A name under `home`/takes that no take has yet, such as 2025-03-09_20-15-00; the folder is not made here."""
    stem = when.strftime("%Y-%m-%d_%H-%M-%S")
    folder, number = home / TAKES_NAME / stem, 1
    while folder.exists():
        number += 1
        folder = home / TAKES_NAME / f"{stem}_{number}"
    return folder


class TakeWriter:
    """Writes one take into `folder`, which must not exist yet.

    `header` is what `take.json` tells beside the rate; `describe` adds to it later (the timeline is known only when
    the count-in starts). Every method raises StorageError in one sentence where the disk refuses; what was written
    until then is kept, and `close` still finishes it.
    """

    def __init__(self, folder: Path, rate: int, header: Mapping[str, Any]) -> None:
        self.folder = folder
        self.rate = rate
        self.frames = 0
        self._header: dict[str, Any] = {"schema": SCHEMA, "rate": rate, "first_sample": None, **header}
        self._next_sample: int | None = None
        self._unsynced = 0
        self._failed: StorageError | None = None
        self._closed: Path | None = None
        try:
            folder.parent.mkdir(parents=True, exist_ok=True)
            folder.mkdir()
            self._audio = (folder / PART_NAME).open("x+b", buffering=0)
            lock(self._audio.fileno())
            self._notes = (folder / NOTES_NAME).open("xb", buffering=0)
            self._put(self._audio.fileno(), wav.header(rate, 0))
            self._write_header()
        except OSError as error:
            if isinstance(error, FileExistsError) and folder.exists():
                raise StorageError(f"there is a take in {folder} already: it is never overwritten") from None
            raise storage_error("the take", folder, error) from error

    @property
    def seconds(self) -> float:
        return self.frames / self.rate

    def describe(self, more: Mapping[str, Any]) -> None:
        """Add to `take.json`, which is replaced as a whole."""
        self._header.update(more)
        with self._told():
            self._write_header()

    def write(self, block: Block) -> None:
        """Append a block that continues the one before; its gap, if any, is noted by sample and length."""
        with self._told():
            if self._next_sample is None:
                self._header["first_sample"] = block.start_sample
                self._write_header()
            elif block.start_sample != self._next_sample:
                raise ValueError(f"block at sample {block.start_sample}: the take goes on at {self._next_sample}")
            self._next_sample = block.start_sample + len(block.samples)
            if block.gap:
                self._append({"gap": {"start_sample": block.start_sample, "frames": block.gap}})
            self._put(self._audio.fileno(), wav.pcm24(block.samples))
            self.frames += len(block.samples)
            self._unsynced += len(block.samples)
            if self._unsynced >= SYNC_S * self.rate:
                self._sync()

    def append(self, record: Mapping[str, Any]) -> None:
        """Append one JSON object to `notes.jsonl`."""
        with self._told():
            self._append(record)

    def sync(self) -> None:
        """Make the header true and force all to the disk now."""
        with self._told():
            self._sync()

    def close(self) -> Path:
        """Finish the take; the path of its sound. A second call changes nothing.

        After a fault of the disk the sound stays a WAV, which is packed at the next start.
        """
        if self._closed is None:
            try:
                self._closed = self._finish()
            except OSError as error:
                raise storage_error("the end of the take", self.folder, error) from error
        return self._closed

    def _finish(self) -> Path:
        with self._audio, self._notes:
            os.fsync(self._notes.fileno())
            mend_audio(self._audio, self.rate)
        if self._failed is None:
            return seal(self.folder, self.rate)
        plain = self.folder / WAV_NAME
        (self.folder / PART_NAME).replace(plain)
        return plain

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        """Turn a fault of the disk into its sentence, once and for all later calls."""
        if self._failed is not None:
            raise self._failed
        try:
            yield
        except OSError as error:
            what = f"the take beyond {self.seconds:.1f} s"
            self._failed = storage_error(what, self.folder, error)
            raise self._failed from error

    def _put(self, handle: int, data: bytes) -> None:
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(handle, rest) :]

    def _append(self, record: Mapping[str, Any]) -> None:
        line = json.dumps(record, ensure_ascii=False, separators=(",", ":")) + "\n"
        self._put(self._notes.fileno(), line.encode())

    def _sync(self) -> None:
        place = self._audio.seek(0, os.SEEK_CUR)
        self._audio.seek(0)
        self._put(self._audio.fileno(), wav.header(self.rate, self.frames))
        self._audio.seek(place)
        os.fsync(self._audio.fileno())
        os.fsync(self._notes.fileno())
        self._unsynced = 0

    def _write_header(self) -> None:
        text = json.dumps(self._header, ensure_ascii=False, indent=1) + "\n"
        write_atomically(self.folder / HEADER_NAME, text.encode())


@dataclass(frozen=True, slots=True)
class Mended:
    """A take that a crash had left open and that is whole again."""

    folder: Path
    audio: Path
    seconds: float


def repair_takes(home: Path) -> list[Mended]:
    """Finish every take under `home`/takes that was left open, oldest first; one that is being written is left alone.

    Raises StorageError where the disk refuses; a take is in one piece before and after each step.
    """
    mended = []
    for folder in sorted((home / TAKES_NAME).glob("*/")):
        if (folder / PART_NAME).exists() or (folder / WAV_NAME).exists():
            try:
                take = _repair(folder)
            except OSError as error:
                raise storage_error("the mended take", folder, error) from error
            if take is not None:
                mended.append(take)
    return mended


def _repair(folder: Path) -> Mended | None:
    """Finish one take; None where it is being written, or holds no sound to finish."""
    left_open = folder / PART_NAME
    path = left_open if left_open.exists() else folder / WAV_NAME
    (folder / FLAC_PART_NAME).unlink(missing_ok=True)
    with path.open("r+b") as file:
        if not lock(file.fileno()):
            return None
        head = file.read(wav.HEADER_BYTES)
        rate = wav.rate_of(head)
        if rate is None:
            return None
        frames = mend_audio(file, rate)
    if (folder / NOTES_NAME).exists():
        mend_notes(folder / NOTES_NAME)
    if frames == 0 and path.name == WAV_NAME:
        return None
    audio = seal(folder, rate)
    sync_folder(folder)
    return Mended(folder, audio, frames / rate)
