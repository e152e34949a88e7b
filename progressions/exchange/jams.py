"""Chord annotations in JAMS (Humphrey et al., ISMIR 2014): namespaces chord and chord_harte, with beats where told."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import median
from typing import Any, TypeGuard

from progressions.changes import Chart, Meter
from progressions.errors import ChordError, ExchangeError, ProgressionsError
from progressions.exchange.gridding import Beats, TimedChord, chart_of, even_beats
from progressions.exchange.harte import parse_harte
from progressions.keys import Key, parse_key

CHORDS = ("chord", "chord_harte")
BEATS = ("beat_position", "beat")
MOST_OBSERVATIONS = 50_000
LONGEST_S = 1e6
SHORTEST_BEAT_S = 0.02


@dataclass(frozen=True, slots=True)
class _Observation:
    time_s: float
    duration_s: float
    value: Any
    place: str


def read_jams(
    text: str, name: str = "jams", *, tempo_bpm: float | None = None, meter: Meter | None = None, key: Key | None = None
) -> Chart:
    """The chart of the first chord annotation; beats, tempo and key are those of the file unless they are given.

    Where the file has no beats they are even at its tempo, or the one given, from the first chord on. Raises
    ExchangeError with the annotation and the chord.
    """
    document = _document(text, name)
    observed = _observed(document, CHORDS, name)
    if not observed:
        raise ExchangeError(name, "annotations", "no chords", f"an annotation in the namespace {' or '.join(CHORDS)}")
    timed = [_timed(one, name) for one in observed]
    first = next((one for one in timed if not one.chord.is_no_chord), timed[0])
    told_beats = _observed(document, BEATS, name)
    told_tempo = [one.value for one in _observed(document, ("tempo",), name) if _is_number(one.value) and one.value > 0]
    tempo = tempo_bpm or (float(told_tempo[0]) if told_tempo else None)
    beats = _beats(told_beats, meter, name) if len(told_beats) >= 2 else None
    if beats is None:
        beats = even_beats(name, first, tempo, meter)
    step_s = median(b - a for a, b in pairwise(beats.times_s))
    tempo = tempo or round(60.0 / step_s * float(beats.step), 1)
    return chart_of(name, _title(document), timed, beats, key or _told_key(document, name), tempo)


def _document(text: str, name: str) -> dict[str, Any]:
    try:
        document = json.loads(text)
    except json.JSONDecodeError as error:
        raise ExchangeError(name, f"line {error.lineno}, column {error.colno}", error.msg, "JSON") from None
    except (ValueError, RecursionError):
        raise ExchangeError(name, "line 1", "numbers or nesting out of all measure", "JSON as JAMS has it") from None
    if not isinstance(document, dict) or not isinstance(document.get("annotations"), list):
        raise ExchangeError(name, "line 1", "no list of annotations", "a JAMS document")
    return document


def _observed(document: dict[str, Any], namespaces: Sequence[str], name: str) -> list[_Observation]:
    """The observations of the first annotation in the first of these namespaces that has one, in order of time."""
    for namespace in namespaces:
        for number, annotation in enumerate(document["annotations"], 1):
            if isinstance(annotation, dict) and annotation.get("namespace") == namespace and annotation.get("data"):
                return _observations(annotation["data"], f"annotation {number}", namespace, name)
    return []


def _observations(data: Any, place: str, namespace: str, name: str) -> list[_Observation]:
    rows = data
    if isinstance(data, dict):  # the dense form: a list for each field
        columns = [data.get(word) for word in ("time", "duration", "value")]
        if not all(isinstance(column, list) for column in columns):
            raise ExchangeError(name, place, "data without time, duration and value", "lists of these")
        rows = [dict(zip(("time", "duration", "value"), row, strict=True)) for row in zip(*columns, strict=False)]
    if not isinstance(rows, list) or len(rows) > MOST_OBSERVATIONS:
        raise ExchangeError(name, place, "no list of data", f"at most {MOST_OBSERVATIONS} observations")
    found = []
    for number, row in enumerate(rows, 1):
        here = f"{place}, {namespace} {number}"
        told = row if isinstance(row, dict) else {}
        time, duration = told.get("time"), told.get("duration", 0.0)
        if not (_is_number(time) and _is_number(duration) and 0 <= time < LONGEST_S and 0 <= duration < LONGEST_S):
            raise ExchangeError(name, here, "no time in seconds", "a time and a duration from 0")
        found.append(_Observation(float(time), float(duration), told.get("value"), here))
    return sorted(found, key=lambda one: one.time_s)


def _is_number(value: Any) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _timed(one: _Observation, name: str) -> TimedChord:
    place = f"{one.place} at {one.time_s:.2f} s"
    if not isinstance(one.value, str):
        raise ExchangeError(name, place, "no chord label", "a label such as A:min7")
    try:
        return TimedChord(one.time_s, one.time_s + one.duration_s, parse_harte(one.value), place)
    except ChordError as error:
        found = f"chord {error.symbol!r}, character {error.position + 1}"
        raise ExchangeError(name, place, found, error.expected) from error


def _beats(told: Sequence[_Observation], meter: Meter | None, name: str) -> Beats | None:
    """The told beats with their meter; None where they say nothing of bars and no meter is given."""
    for before, one in pairwise(told):
        if one.time_s - before.time_s < SHORTEST_BEAT_S:
            raise ExchangeError(name, one.place, "two beats at one time", "beats one after the other")
    times = [one.time_s for one in told]
    positions = [_position(one.value) for one in told]
    numbers = [number for number, _, _ in positions if number is not None]
    if len(numbers) < len(told):
        return None
    told_meters = {(count, unit) for _, count, unit in positions if count is not None}
    if len(told_meters) > 1:
        raise ExchangeError(name, told[0].place, "a meter that changes", "one meter in a JAMS file")
    count, unit = told_meters.pop() if told_meters else (max(numbers), 4)
    try:
        found = meter or Meter(count or 4, unit or 4)
    except ProgressionsError as error:
        raise ExchangeError(name, told[0].place, str(error), "a meter of a chart") from error
    step = Fraction(found.beats_per_bar, count or 4)
    return Beats(tuple(times), found, (numbers[0] - 1) * step, step)


def _position(value: Any) -> tuple[int | None, int | None, int | None]:
    """Place in the bar from 1, beats in a bar and their unit, as far as a beat tells them."""
    told = value if isinstance(value, dict) else {"position": value}
    return _count(told.get("position")), _count(told.get("num_beats")), _count(told.get("beat_units"))


def _count(value: Any) -> int | None:
    return int(value) if _is_number(value) and 1 <= value <= 64 and value == int(value) else None


def _told_key(document: dict[str, Any], name: str) -> Key | None:
    for one in _observed(document, ("key_mode",), name):
        tonic, _, mode = one.value.partition(":") if isinstance(one.value, str) else ("", "", "")
        if mode in ("major", "minor", ""):
            try:
                return parse_key(f"{tonic} {mode}")
            except ProgressionsError:
                return None  # N, or a tonic that no chart has: the first chord decides
    return None


def _title(document: dict[str, Any]) -> str:
    metadata = document.get("file_metadata")
    title = metadata.get("title") if isinstance(metadata, dict) else None
    return " ".join(title.split()) if isinstance(title, str) else ""
