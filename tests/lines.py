"""Readable inline fixtures: changes as text and a line as a list of notes, made into what an ear would tell.

    graded = grade("| C7 | F7 |", [("E♭4", 0, 1), ("E4", 1, 1)])

A note is (pitch, beat, length in beats) and, where it matters, a dict of further fields of `Note`. Beats count on from
0, the first beat of chorus 1, so that beat 4 is bar 2 in four-four. A pitch is a name with its octave (C4 = MIDI 60)
and cents if any: "E♭4", "E♭4+19"; None is a dead note. At 60 bpm and 48 kHz a beat is a second.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from listener.events import EarEvent, Final, Gesture, Note, Opened, Revised, Watermark
from listener.graded import Graded, GradeEvent, GradeFinal
from listener.grading import Grader
from listener.rules import Rules
from progressions.chart import parse_chart
from progressions.pitch import parse_spelled
from progressions.timeline import Timeline, TimeMap

RATE = 48000
Line = Sequence[tuple[Any, ...]]

_PITCH = re.compile(r"([A-G][♯♭#b]*)(-?\d)([+-]\d+(?:\.\d+)?)?")


def midi(text: str) -> float:
    """MIDI number of "E♭4" or "E♭4+19" (cents)."""
    match = _PITCH.fullmatch(text)
    assert match is not None, text
    spelled = parse_spelled(match[1])
    letter = "C D EF G A B".index(spelled.letter)
    return 12.0 * (int(match[2]) + 1) + letter + spelled.accidental + float(match[3] or 0) / 100


def timeline(
    changes: str, *, tempo: float = 60, choruses: int = 1, rate: int = RATE, closing_bars: int = 2
) -> Timeline:
    """Changes in C, four-four, unless the text has headers of its own."""
    text = changes if "key:" in changes else f"key: C\n{changes}"
    chart = parse_chart(text if "title:" in text else f"title: test\n{text}")
    return Timeline(chart, choruses, TimeMap.steady(rate, tempo), closing_bars)


def notes(line: Line, over: Timeline) -> list[Note]:
    """The notes of a line, ids in the order given, from 1."""
    at = over.time_map.sample_at
    made = []
    for id, (pitch, beat, length, *more) in enumerate(line, start=1):
        fields: dict[str, Any] = {"gesture": Gesture.DEAD} if pitch is None else {}
        fields.update(*more)
        fields["gesture"] = Gesture(fields.get("gesture", "picked"))
        if isinstance(fields.get("from_midi"), str):
            fields["from_midi"] = midi(fields["from_midi"])
        pitch_midi = None if pitch is None else midi(pitch)
        made.append(Note(id, round(at(beat)), round(at(beat + length)), pitch_midi, **fields))
    return made


def heard(line: Line, over: Timeline) -> list[EarEvent]:
    """What an ear without latency tells of a line: each note opened while it sounds, ended, final, and the watermark
    up to the onset of whatever still sounds."""
    return tell(notes(line, over))


def tell(played: Iterable[Note]) -> list[EarEvent]:
    """The same, of notes; a note of the same sample is told in the order given."""
    played = list(played)
    moments = sorted({n.onset_sample for n in played} | {n.offset_sample or 0 for n in played})
    events: list[EarEvent] = []
    for now in moments:
        for note in played:
            if note.onset_sample == now:
                events.append(Opened(note.id, replace(note, offset_sample=None), now))
            if note.offset_sample == now:
                events += [Revised(note.id, note, now), Final(note.id, now)]
        sounding = [n.onset_sample for n in played if n.onset_sample <= now < (n.offset_sample or 0)]
        events.append(Watermark(min([now, *sounding])))
    return events


def grade_events(events: Iterable[EarEvent], over: Timeline, rules: Rules | None = None) -> list[GradeEvent]:
    """All that a grader tells of these events, the stream ending with the closing chord."""
    events = list(events)
    grader = Grader(over, rules or Rules(), over.time_map.rate_hz)
    end = round(over.time_map.sample_at(over.end_beat))
    told = grader.push(events, end)
    return told + grader.push([Watermark(end)], end) + grader.finish(end)


def finals(told: Iterable[GradeEvent]) -> list[Graded]:
    """The final grades, in the order of note ids."""
    return [e.graded for e in sorted((e for e in told if isinstance(e, GradeFinal)), key=lambda e: e.id)]


def grade(changes: str, line: Line, *, rules: Rules | None = None, **time: Any) -> list[Graded]:
    """Notes in, final grades out, in the order of the line."""
    over = timeline(changes, **time)
    return finals(grade_events(heard(line, over), over, rules))
