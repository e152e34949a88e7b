"""From what the player asked for to a plan: a form of the library or a chart file, key, tempo and swing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from listener.charts_in import read_chart_file
from listener.choices import Chosen
from listener.errors import InputFileError
from listener.plan import DEFAULT_SWING, DEFAULT_TEMPO_BPM, Plan
from listener.rules import Rules
from progressions.chart import Chart
from progressions.forms import form_key, form_names, load_form
from progressions.keys import parse_key


def load_changes(wanted: str, key: str | None, tempo_bpm: float | None = None) -> Chart:
    """The chart of a form's name or of a file, in `key` if one is given. InputFileError or ProgressionsError.

    `tempo_bpm` is for files that tell seconds alone, see `charts_in`.
    """
    tonic = None if key is None else parse_key(key)
    if wanted in form_names():
        return load_form(wanted, tonic or form_key(wanted))
    path = Path(wanted).expanduser()
    if not path.exists():
        raise InputFileError(f"{path} is no file and no form; the forms are {', '.join(form_names())}")
    return read_chart_file(path, tonic, tempo_bpm)


def make_plan(chosen: Mapping[str, Chosen]) -> Plan:
    """The plan that the player's choices make; what is not chosen comes from the chart, then from the defaults."""
    value = {name: choice.value for name, choice in chosen.items()}
    key = value["key"]
    tempo = None if value["tempo"] is None else float(value["tempo"])
    chart = load_changes(str(value["changes"]), None if key is None else str(key), tempo)
    return Plan(
        chart=chart,
        tempo_bpm=float(tempo or chart.tempo_bpm or DEFAULT_TEMPO_BPM),
        swing=float(value["swing"] or chart.swing or DEFAULT_SWING),
        choruses=int(value["choruses"] or 1),
        a4_hz=float(value["a4"] or 440.0),
        rules=Rules(colour_is_chord_tone=bool(value["colour"])),
    )
