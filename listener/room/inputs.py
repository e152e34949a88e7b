"""Which inputs carry signal: each is opened for a moment and listened to."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from listener.level import SILENT_PEAK, decibels
from listener.room import portaudio
from listener.room.devices import Device

LISTEN_S = 0.4
_LIMIT_S = 3.0
_CHANNELS_TO_TRY = (8, 4, 2, 1)


@dataclass(frozen=True, slots=True)
class HeardInput:
    """An input with signal; `channel` (from 1) is its loudest."""

    device: Device
    channel: int
    peak_db: float


def inputs_with_signal(devices: Iterable[Device], besides: Device | None = None) -> list[HeardInput]:
    """The inputs on which anything over -66 dBFS was heard, loudest first; `besides` is left out.

    Takes about half a second for each input. One that cannot be opened, or does not answer within three seconds, is
    passed over: this is a hint to the player, and the chosen input's own faults are told elsewhere.
    """
    sounddevice = portaudio.load()
    heard: list[HeardInput] = []
    for device in devices:
        if device.inputs > 0 and (besides is None or device.index != besides.index):
            listening = threading.Thread(target=_listen, args=(sounddevice, device, heard), daemon=True)
            with portaudio.quiet():
                listening.start()
                listening.join(_LIMIT_S)
    return sorted(heard, key=lambda found: -found.peak_db)


def _listen(sounddevice: ModuleType, device: Device, heard: list[HeardInput]) -> None:
    for channels in dict.fromkeys(min(channels, device.inputs) for channels in _CHANNELS_TO_TRY):
        peaks = np.zeros(channels, dtype=np.float32)

        def hear(indata: Any, frames: int, times: Any, status: Any, peaks: Any = peaks) -> None:
            np.maximum(peaks, np.abs(indata).max(axis=0), out=peaks)

        try:
            stream = sounddevice.InputStream(
                device=device.index,
                channels=channels,
                samplerate=device.default_rate,
                dtype="float32",
                latency="high",
                callback=hear,
            )
        except (sounddevice.PortAudioError, ValueError):
            continue
        stream.start()
        time.sleep(LISTEN_S)
        stream.abort(ignore_errors=True)
        stream.close(ignore_errors=True)
        if peaks.max() >= SILENT_PEAK:
            heard.append(HeardInput(device, 1 + int(np.argmax(peaks)), decibels(float(peaks.max()))))
        return
