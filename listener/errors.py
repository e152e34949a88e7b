"""One root error for the package; each kind knows the exit code that the command ends with."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """Exit codes of the command."""

    DONE = 0
    FAILED = 1
    USAGE = 2
    SOUND_DEVICE = 3
    BAD_INPUT = 4
    STORAGE = 5
    INTERRUPTED = 130


class ListenerError(Exception):
    """Something the user has to know, in one sentence."""

    exit_code: Exit = Exit.FAILED


class UsageError(ListenerError):
    exit_code = Exit.USAGE


class DeviceError(ListenerError):
    """The sound device cannot be opened, or went away."""

    exit_code = Exit.SOUND_DEVICE


class NoDeviceError(DeviceError):
    """There is no sound device at all, or no PortAudio library."""


class InputFileError(ListenerError):
    """A recording, chart or settings file that cannot be used."""

    exit_code = Exit.BAD_INPUT


class StorageError(ListenerError):
    """The take, settings or history cannot be written."""

    exit_code = Exit.STORAGE
