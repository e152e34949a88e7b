"""From what the player asked for to a plan: a form of the library or a chart file, key, tempo and swing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from listener.choices import Chosen
from listener.errors import InputFileError
from listener.plan import DEFAULT_SWING, DEFAULT_TEMPO_BPM, Plan
from listener.rules import Rules
from progressions.chart import Chart, parse_chart, transpose_chart
from progressions.forms import form_key, form_names, load_form
from progressions.keys import parse_key

LONGEST_CHART_BYTES = 1_000_000


def load_changes(wanted: str, key: str | None) -> Chart:
    """The chart of a form's name or of a file, in `key` if one is given. InputFileError or ProgressionsError."""
    tonic = None if key is None else parse_key(key)
    if wanted in form_names():
        return load_form(wanted, tonic or form_key(wanted))
    chart = parse_chart(_read_text(Path(wanted).expanduser()), wanted)
    return chart if tonic is None else transpose_chart(chart, tonic)


def _read_text(path: Path) -> str:
    if not path.exists():
        raise InputFileError(f"{path} is no file and no form; the forms are {', '.join(form_names())}")
    if path.is_dir():
        raise InputFileError(f"{path} is a folder, not a chart")
    try:
        if path.stat().st_size > LONGEST_CHART_BYTES:
            raise InputFileError(f"{path} is larger than a chart can be")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputFileError(f"{path} is no text in UTF-8, so it cannot be a chart") from None
    except OSError as error:
        raise InputFileError(f"{path} cannot be read: {error.strerror or error}") from error


def make_plan(chosen: Mapping[str, Chosen]) -> Plan:
    """The plan that the player's choices make; what is not chosen comes from the chart, then from the defaults."""
    value = {name: choice.value for name, choice in chosen.items()}
    key = value["key"]
    chart = load_changes(str(value["changes"]), None if key is None else str(key))
    return Plan(
        chart=chart,
        tempo_bpm=float(value["tempo"] or chart.tempo_bpm or DEFAULT_TEMPO_BPM),
        swing=float(value["swing"] or chart.swing or DEFAULT_SWING),
        choruses=int(value["choruses"] or 1),
        a4_hz=float(value["a4"] or 440.0),
        rules=Rules(colour_is_chord_tone=bool(value["colour"])),
    )
