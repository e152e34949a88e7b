"""A recording on disk as a source: checked whole before its first block, then read block by block."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from listener.errors import InputFileError
from listener.events import Block, Samples
from listener.level import Signal, SignalMeter
from listener.wav import promise

if TYPE_CHECKING:
    import soundfile

BLOCK_FRAMES = 1024
SHORTEST_S = 0.1  # below this no note of a guitar can be told
CUT_OFF_S = 0.05  # a promise broken by less than this is the encoder's padding, not a lost end
_SCAN_FRAMES = 65536
_CLOSE_FRAMES = 256
_HEAD_BYTES = 65536


@dataclass(frozen=True, slots=True)
class _Scan:
    """One reading of the whole file: what each channel holds, and how many frames could be read."""

    channels: tuple[Signal, ...]
    frames: int
    fault: str | None


class FileSource:
    """A WAV, FLAC, OGG, MP3 or AIFF file of any rate and width, mono or one channel of it.

    `channel` counts from 1; left out, the loudest channel (by RMS) is heard. `gain` multiplies every sample.
    `latency_samples` is taken off every block's index (a take keeps the figure it was played with).
    `signal` sums up the channel that is heard: a silent or clipped recording is played, and the caller can say so.

    Raises InputFileError, in one sentence that names the file and what is wrong, for anything that cannot be heard.
    A recording that was cut off is heard to where it ends; then `blocks` raises.
    """

    def __init__(
        self,
        path: str | Path,
        channel: int | None = None,
        *,
        latency_samples: int = 0,
        gain: float = 1.0,
        block: int = BLOCK_FRAMES,
    ) -> None:
        self.path = Path(path)
        self.latency_samples = latency_samples
        self._gain = np.float32(gain)
        self._block = block
        head, size = _first_bytes(self.path)
        with _open(self.path) as sound:
            self.rate = int(sound.samplerate)
            promised = _promised_frames(sound, head, size)
            scan = _scan(sound, self.path, _SCAN_FRAMES)
        if scan.fault is not None:  # a read that meets the damage gives nothing: come closer to it in small steps
            with _open(self.path) as sound:
                scan = _scan(sound, self.path, _CLOSE_FRAMES)
        self.channels = len(scan.channels)
        self._check_length(scan)
        if channel is None:
            channel = 1 + max(range(self.channels), key=lambda number: scan.channels[number].rms)
        elif not 1 <= channel <= self.channels:
            raise InputFileError(f"{self.path} has no channel {channel}: it has {self.channels}, counted from 1")
        self.channel = channel
        self.frames = scan.frames
        self.signal = scan.channels[channel - 1]
        self._cut_off = self._missing_end(scan, promised)

    @property
    def seconds(self) -> float:
        return self.frames / self.rate

    def blocks(self) -> Iterator[Block]:
        start = 0
        with _open(self.path) as sound:
            while start < self.frames:
                samples = _read(sound, min(self._block, self.frames - start))[:, self.channel - 1]
                if not len(samples):
                    raise InputFileError(f"{self.path} became shorter while it was heard, at {start / self.rate:.1f} s")
                yield Block(start - self.latency_samples, np.ascontiguousarray(samples) * self._gain)
                start += len(samples)
        if self._cut_off is not None:
            raise InputFileError(self._cut_off)

    def _check_length(self, scan: _Scan) -> None:
        if scan.frames == 0:
            raise InputFileError(
                f"{self.path} holds no sound that can be read" + (f": {scan.fault}" if scan.fault else "")
            )
        if scan.frames < SHORTEST_S * self.rate:
            samples = "one sample" if scan.frames == 1 else f"{scan.frames} samples"
            raise InputFileError(
                f"{self.path} is too short: it holds {samples} ({1000 * scan.frames / self.rate:.1f} ms), "
                f"at least {1000 * SHORTEST_S:.0f} ms are needed"
            )

    def _missing_end(self, scan: _Scan, promised: int | None) -> str | None:
        """The sentence for a recording that is cut off, or None where the whole of it is there."""
        if promised is not None and promised - scan.frames > CUT_OFF_S * self.rate:
            return (
                f"{self.path} is cut off: its header promises {promised / self.rate:.1f} s, "
                f"{self.seconds:.1f} s are there"
            )
        if scan.fault is not None:
            return f"{self.path} is damaged at {self.seconds:.1f} s: {scan.fault}"
        return None


def _first_bytes(path: Path) -> tuple[bytes, int]:
    """The first bytes of a file and its size, with a sentence for everything that is no readable file."""
    try:
        if path.is_dir():
            raise InputFileError(f"{path} is a folder, not a recording")
        if path.exists() and not path.is_file():
            raise InputFileError(f"{path} is no plain file")
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
            size = path.stat().st_size
    except FileNotFoundError:
        raise InputFileError(f"there is no file {path}") from None
    except OSError as error:
        raise InputFileError(f"{path} cannot be read: {(error.strerror or str(error)).lower()}") from error
    if size == 0:
        raise InputFileError(f"{path} is empty: 0 bytes")
    return head, size


def _open(path: Path) -> soundfile.SoundFile:
    import soundfile

    try:
        return soundfile.SoundFile(str(path))
    except (soundfile.LibsndfileError, TypeError) as error:  # TypeError: a .raw name, which would need a format
        raise InputFileError(
            f"{path} is no recording that can be read (WAV, FLAC, OGG, MP3, AIFF): {_reason(error)}"
        ) from error


def _reason(error: Exception) -> str:
    """The decoder's own words, as the end of a sentence."""
    return str(getattr(error, "error_string", error)).removeprefix("Error : ").rstrip(".").lower()


def _read(sound: soundfile.SoundFile, frames: int) -> Samples:
    """The next frames, (frames, channels) float32; fewer at the end."""
    block: Samples = sound.read(frames, dtype="float32", always_2d=True)
    return block


def _scan(sound: soundfile.SoundFile, path: Path, step: int) -> _Scan:
    import soundfile

    meters = [SignalMeter() for _ in range(sound.channels)]
    frames, fault = 0, None
    while True:
        try:
            block = _read(sound, step)
        except soundfile.LibsndfileError as error:
            fault = _reason(error)
            break
        if not len(block):
            break
        _refuse_no_number(block, frames, int(sound.samplerate), path)
        for number, meter in enumerate(meters):
            meter.push(block[:, number])
        frames += len(block)
    return _Scan(tuple(meter.signal() for meter in meters), frames, fault)


def _refuse_no_number(block: npt.NDArray[Any], start: int, rate: int, path: Path) -> None:
    finite = np.isfinite(block).all(axis=1)
    if not finite.all():
        second = (start + int(np.argmin(finite))) / rate
        raise InputFileError(f"{path} is damaged: the sample at {second:.3f} s is no number")


def _promised_frames(sound: soundfile.SoundFile, head: bytes, size: int) -> int | None:
    """How many frames the file says it holds; None where it does not say.

    A WAV's own header is asked, because the decoder quietly takes the length of the file instead.
    """
    wav = promise(head)
    if wav is not None:
        if wav.data_bytes is None or wav.data_offset + wav.data_bytes <= size:
            return None
        return wav.data_bytes // wav.frame_bytes
    return int(sound.frames) if 0 < sound.frames < 2**62 else None
