"""Opening a rig: at a rate that its devices run at, on one stream, or on the input alone where that cannot be."""

from __future__ import annotations

from dataclasses import replace

from listener.errors import DeviceError
from listener.room import portaudio
from listener.room.devices import Rig
from listener.room.duplex import BLOCK_FRAMES, LATENCY_S, Duplex, Latency, LiveSource

_COMMON_RATES = (48000, 44100)


def rates_to_try(rig: Rig, rate: int | None) -> tuple[int, ...]:
    """The rate asked for alone, or else the devices' own rates and then the common ones."""
    if rate is not None:
        return (rate,)
    own = (rig.input.default_rate, *(() if rig.output is None else (rig.output.default_rate,)))
    return tuple(dict.fromkeys((*own, *_COMMON_RATES)))


def open_rig(
    rig: Rig,
    *,
    rate: int | None = None,
    latency: Latency | None = None,
    buffer_s: float = LATENCY_S,
    block_frames: int = BLOCK_FRAMES,
) -> tuple[Duplex, LiveSource]:
    """A running stream and its source. `buffer_s` is the device's buffer; below 0.1 s input is lost under load.

    Where input and output cannot run on one stream, the input runs alone and `Duplex.note` says so. DeviceError, in
    one sentence, where not even that is possible.
    """
    try:
        duplex = _opened(rig, rate, buffer_s, block_frames, None)
    except DeviceError as error:
        if rig.output is None:
            raise
        try:
            duplex = _opened(replace(rig, output=None), rate, buffer_s, block_frames, f"{error}: nothing is played")
        except DeviceError:
            raise error from None
    try:
        return duplex, duplex.wait_for_sound(latency or Latency())
    except DeviceError:
        duplex.close()
        raise


def _opened(rig: Rig, rate: int | None, buffer_s: float, block_frames: int, note: str | None) -> Duplex:
    sounddevice = portaudio.load()
    rates = rates_to_try(rig, rate)
    for number, candidate in enumerate(rates, start=1):
        duplex = Duplex(rig, candidate, note)
        try:
            with portaudio.quiet():
                duplex.start(sounddevice, buffer_s, block_frames)
        except (sounddevice.PortAudioError, ValueError) as error:
            duplex.close()
            if portaudio.error_code(error) == portaudio.INVALID_RATE and number < len(rates):
                continue
            raise portaudio.device_error(rig.who, error) from error
        return duplex
    raise AssertionError("a rig has at least one rate")
