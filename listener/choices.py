"""What a player can choose, as a table: name, default, range, and where each value came from.

Options override the environment, that overrides the settings file, that overrides the defaults.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from listener.errors import InputFileError, UsageError

Value = str | float | int | bool | None
ENVIRONMENT_PREFIX = "BLUETHIRD_"


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that can be set. `low` and `high` bound a number, both ends allowed; `unit` is for messages."""

    name: str
    kind: type
    default: Value
    about: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    among: tuple[str, ...] = ()

    @property
    def variable(self) -> str:
        return ENVIRONMENT_PREFIX + self.name.upper()


CHOICES = (
    Choice("changes", str, "blues", "a form's name or a chart file"),
    Choice("key", str, None, "key, such as A, B♭ or 'C minor' (default: the chart's, else A)"),
    Choice("tempo", float, None, "beats per minute (default: the chart's, else 80)", 30, 320, "bpm"),
    Choice("swing", float, None, "swing ratio, 1 straight to 3 (default: the chart's, else 2)", 1, 3, ""),
    Choice("choruses", int, 4, "choruses to play", 1, 999, ""),
    Choice("a4", float, 440.0, "the player's A4 in Hz", 415, 466, "Hz"),
    Choice("device", str, None, "input device: its number or a part of its name"),
    Choice("output", str, None, "output device: its number or a part of its name"),
    Choice("channel", int, None, "input channel, from 1", 1, 64, ""),
    Choice("latency", float, None, "round trip in milliseconds, where you have measured it", 0, 2000, "ms"),
    Choice(
        "ear",
        str,
        "live",
        "live; early, which tells sooner and takes more back; or review, which hears a whole recording first",
        among=("live", "early", "review"),
    ),
    Choice("colour", bool, False, "count 9, 13, 6 (and 11 over minor) as chord tones"),
    Choice("rest", int, 25, "minutes after which a rest is suggested at a chorus end (0: never)", 0, 600, "min"),
)
BY_NAME = {choice.name: choice for choice in CHOICES}


@dataclass(frozen=True, slots=True)
class Chosen:
    """A value and its origin: option, environment, settings file or default."""

    value: Value
    origin: str


def read_value(choice: Choice, text: str) -> Value:
    """`text` as the choice's kind and within its range; ValueError with a clause that says what would be right."""
    if choice.kind is bool:
        if text.lower() in ("1", "yes", "true", "on"):
            return True
        if text.lower() in ("0", "no", "false", "off"):
            return False
        raise ValueError(f"{choice.name} is {text!r}; expected yes or no")
    if choice.kind is str:
        if not text.strip():
            raise ValueError(f"{choice.name} is empty; expected {choice.about}")
        if choice.among and text not in choice.among:
            raise ValueError(f"{choice.name} is {text!r}; expected {' or '.join(choice.among)}")
        return text
    try:
        number = choice.kind(text.removesuffix(":1") if choice.name == "swing" else text)
    except ValueError:
        whole = "a whole number" if choice.kind is int else "a number"
        raise ValueError(f"{choice.name} is {text!r}; expected {whole}{_range(choice)}") from None
    if not (choice.low is None or choice.low <= number) or not (choice.high is None or number <= choice.high):
        raise ValueError(f"{choice.name} is {text}; expected{_range(choice)}")
    return number  # type: ignore[no-any-return]  # float or int, as the table says


def _range(choice: Choice) -> str:
    if choice.low is None or choice.high is None:
        return ""
    return f" from {choice.low:g} to {choice.high:g} {choice.unit}".rstrip()


def choose(
    options: Mapping[str, str | None],
    environment: Mapping[str, str],
    settings: Mapping[str, object],
    settings_name: str,
) -> dict[str, Chosen]:
    """Every choice with its value and origin.

    UsageError for an option or variable, InputFileError for a settings file, that cannot be read.
    """
    for name in settings:
        if name not in BY_NAME:
            raise InputFileError(f"{settings_name}: {name!r} is no setting; known are {', '.join(BY_NAME)}")
    chosen = {}
    for choice in CHOICES:
        option, variable = options.get(choice.name), environment.get(choice.variable)
        if option is not None:
            chosen[choice.name] = _from(choice, option, "option", f"--{choice.name}", UsageError)
        elif variable is not None:
            chosen[choice.name] = _from(choice, variable, "environment", choice.variable, UsageError)
        elif settings.get(choice.name) is not None:
            text = str(settings[choice.name])
            chosen[choice.name] = _from(choice, text, "settings file", settings_name, InputFileError)
        else:
            chosen[choice.name] = Chosen(choice.default, "default")
    return chosen


def _from(choice: Choice, text: str, origin: str, place: str, error: type[Exception]) -> Chosen:
    try:
        return Chosen(read_value(choice, text), origin)
    except ValueError as fault:
        raise error(f"{place}: {fault}") from None
