"""Where things are kept, and how a file is written so that a crash leaves the old or the new one whole."""

from __future__ import annotations

import errno
import os
from collections.abc import Mapping
from pathlib import Path

from listener.errors import StorageError

APPLICATION = "bluethird"
DATA_HOME_VARIABLE = "BLUETHIRD_DATA_HOME"
CONFIG_HOME_VARIABLE = "BLUETHIRD_CONFIG_HOME"
TAKES_NAME = "takes"

_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def data_home(option: str | Path | None = None, environment: Mapping[str, str] = os.environ) -> Path:
    """The folder of takes and history: the option, else the variable, else the platform's folder for user data."""
    import platformdirs

    chosen = option or environment.get(DATA_HOME_VARIABLE)
    return Path(chosen) if chosen else platformdirs.user_data_path(APPLICATION, appauthor=False)


def config_home(option: str | Path | None = None, environment: Mapping[str, str] = os.environ) -> Path:
    """The folder of the settings, found the same way."""
    import platformdirs

    chosen = option or environment.get(CONFIG_HOME_VARIABLE)
    return Path(chosen) if chosen else platformdirs.user_config_path(APPLICATION, appauthor=False)


def storage_error(what: str, path: Path, error: OSError) -> StorageError:
    """The sentence for a fault of the disk: what cannot be written, where, and why."""
    if error.errno in _FULL:
        reason = "the disk or its quota is full"
    elif error.errno in (errno.EACCES, errno.EPERM):
        reason = "you have no permission to write there"
    elif error.errno == errno.EROFS:
        reason = "the disk can only be read"
    else:
        reason = (error.strerror or str(error)).lower()
    return StorageError(f"{what} cannot be written to {path}: {reason}")


def write_atomically(path: Path, data: bytes) -> None:
    """Replace `path` by `data`, through a file beside it. Raises OSError; the old file stays until the new is whole."""
    beside = path.with_name(path.name + ".part")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make names in the folder survive a power cut, where the platform can open a folder."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
