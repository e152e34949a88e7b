"""The language of ear and grader as JSON lines, one event a line, and back again without loss."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from listener.errors import InputFileError
from listener.events import EarEvent, Final, Gesture, Note, Opened, Revised, Watermark, Withdrawn
from listener.graded import (
    ChorusFinal,
    Explained,
    Grade,
    Graded,
    GradeEvent,
    GradeFinal,
    GradeOpened,
    GradeRevised,
    GradeWithdrawn,
    Shade,
)

EVENTS_SCHEMA = "bluethird/events/1"
Event = EarEvent | GradeEvent

EVENT_NAMES: dict[type[Event], str] = {
    Opened: "opened",
    Revised: "revised",
    Final: "final",
    Withdrawn: "withdrawn",
    Watermark: "watermark",
    GradeOpened: "grade_opened",
    GradeRevised: "grade_revised",
    GradeFinal: "grade_final",
    GradeWithdrawn: "grade_withdrawn",
    ChorusFinal: "chorus_final",
}
EVENT_TYPES = {name: kind for kind, name in EVENT_NAMES.items()}


def header_line(rate: int, **more: Any) -> str:
    """The first line of a stream of events: its schema and the rate of its sample indices in Hz."""
    return _dumps({"schema": EVENTS_SCHEMA, "rate_hz": rate, **more})


def event_line(event: Event) -> str:
    """One event as a line of JSON, without the line's end. Raises ValueError for a value that is NaN or infinite."""
    return _dumps({"event": EVENT_NAMES[type(event)], **asdict(event)})


def read_event(line: str) -> Event:
    """The event of a line that `event_line` wrote; raises InputFileError that names what is wrong."""
    try:
        fields: dict[str, Any] = json.loads(line)
        kind = EVENT_TYPES[fields.pop("event")]
        if "note" in fields:
            fields["note"] = _note(fields["note"])
        if "graded" in fields:
            fields["graded"] = _graded(fields["graded"])
        return kind(**fields)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise InputFileError(
            f"line of events {line[:60]!r}: {error!r}; expected one event of {EVENTS_SCHEMA}"
        ) from error


def _note(fields: dict[str, Any]) -> Note:
    contour = tuple((sample, pitch) for sample, pitch in fields.pop("contour"))
    return Note(**{**fields, "gesture": Gesture(fields["gesture"]), "contour": contour})


def _graded(fields: dict[str, Any]) -> Graded:
    enums = {"grade": Grade, "explained": Explained, "shade": Shade}
    told = {name: kind(fields[name]) if fields[name] is not None else None for name, kind in enums.items()}
    return Graded(**{**fields, **told, "note": _note(fields["note"])})


def _dumps(fields: dict[str, Any]) -> str:
    return json.dumps(fields, ensure_ascii=False, allow_nan=False, default=_number)


def _number(value: Any) -> int | float:
    """Numbers of an array library as plain ones."""
    number = getattr(value, "item", None)
    if number is None:
        raise TypeError(f"{type(value).__name__} {value!r}: expected a plain value of an event")
    plain: int | float = number()
    return plain
