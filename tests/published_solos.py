"""Reads the transcribed solos of the folder named by BLUETHIRD_DATA: a timeline and a line for each.

The database writes chords in a dialect of its own (Ebj7911#, Bo, A7913b, C-7); the table below says what they mean.
Beats are the annotated ones, so the tempo is not steady: every beat has a step of its own in the time map. A solo is
one chorus here; beats before the first annotated one of its first bar are N.C.
"""

from __future__ import annotations

import csv
import gzip
import os
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import groupby, pairwise
from pathlib import Path

import pytest

from lines import finals, grade_events, tell
from listener.events import Note
from listener.graded import Graded
from listener.rules import Rules
from progressions.chart import Bar, Chart, ChartChord, Meter, parse_key
from progressions.chords import parse_chord
from progressions.timeline import Timeline
from progressions.timemap import Segment, TimeMap

RATE = 10_000  # the database tells time to a tenth of a millisecond
QUALITIES = {
    "": "", "7": "7", "-": "m", "-7": "m7", "m7b5": "m7♭5", "o": "°7", "+7": "7♯5", "79": "9", "79b": "7♭9",
    "79#": "7♯9", "7913b": "9♭13", "sus7913": "13sus4", "j7911#": "maj9♯11",
}  # fmt: skip
DOMINANT = "7"
# The database's classes of a note over its chord, and the degrees that say the same.
CLASSES = {
    "1": {"R"},
    "2": {"9"},
    "3": {"3", "♭3"},  # the third of the chord's own scale
    "4": {"4", "11"},
    "5": {"5"},
    "6": {"6", "13"},
    "7": {"7", "♭7"},
    "-": {"♭9"},
    "B": {"♯9", "♭3"},
    ">": {"3"},
    "T": {"♭5", "♯4", "♯11"},
    "%": {"♭6", "♭13"},
    "<": {"♭7"},
    "L": {"7"},
}


@dataclass(frozen=True, slots=True)
class Heard:
    """A note of the database with its grade: `chordal_pc` semitones above the root, `degree` the database's class."""

    solo: int
    chord: str
    chordal_pc: int
    degree: str
    graded: Graded


def quality_of(symbol: str) -> str:
    return re.sub("^[A-G][b#]?", "", symbol)


def translated(symbol: str) -> str:
    if symbol == "NC":
        return "N.C."
    quality = quality_of(symbol)
    return symbol.removesuffix(quality) + QUALITIES[quality]


def data_folder() -> Path:
    folder = os.environ.get("BLUETHIRD_DATA")
    if not folder:
        pytest.skip("BLUETHIRD_DATA names no folder of outside data")
    return Path(folder) / "symbolic_blues"


def _rows(name: str) -> list[dict[str, str]]:
    with gzip.open(data_folder() / name, "rt", encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def chord_rows() -> list[tuple[str, int, str]]:
    """Every note as the database's chord symbol, its semitones above the root and its class; -1 over no chord."""
    return [(row["chord"], int(float(row["chordal_pc"] or -1)), row["chordal_class"]) for row in _rows("notes.csv.gz")]


def _samples(seconds: str) -> int:
    return round(float(seconds) * RATE)


def _timeline(beats: list[dict[str, str]]) -> Timeline:
    missing = int(beats[0]["beat"]) - 1
    symbols = ["NC"] * missing + [row["chord"] for row in beats]
    symbols += [symbols[-1]] * (-len(symbols) % 4)
    bars = []
    for start in range(0, len(symbols), 4):
        chords, at = [], 0
        for symbol, same in groupby(symbols[start : start + 4]):
            length = len(list(same))
            chords.append(ChartChord(Fraction(at), Fraction(length), parse_chord(translated(symbol))))
            at += length
        bars.append(Bar(tuple(chords)))
    chart = Chart("solo", parse_key("C"), Meter(4, 4), None, None, tuple(bars))
    onsets = [_samples(row["onset_s"]) for row in beats]
    slopes = [b - a for a, b in pairwise(onsets)]
    segments = [
        Segment(Fraction(i + missing), Fraction(onset), Fraction(slope))
        for i, (onset, slope) in enumerate(zip(onsets[:-1], slopes, strict=True))
    ]
    return Timeline(chart, 1, TimeMap(RATE, tuple(segments)))


@cache
def graded_solos(rules: Rules) -> tuple[tuple[Timeline, tuple[Heard, ...]], ...]:
    """Every solo with its notes graded, in order of onset."""
    all_notes, all_beats = _rows("notes.csv.gz"), _rows("beats.csv.gz")
    solos = []
    for number in sorted({int(row["solo"]) for row in all_notes}):
        rows = [row for row in all_notes if int(row["solo"]) == number]
        over = _timeline([row for row in all_beats if int(row["solo"]) == number])
        line = [
            Note(
                id=i,
                onset_sample=_samples(row["onset_s"]),
                offset_sample=_samples(row["onset_s"]) + max(1, _samples(row["duration_s"])),
                pitch_midi=float(row["midi"]),
            )
            for i, row in enumerate(rows)
        ]
        grades = finals(grade_events(tell(line), over, rules))
        heard = tuple(
            Heard(number, row["chord"], int(float(row["chordal_pc"])), row["chordal_class"], graded)
            for row, graded in zip(rows, grades, strict=True)
        )
        solos.append((over, heard))
    return tuple(solos)
