"""The 44 bytes before the samples of a plain PCM WAV file, and how much sound a file promises.

Source: Microsoft and IBM, "Multimedia Programming Interface and Data Specifications 1.0" (RIFF WAVE), 1991.
Bytes in, numbers out; nothing here opens a file.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np

from listener.events import Samples

HEADER_BYTES = 44
SAMPLE_BYTES = 3  # 24 bits: what an interface delivers, kept without loss
_LAYOUT = "<4sI4s4sIHHIIHH4sI"
_LARGEST_DATA = 0xFFFFFFFF - 36
_UNKNOWN = (0, 0xFFFFFFFF)  # data sizes that streaming writers leave behind: nothing is promised


@dataclass(frozen=True, slots=True)
class Promise:
    """Where a WAV file's samples begin, and how many bytes of them its header promises (None: it does not say)."""

    data_offset: int
    data_bytes: int | None
    frame_bytes: int


def header(rate: int, frames: int) -> bytes:
    """The header of a mono 24-bit file of `frames` frames at `rate` Hz; sizes stop at the format's 4 GiB."""
    data = min(frames * SAMPLE_BYTES, _LARGEST_DATA)
    return struct.pack(
        _LAYOUT,
        b"RIFF", 36 + data, b"WAVE", b"fmt ", 16, 1, 1, rate, rate * SAMPLE_BYTES, SAMPLE_BYTES, 8 * SAMPLE_BYTES,
        b"data", data,
    )  # fmt: skip


def pcm24(samples: Samples) -> bytes:
    """Float samples as little-endian 24-bit integers; beyond full scale they are cut off."""
    scaled = np.clip(np.rint(samples.astype(np.float64) * 8388608.0), -8388608, 8388607).astype("<i4")
    return scaled.view(np.uint8).reshape(-1, 4)[:, :SAMPLE_BYTES].tobytes()


def promise(head: bytes) -> Promise | None:
    """What the first bytes of a RIFF WAVE file promise; None where they are no such header or end within it."""
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:12] != b"WAVE":
        return None
    place, frame_bytes = 12, 0
    while place + 8 <= len(head):
        name, size = struct.unpack_from("<4sI", head, place)
        place += 8
        if name == b"fmt " and place + 14 <= len(head):
            frame_bytes = struct.unpack_from("<H", head, place + 12)[0]
        if name == b"data":
            return Promise(place, None if size in _UNKNOWN else size, frame_bytes) if frame_bytes else None
        place += size + size % 2  # chunks are padded to even length
    return None


def rate_of(head: bytes) -> int | None:
    """The rate told by a header that `header` wrote; None where it is another's, or was not written whole."""
    if len(head) < HEADER_BYTES:
        return None
    riff, _, wave, fmt, size, kind, channels, rate, _, _, bits, data, _ = struct.unpack(_LAYOUT, head[:HEADER_BYTES])
    told = (riff, wave, fmt, size, kind, channels, bits, data)
    return rate if told == (b"RIFF", b"WAVE", b"fmt ", 16, 1, 1, 8 * SAMPLE_BYTES, b"data") and rate else None
