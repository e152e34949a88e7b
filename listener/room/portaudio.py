"""The one door to PortAudio: loading it, keeping it quiet, and its errors in plain sentences.

sounddevice loads the C library when it is imported and makes its list of devices then; both may fail on a machine
that has no sound at all, so nothing is imported before it is needed.
"""

from __future__ import annotations

import contextlib
import functools
import importlib
import os
import sys
from collections.abc import Iterator
from types import ModuleType

from listener.errors import DeviceError, NoDeviceError

INVALID_RATE = -9997
INVALID_CHANNELS = -9998
UNAVAILABLE = -9985
ILLEGAL_COMBINATION = -9993
NO_DEVICE = -9996

_SENTENCES = {
    INVALID_RATE: "does not run at the rate that was asked for",
    INVALID_CHANNELS: "does not have that many channels",
    UNAVAILABLE: "cannot be opened: another program may hold it",
    ILLEGAL_COMBINATION: "cannot be opened together: choose an input and an output of the same host API",
    NO_DEVICE: "is not there",
}


@functools.cache
def load() -> ModuleType:
    """The sounddevice module. NoDeviceError, which says how to install it, where the C library is missing."""
    try:
        with quiet():
            return importlib.import_module("sounddevice")
    except OSError as error:
        install = "install it with: sudo apt-get install libportaudio2" if sys.platform == "linux" else "reinstall it"
        if "not found" in str(error):
            raise NoDeviceError(f"the PortAudio library is missing; {install}") from error
        raise NoDeviceError(f"the PortAudio library cannot be loaded ({error}); {install}") from error


def refresh() -> None:
    """Make the list of devices anew. No stream may be open."""
    sounddevice = load()
    with quiet():
        sounddevice._terminate()
        sounddevice._initialize()


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Keep what C libraries write straight to file descriptor 2 off the screen, while a device opens or closes."""
    try:
        sys.stderr.flush()
        kept = os.dup(2)
    except (OSError, ValueError, AttributeError):  # no standard error at all, as under a window system
        yield
        return
    try:
        with open(os.devnull, "wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def error_code(error: Exception) -> int | None:
    """PortAudio's own code of an error, where there is one."""
    code = error.args[1] if len(error.args) > 1 else None
    return code if isinstance(code, int) else None


def device_error(who: str, error: Exception) -> DeviceError:
    """The sentence for an error of PortAudio about the device or devices named `who`."""
    sentence = _SENTENCES.get(error_code(error) or 0)
    if sentence is None:
        text = str(error.args[0] if error.args else error).removeprefix("Error opening Stream: ")
        sentence = f"cannot be opened: {' '.join(text.split()).rstrip('.').lower()}"
    return DeviceError(f"{who} {sentence}")
