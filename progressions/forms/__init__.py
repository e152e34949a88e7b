"""The library of common forms, in degrees, one small text file each; every form can be had in every key.

A file is a chart with degrees for chords. The key it names is the customary one, and tells the mode.
"""

from __future__ import annotations

from functools import cache

from progressions.changes import Chart, transpose_chart
from progressions.chart import parse_chart
from progressions.errors import ProgressionsError
from progressions.keys import Key


@cache
def _texts() -> dict[str, str]:
    """Text by name of form, in the order of the names."""
    from importlib.resources import files  # slow to import, and not needed for a chart of the player's own

    folder = files(__name__)
    names = sorted(e.name.removesuffix(".txt") for e in folder.iterdir() if e.name.endswith(".txt"))
    return {name: folder.joinpath(f"{name}.txt").read_text(encoding="utf-8") for name in names}


@cache
def _home(name: str) -> Chart:
    """The form in its customary key."""
    text = _texts().get(name)
    if text is None:
        raise ProgressionsError(f"form {name!r}: expected one of {', '.join(_texts())}")
    return parse_chart(text, f"form {name}")


def form_names() -> tuple[str, ...]:
    """Names of all forms, by alphabet."""
    return tuple(_texts())


def form_title(name: str) -> str:
    """The form's title. Raises ProgressionsError for an unknown name."""
    return _home(name).title


def form_key(name: str) -> Key:
    """The customary key of a form. Raises ProgressionsError for an unknown name."""
    return _home(name).key


def load_form(name: str, key: Key) -> Chart:
    """The form on the tonic of `key`. A minor form stays minor where the key does not say so.

    A tonic whose key would need more than six signs takes its usual name: a minor form in G♭ is in F♯ minor.

    Raises ProgressionsError for an unknown name, and for a major form in a minor key.
    """
    mode = form_key(name)
    if key.minor and not mode.minor:
        raise ProgressionsError(f"form {name!r} is in major: expected key {key.tonic}, or a minor form")
    return transpose_chart(_home(name), Key(key.tonic, mode.minor).usual())
