"""Results on standard output: documents, and the tables of notes, devices and settings."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from listener.choices import BY_NAME, Chosen
from listener.document import Shown, dumps, heard_document, sitting_document
from listener.events import Gesture, Note
from listener.glyphs import ascii_text
from listener.hearing import Hearing
from listener.room.devices import Device, Way
from listener.sitting import Outcome
from listener.views import writes_unicode
from progressions.pitch import midi_name


def write(lines: Iterable[str]) -> None:
    """Lines on standard output, in the signs that it can carry."""
    plain = not writes_unicode(sys.stdout)
    for line in lines:
        print(ascii_text(line) if plain else line)


def shown_times(hearing: Hearing) -> dict[int, Shown]:
    """When each note was first shown and its grade final, by note id."""
    return {key: Shown(hearing.first_shown.get(key), hearing.final_at.get(key)) for key in hearing.notes}


def print_document(document: dict[str, Any]) -> None:
    """One JSON document; with escapes where the output cannot carry its signs."""
    print(dumps(document, ascii_only=not writes_unicode(sys.stdout)))


def outcome_document(outcome: Outcome, **more: Any) -> dict[str, Any]:
    """The document of a sitting."""
    course, plan = outcome.course, outcome.course.plan
    return sitting_document(
        graded=course.hearing.finals,
        choruses=[report.measures for report in course.reports],
        shown=shown_times(course.hearing),
        rate=course.hearing.rate,
        tempo_bpm=plan.tempo_bpm,
        a4_hz=plan.a4_hz,
        rules=plan.rules,
        ear=course.hearing.ear.version,
        title=plan.chart.title,
        key=str(plan.chart.key),
        swing=plan.swing,
        offset_cents=round(course.hearing.offset_cents, 1),
        first_beat_s=round(outcome.first_sample / course.hearing.rate, 4),
        seconds=round(course.hearing.position / course.hearing.rate, 4),
        ended=str(outcome.ending),
        lost_frames=outcome.lost_frames,
        latency_ms=None if outcome.latency_ms is None else round(outcome.latency_ms, 2),
        latency_source=outcome.latency_source,
        **more,
    )


def notes_document(hearing: Hearing, a4_hz: float) -> dict[str, Any]:
    """The notes heard, without harmony."""
    return heard_document(
        notes=hearing.notes.values(),
        shown=shown_times(hearing),
        rate=hearing.rate,
        a4_hz=a4_hz,
        ear=hearing.ear.version,
        offset_cents=round(hearing.offset_cents, 1),
        seconds=round(hearing.position / hearing.rate, 4),
    )


def notes_table(notes: Sequence[Note], rate: int) -> list[str]:
    """One line a note: onset, length, name, cents from equal temperament, gesture and where it came from."""
    lines = [f"{'onset s':>9}{'length s':>10}  {'note':<6}{'cents':>6}  gesture"]
    for note in sorted(notes, key=lambda note: (note.onset_sample, note.id)):
        end = note.offset_sample if note.offset_sample is not None else note.onset_sample
        row = f"{note.onset_sample / rate:9.3f}{(end - note.onset_sample) / rate:10.3f}  "
        if note.pitch_midi is None or note.gesture is Gesture.DEAD:
            lines.append(f"{row}{'–':<6}{'':>6}  dead")
            continue
        nearest = round(note.pitch_midi)
        start = "" if note.from_midi is None else f" from {midi_name(round(note.from_midi))}"
        unsure = ", unsure" if note.unsure else ""
        cents = f"{100 * (note.pitch_midi - nearest) + 0.0:+.0f}"
        lines.append(f"{row}{midi_name(nearest):<6}{cents:>6}  {note.gesture.value}{start}{unsure}")
    return lines


def devices_table(devices: Sequence[Device]) -> list[str]:
    """Inputs, then outputs; the defaults are marked."""
    lines: list[str] = []
    for way in Way:
        lines.append(f"{way.value}s (* the default)")
        for device in devices:
            if device.channels(way):
                mark = "*" if device.is_default(way) else " "
                channels = f"{device.channels(way)} channel{'' if device.channels(way) == 1 else 's'}"
                lines.append(f"{mark}{device.index:4d}  {device.name}  {device.host_api}, {channels}")
        lines.append("")
    return [*lines, "choose by number or by a part of the name, with the channel after a colon: --device 3:2"]


def devices_document(devices: Sequence[Device]) -> dict[str, Any]:
    """Every device with its number, host API and channels."""
    return {"schema": "bluethird/devices/1", "devices": [asdict(device) for device in devices]}


def settings_table(chosen: Mapping[str, Chosen], path: Path) -> list[str]:
    """Every setting, its value, its origin and what it is."""
    lines = [f"settings file: {path}{'' if path.exists() else ' (none yet)'}", ""]
    for name, choice in chosen.items():
        value = (
            "–" if choice.value is None else f"{choice.value:g}" if isinstance(choice.value, float) else choice.value
        )
        lines.append(f"{name:10}{value!s:14}{choice.origin:15}{BY_NAME[name].variable:20}{BY_NAME[name].about}")
    return lines


def settings_document(chosen: Mapping[str, Chosen], path: Path) -> dict[str, Any]:
    """Every setting with its value and origin."""
    values = {name: {"value": choice.value, "origin": choice.origin} for name, choice in chosen.items()}
    return {"schema": "bluethird/settings/1", "file": str(path), "settings": values}
