"""Which sound devices there are, and the one a player means by a number or a part of a name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from listener.errors import DeviceError, NoDeviceError
from listener.room import portaudio


class Way(StrEnum):
    INPUT = "input"
    OUTPUT = "output"


@dataclass(frozen=True, slots=True)
class Device:
    """A sound device. `index` is PortAudio's number; `inputs` and `outputs` count channels."""

    index: int
    name: str
    host_api: str
    inputs: int
    outputs: int
    default_rate: int
    default_input: bool = False
    default_output: bool = False

    def channels(self, way: Way) -> int:
        return self.inputs if way is Way.INPUT else self.outputs

    def is_default(self, way: Way) -> bool:
        return self.default_input if way is Way.INPUT else self.default_output

    def __str__(self) -> str:
        return f"{self.index} {self.name}, {self.host_api}"


@dataclass(frozen=True, slots=True)
class Rig:
    """What is played through: the input with its channel (from 1), and the output, None where there is none."""

    input: Device
    channel: int
    output: Device | None

    @property
    def who(self) -> str:
        """The devices in words, as subject of a sentence."""
        if self.output is None or self.output.index == self.input.index:
            return f"the device {self.input.name}"
        return f"the devices {self.input.name} and {self.output.name}"


def read_list(
    raw_devices: Sequence[Mapping[str, Any]], host_apis: Sequence[Mapping[str, Any]], defaults: tuple[int, int]
) -> tuple[Device, ...]:
    """Devices from PortAudio's own tables; `defaults` are the numbers of the default input and output, or -1."""
    return tuple(
        Device(
            index,
            str(raw["name"]),
            str(host_apis[raw["hostapi"]]["name"]),
            int(raw["max_input_channels"]),
            int(raw["max_output_channels"]),
            round(float(raw["default_samplerate"])),
            index == defaults[0],
            index == defaults[1],
        )
        for index, raw in enumerate(raw_devices)
    )


def list_devices() -> tuple[Device, ...]:
    """All devices of this machine, in PortAudio's order; empty where there is none.

    NoDeviceError without PortAudio. A device that another program holds may be missing from the list.
    """
    sounddevice = portaudio.load()
    with portaudio.quiet():
        defaults = sounddevice.default.device
        return read_list(sounddevice.query_devices(), sounddevice.query_hostapis(), (defaults[0], defaults[1]))


def choose(devices: Sequence[Device], wanted: str | None, way: Way) -> tuple[Device, int | None]:
    """The device meant, and the channel (from 1) where the text ends in one, as in "scarlett:2".

    A number is an index. Words have to be parts of the name or the host API, in any case; a name in full wins over
    names that only contain it. None means the default. NoDeviceError where no device has this way at all, DeviceError
    that lists the candidates where none or several fit.
    """
    able = [device for device in devices if device.channels(way) > 0]
    if not able:
        raise NoDeviceError(f"there is no sound {way} on this machine; another program may hold it")
    if wanted is None:
        return next((device for device in able if device.is_default(way)), able[0]), None
    fitting, channel = _fitting(able, wanted), None
    name, colon, digits = wanted.rpartition(":")
    if not fitting and colon and digits.isdigit():
        fitting, channel = _fitting(able, name), int(digits)
    if len(fitting) == 1:
        return fitting[0], channel
    listed = "; ".join(map(str, fitting or able))
    if fitting:
        raise DeviceError(f"{len(fitting)} {way}s fit {wanted!r}, say more of the name or the number: {listed}")
    raise DeviceError(f"no {way} fits {wanted!r} (another program may hold it); there are: {listed}")


def _fitting(devices: Sequence[Device], wanted: str) -> list[Device]:
    if wanted.isdigit():
        return [device for device in devices if device.index == int(wanted)]
    text = " ".join(wanted.lower().split())
    full = [d for d in devices if text in (d.name.lower(), f"{d.name}, {d.host_api}".lower())]
    if len(full) == 1 or not text:
        return full
    words = text.replace(",", " ").split()
    return [d for d in devices if all(word in f"{d.name}, {d.host_api}".lower() for word in words)]


def choose_rig(
    devices: Sequence[Device],
    wanted_input: str | None = None,
    wanted_output: str | None = None,
    channel: int | None = None,
) -> Rig:
    """The input, its channel and the output, as they can run on one stream.

    Where no output is named, the input's own device plays if it can, else the default output if it is of the same
    host API, else the first output that is; None where there is none. An output that is named has to be of the same
    host API. `channel` overrides one given with the input's name; 1 by default.
    """
    source, named_channel = choose(devices, wanted_input, Way.INPUT)
    channel = channel or named_channel or 1
    if not 1 <= channel <= source.inputs:
        raise DeviceError(f"the input {source.name} has no channel {channel}: it has {source.inputs}, counted from 1")
    if wanted_output is not None:
        output, _ = choose(devices, wanted_output, Way.OUTPUT)
        if output.host_api != source.host_api:
            raise DeviceError(
                f"the input {source.name} ({source.host_api}) and the output {output.name} ({output.host_api}) cannot "
                "run on one clock: choose two of the same host API"
            )
        return Rig(source, channel, output)
    same = [device for device in devices if device.outputs > 0 and device.host_api == source.host_api]
    if wanted_input is None or source.outputs == 0:
        preferred = [device for device in same if device.default_output]
    else:
        preferred = [source]
    own = [device for device in same if device.index == source.index]
    return Rig(source, channel, next(iter([*preferred, *own, *same]), None))
