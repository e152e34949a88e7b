"""The document of a sitting and its variant without harmony, as plain values for JSON.

Times are seconds from the stream's first sample, to a tenth of a millisecond. No value is NaN or infinite: where there
is nothing to say there is null.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from enum import Enum
from fractions import Fraction
from math import isfinite
from typing import Any

from listener.events import Note
from listener.graded import ChorusMeasures, Graded, Landing
from listener.rules import Rules

NOTES_SCHEMA = "bluethird/chorus-notes/1"
HEARD_SCHEMA = "bluethird/notes/1"
Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Shown:
    """Positions of the stream, in samples, at which a note was first shown and its grade final; None if never."""

    first_shown_sample: int | None
    final_sample: int | None


NEVER = Shown(None, None)


def sitting_document(
    *,
    graded: Sequence[Graded],
    choruses: Sequence[ChorusMeasures],
    shown: Mapping[int, Shown],
    rate: int,
    tempo_bpm: float,
    a4_hz: float,
    rules: Rules,
    ear: str,
    **more: Any,
) -> Json:
    """The document of a graded sitting. `shown` is by note id, `rate` in Hz, `ear` the ear's version.

    `more` adds fields of plain values (title, key, meter, source) after the defined ones.
    """
    ordered = sorted(graded, key=lambda g: (g.note.onset_sample, g.note.id))
    return {
        "schema": NOTES_SCHEMA,
        "tempo_bpm": _plain(tempo_bpm),
        "a4_hz": _plain(a4_hz),
        "rules": rules.profile,
        "ear": ear,
        "notes": [graded_note(g, shown.get(g.note.id, NEVER), rate) for g in ordered],
        "landings": [_landing(landing) for chorus in choruses for landing in chorus.landings],
        "choruses": [_chorus(chorus) for chorus in choruses],
        **{name: _plain(value) for name, value in more.items()},
    }


def heard_document(
    *, notes: Iterable[Note], shown: Mapping[int, Shown], rate: int, a4_hz: float, ear: str, **more: Any
) -> Json:
    """The notes heard, without the harmony: the same fields of each note as far as they need no chord."""
    ordered = sorted(notes, key=lambda note: (note.onset_sample, note.id))
    return {
        "schema": HEARD_SCHEMA,
        "a4_hz": _plain(a4_hz),
        "ear": ear,
        "notes": [{**_heard(note, rate), **_times(shown.get(note.id, NEVER), rate)} for note in ordered],
        **{name: _plain(value) for name, value in more.items()},
    }


def graded_note(graded: Graded, shown: Shown, rate: int) -> Json:
    """One note of the sitting's document."""
    return {
        **_heard(graded.note, rate),
        "chorus": graded.chorus,
        "bar": graded.bar,
        "beat": _rounded(graded.beat, 4),
        "chord": graded.chord,
        "function": graded.function,
        "name": graded.name,
        "grade": _plain(graded.grade),
        "explained": _plain(graded.explained),
        "shade": _plain(graded.shade),
        "resolved": graded.resolved,
        "third": graded.third,
        "left": graded.left,
        "low_third": graded.low_third,
        "key_degree": graded.key_degree,
        "pushed": graded.pushed,
        "early": graded.early,
        "scored": graded.scored,
        "why_not": graded.why_not,
        **_times(shown, rate),
    }


def dumps(document: Json, indent: int | None = 1, *, ascii_only: bool = False) -> str:
    """The document as text, its signs as they are or, with `ascii_only`, as JSON's escapes.

    Raises ValueError for NaN, which JSON does not know.
    """
    return json.dumps(document, ensure_ascii=ascii_only, allow_nan=False, indent=indent)


def _heard(note: Note, rate: int) -> Json:
    return {
        "id": note.id,
        "onset_s": _seconds(note.onset_sample, rate),
        "offset_s": _seconds(note.offset_sample, rate),
        "pitch_midi": _rounded(note.pitch_midi, 4),
        "from_midi": _rounded(note.from_midi, 4),
        "gesture": note.gesture.value,
        "slurred_from": note.slurred_from,
        "rise_cents": _rounded(note.rise_cents, 1),
        "voice": note.voice,
        "level_db": _rounded(note.level_db, 1),
        "confidence": _rounded(note.confidence, 3),
        "unsure": note.unsure,
        "touches_gap": note.touches_gap,
    }


def _times(shown: Shown, rate: int) -> Json:
    return {
        "first_shown_s": _seconds(shown.first_shown_sample, rate),
        "final_s": _seconds(shown.final_sample, rate),
    }


def _landing(landing: Landing) -> Json:
    return {field.name: _plain(getattr(landing, field.name)) for field in fields(landing)}


def _chorus(measures: ChorusMeasures) -> Json:
    """A chorus's measures with names for what its tuples hold; its landings stand in the document's own list."""
    document = {
        field.name: _plain(getattr(measures, field.name)) for field in fields(measures) if field.name != "landings"
    }
    document["thirds_left"] = dict(measures.thirds_left)
    document["functions"] = [{"chord": c, "function": f, "notes": n} for c, f, n in measures.functions]
    document["unused"] = [{"chord": c, "function": f} for c, f in measures.unused]
    document["phrases"] = [
        {"beat": _rounded(beat, 4), "bar": bar, "length_beats": _rounded(length, 4)}
        for beat, bar, length in measures.phrases
    ]
    return document


def _seconds(sample: int | None, rate: int) -> float | None:
    return None if sample is None else round(int(sample) / rate, 4)


def _rounded(value: float | None, digits: int) -> float | None:
    return round(float(value), digits) if value is not None and isfinite(value) else None


def _plain(value: Any) -> Any:
    """A value as JSON knows it: enums by value, tuples as lists, dataclasses by field, what is not finite as null."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, bool | str) or value is None:
        return value
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float | Fraction):
        return _rounded(float(value), 6)
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [_plain(item) for item in value]
    if hasattr(value, "__dataclass_fields__"):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    raise TypeError(f"{type(value).__name__} {value!r}: expected a plain value of a document")
