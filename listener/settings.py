"""What is remembered between sittings: choices, which devices passed the sound check, what has been shown once.

One JSON file in the config folder, replaced as a whole. What this program does not know in it is kept as it is.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from listener.errors import InputFileError
from listener.storage import config_home, storage_error, write_atomically

SETTINGS_NAME = "settings.json"
_KNOWN = ("choices", "sound_checks", "caution_shown")


@dataclass(frozen=True, slots=True)
class CheckedRig:
    """A sound check that was passed. `low_e_cents` is None where it was skipped; `beyond_driver` is the measured loop
    delay less the driver's own figure, in samples, None until it is measured."""

    input: str
    channel: int
    output: str | None
    rate: int
    peak_db: float
    noise_db: float
    low_e_cents: float | None
    hears_output: bool
    beyond_driver: int | None = None

    @property
    def key(self) -> str:
        """What a check belongs to: a pair of devices, the channel and the rate."""
        return rig_key(self.input, self.channel, self.output, self.rate)


@dataclass(frozen=True, slots=True)
class Settings:
    """`choices` are the player's own defaults for the options of the command, by name."""

    choices: Mapping[str, Any] = field(default_factory=dict)
    sound_checks: Mapping[str, CheckedRig] = field(default_factory=dict)
    caution_shown: bool = False
    unknown: Mapping[str, Any] = field(default_factory=dict)

    def check_of(self, input: str, channel: int, output: str | None, rate: int) -> CheckedRig | None:
        """The check that these devices have passed at this rate, or None."""
        return self.sound_checks.get(rig_key(input, channel, output, rate))

    def with_check(self, checked: CheckedRig) -> Settings:
        return Settings(
            self.choices, {**self.sound_checks, checked.key: checked}, self.caution_shown, self.unknown
        )  # fmt: skip

    def with_caution_shown(self) -> Settings:
        return Settings(self.choices, self.sound_checks, True, self.unknown)

    def with_choices(self, choices: Mapping[str, Any]) -> Settings:
        return Settings({**self.choices, **choices}, self.sound_checks, self.caution_shown, self.unknown)


def rig_key(input: str, channel: int, output: str | None, rate: int) -> str:
    """Devices go by their names: the numbers change when something is plugged in."""
    return f"{input}:{channel} -> {output or 'none'} at {rate} Hz"


def settings_path(option: str | Path | None = None) -> Path:
    """Where the settings lie: in the folder given, else in the one of the environment or the platform."""
    return config_home(option) / SETTINGS_NAME


def load_settings(path: Path) -> Settings:
    """The settings, or the defaults where there are none yet.

    InputFileError that names the file and the place where it cannot be read; it is left as it is.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings()
    except (OSError, UnicodeDecodeError) as error:
        reason = (error.strerror or str(error)) if isinstance(error, OSError) else "it is no text"
        raise InputFileError(f"the settings {path} cannot be read: {reason.lower()}") from error
    try:
        raw = json.loads(text)
    except ValueError as error:
        raise _damaged(path, str(error)) from error
    if not isinstance(raw, dict):
        raise _damaged(path, "expected an object in braces")
    return _read(raw, path)


def save_settings(settings: Settings, path: Path) -> None:
    """Replace the settings file as a whole. StorageError where the disk refuses; the old file then stays."""
    raw = {
        **settings.unknown,
        "choices": dict(settings.choices),
        "sound_checks": {key: asdict(checked) for key, checked in settings.sound_checks.items()},
        "caution_shown": settings.caution_shown,
    }
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, (json.dumps(raw, ensure_ascii=False, indent=1) + "\n").encode())
    except OSError as error:
        raise storage_error("the settings", path, error) from error


def _read(raw: dict[str, Any], path: Path) -> Settings:
    choices, checks = raw.get("choices", {}), raw.get("sound_checks", {})
    shown = raw.get("caution_shown", False)
    if not isinstance(choices, dict) or not isinstance(checks, dict) or not isinstance(shown, bool):
        raise _damaged(path, "expected choices and sound_checks in braces, caution_shown true or false")
    unknown = {name: value for name, value in raw.items() if name not in _KNOWN}
    return Settings(choices, {key: _checked(key, value, path) for key, value in checks.items()}, shown, unknown)


_KINDS: dict[str, tuple[type, ...]] = {
    "str": (str,),
    "str | None": (str, type(None)),
    "int": (int,),
    "int | None": (int, type(None)),
    "float": (float, int),
    "float | None": (float, int, type(None)),
    "bool": (bool,),
}


def _checked(key: str, raw: Any, path: Path) -> CheckedRig:
    if not isinstance(raw, dict):
        raise _damaged(path, f"sound check {key!r}: expected an object in braces")
    known = {each.name: _KINDS[str(each.type)] for each in fields(CheckedRig)}
    values = {name: value for name, value in raw.items() if name in known}
    for name, value in values.items():
        if not isinstance(value, known[name]):
            raise _damaged(path, f"sound check {key!r}: {name} is {value!r}")
    try:
        return CheckedRig(**values)
    except TypeError as error:
        raise _damaged(path, f"sound check {key!r}: a value is missing") from error


def _damaged(path: Path, what: str) -> InputFileError:
    return InputFileError(f"the settings {path} are damaged ({what}); mend the file, or move it away to start afresh")
