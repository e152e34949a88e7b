"""A real solo, annotated by hand: its notes, and the grades over its chart. For measuring alone, never for tuning."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import soundfile as sf

from bench.clip import Clip, TrueNote
from bench.hearers import HeardNote, Hearer
from bench.tally import measures, score_clip
from lines import finals, grade_events, tell
from listener.events import Note
from listener.graded import Graded
from listener.plan import Plan
from listener.prelude import LISTENED_S
from listener.rules import Rules
from listener.tuning import estimate_offset
from progressions.chart import parse_chart
from scoring import score_notes
from test_real_solo import SEVENTHS, SINGLE_LINE_S, TEMPO, TRIADS, annotated

FOLDER = "real_blues_solo"
SWING = 1.5
Row = dict[str, float | int | None]


def measure_solo(folder: Path, hearers: Sequence[Hearer]) -> dict[str, dict[str, Row]]:
    """By hearer: the measures of all its notes and of the part that is a single line.

    `grades` is the share of annotated notes found with the same chord, function and grade, in per cent: the lower of
    its two charts, triads and sevenths. A miss counts as wrong.
    """
    samples, rate = sf.read(folder / "solo.flac", dtype="float32", always_2d=True)
    truth = json.loads((folder / "solo_notes.json").read_text(encoding="utf-8"))["notes"]
    notes = tuple(TrueNote(n["onset"], n["onset"] + n["dur"], n["midi"]) for n in truth)
    whole = Clip("solo", "real solo", "real", rate, samples.mean(axis=1), notes)
    rows: dict[str, dict[str, Row]] = {}
    for hearer in hearers:
        heard = hearer.hear(whole.samples, rate)
        heard.sort(key=lambda note: note.onset_s)
        rows[hearer.name] = {
            name: _row(folder, whole, heard, span)
            for name, span in (("all", (0.0, whole.seconds)), ("single line", SINGLE_LINE_S))
        }
    return rows


def _row(folder: Path, whole: Clip, heard: Sequence[HeardNote], span: tuple[float, float]) -> Row:
    start, end = span
    first, last = round(start * whole.rate), round(end * whole.rate)
    part = replace(
        whole,
        samples=whole.samples[first:last],
        notes=tuple(note for note in whole.notes if start <= note.onset_s < end),
    )
    row = measures(score_clip(part, [note for note in heard if start <= note.onset_s < end]))
    grades = []
    for chart in (TRIADS, SEVENTHS):
        plan = Plan(parse_chart(chart), TEMPO, SWING, 1, 440.0, Rules())
        true, told = annotated(folder, whole.rate, plan), _graded(heard, whole.rate, plan)
        true, told = ([g for g in side if first <= g.note.onset_sample < last] for side in (true, told))
        grades.append(_agreement(true, told, whole.rate))
    return {**row, "grades": round(100 * min(grades), 3)}


def _graded(heard: Sequence[HeardNote], rate: int, plan: Plan) -> list[Graded]:
    """Heard notes through the grader, against the tuning that they tell in the time in which a sitting asks for it."""
    raw = [_note(number, one, rate) for number, one in enumerate(heard, start=1)]
    offset = (estimate_offset(n for n in raw if n.onset_sample < LISTENED_S * rate) or 0.0) / 100
    tuned = [replace(n, pitch_midi=(n.pitch_midi or 0.0) - offset) for n in raw]
    return finals(grade_events(tell(tuned), plan.timeline(rate, 0), plan.rules))


def _note(number: int, heard: HeardNote, rate: int) -> Note:
    if heard.note is not None:
        return heard.note
    onset = round(heard.onset_s * rate)
    return Note(number, onset, max(onset + 1, round(heard.offset_s * rate)), heard.midi)


def _agreement(true: Sequence[Graded], heard: Sequence[Graded], rate: int) -> float:
    sides = [
        [(g.note.onset_sample / rate, (g.note.offset_sample or 0) / rate, g.note.pitch_midi or 0.0) for g in side]
        for side in (true, heard)
    ]
    pairs = [(true[a], heard[b]) for a, b in score_notes(*sides).pairs]
    same = sum((a.chord, a.function, a.grade) == (b.chord, b.function, b.grade) for a, b in pairs)
    return same / max(1, len(true))
