"""Lines as tables: a row says bar, beat, pitch, length and gesture; from it come the sound and the exact truth.

A table row reads `bar beat pitch length gesture marks`, for example `3 2& C♯4 0.6 slide`:
- beat: 1 to 4, with & for the swung off-beat; a decimal (2.33) is taken as it stands.
- length: in beats, until the note is damped; a following slurred row ends it earlier.
- gesture: picked; hammer, pull, slide, bend, release (slurred out of the row before, without a pick attack);
  bend<PITCH, slide<PITCH (begun with the pick at PITCH: one note that carries `from`); curl; vibrato; dead.
- marks: resolves (a flat third that rises to its third); again (the same, but struck once more before it does, so that
  the next one is counted); left:R, left:9, left:4, left:stays, left:? (one that does not, ? where it leaps away);
  push (belongs to the next bar's chord), early=MS (played MS milliseconds before the beat written),
  before=MS (the same, but it stays with the chord that sounds at its onset).

Over a dominant seventh: R, 3, 5 and flat 7 are chord tones; a flat third that resolves is a third approach; everything
else, a flat third that is left included, is outside. All chords of these takes are dominant sevenths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from guitar import RATE, Floats, Guitar, Move, Pluck, Vibrato, arrival_s

FUNCTIONS = ("R", "♭9", "9", "♭3", "3", "4", "♯4", "5", "♭13", "13", "♭7", "7")
CHORD_TONES = ("R", "3", "5", "♭7")
PITCH_CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
JOINED = ("hammer", "pull", "slide", "bend", "release")
CURL_CENTS = 60
LAID_BACK_S = (0.010, 0.020)  # every note on the grid is this much late, so that none stands on a change by a hair


@dataclass(frozen=True, slots=True)
class Row:
    """One note of a line. `beat` counts from 1 and is exact; `early_ms` is how far before it the note is played."""

    bar: int
    beat: float
    midi: int
    length: float
    gesture: str = "picked"
    from_midi: int | None = None
    resolves: bool = False
    again: bool = False
    left: str | None = None
    push: bool = False
    early_ms: float = 0.0
    early: bool = False

    @property
    def is_joined(self) -> bool:
        """Slurred out of the row before, without a pick attack of its own."""
        return self.gesture in JOINED and self.from_midi is None


@dataclass(frozen=True, slots=True)
class Take:
    """A line over changes. `start_s` is the first beat; `chords` has one dominant seventh a bar."""

    name: str
    title: str
    guitar: str
    key: str
    tempo_bpm: float
    swing: float
    start_s: float
    chords: tuple[str, ...]
    rows: tuple[Row, ...] = field(repr=False)
    tail_s: float = 1.0

    @property
    def beat_s(self) -> float:
        return 60.0 / self.tempo_bpm

    def time_s(self, bar: int, beat: float) -> float:
        return self.start_s + (4 * (bar - 1) + beat - 1) * self.beat_s

    def chord_of(self, row: Row) -> str:
        """The chord that the row is graded in; after the last bar the first chord sounds on."""
        bar = row.bar + (1 if row.push else -1 if row.early_ms and not row.early else 0)
        return self.chords[bar - 1] if bar <= len(self.chords) else self.chords[0]

    def chart(self) -> str:
        head = f"title: {self.title}\nkey: {self.key}\nmeter: 4/4\ntempo: {self.tempo_bpm:g}\nswing: {self.swing:g}\n"
        lines = [self.chords[i : i + 4] for i in range(0, len(self.chords), 4)]
        return head + "".join("| " + " | ".join(line) + " |\n" for line in lines)


def read_rows(table: str, swing: float) -> tuple[Row, ...]:
    """Rows from a table as described at the head of this file."""
    rows = []
    for line in table.strip().splitlines():
        words = line.split()
        if not words or words[0].startswith("#"):
            continue
        bar, beat, pitch, length = words[:4]
        gesture, _, start = (words[4] if len(words) > 4 else "picked").partition("<")
        begun = midi_of(start) if start else None
        row = Row(int(bar), _beat(beat, swing), midi_of(pitch), float(length), gesture, begun)
        for mark in words[5:]:
            name, _, value = mark.partition("=")
            if mark in ("resolves", "again"):
                row = replace(row, resolves=True, again=mark == "again")
            elif mark == "push":
                row = replace(row, push=True)
            elif mark.startswith("left:"):
                row = replace(row, left=mark[5:])
            elif name in ("early", "before"):
                row = replace(row, early_ms=float(value), early=name == "early")
            else:
                raise ValueError(f"unknown mark {mark!r} in {line!r}")
        rows.append(row)
    return tuple(rows)


def midi_of(name: str) -> int:
    """C4 is 60."""
    shift = name.count("♯") - name.count("♭")
    return PITCH_CLASSES[name[0]] + shift + 12 * (int(name[-1]) + 1)


def root_of(symbol: str) -> int:
    """The pitch class of a dominant seventh's root."""
    return (PITCH_CLASSES[symbol[0]] + symbol.count("♯") - symbol.count("♭")) % 12


def _beat(text: str, swing: float) -> float:
    if text.endswith("&"):
        return int(text[:-1]) + swing / (1 + swing)
    return float(text)


def perform(take: Take, guitar: Guitar, seed: int) -> tuple[Floats, list[dict[str, Any]]]:
    """Play the take: mono sound at RATE, and its notes in order of onset."""
    rng = np.random.default_rng([seed, *take.name.encode()])
    plucks: list[tuple[Pluck, list[Row]]] = []
    dead: list[tuple[float, Row]] = []
    for row in take.rows:
        late = -row.early_ms / 1000 if row.early_ms else rng.uniform(*LAID_BACK_S)
        onset = take.time_s(row.bar, row.beat) + late
        end = take.time_s(row.bar, row.beat + row.length)
        if row.gesture == "dead":
            dead.append((onset, row))
        elif row.is_joined:
            pluck, joined = plucks[-1]
            plucks[-1] = (_slur(pluck, row, onset, end, rng), [*joined, row])
        else:
            plucks.append((_pick(row, onset, end, take.beat_s, rng), [row]))
    starts = sorted([pluck.onset_s for pluck, _ in plucks] + [onset for onset, _ in dead])
    plucks = [(_damped(pluck, starts), rows) for pluck, rows in plucks]
    out = np.zeros(round((max(pluck.onset_s + pluck.duration_s for pluck, _ in plucks) + take.tail_s) * RATE))
    notes: list[dict[str, Any]] = []
    for pluck, rows in plucks:
        guitar.play(pluck, out)
        notes += _truth(take, pluck, rows)
    for onset, row in dead:
        guitar.thud(onset, rng, out)
        notes.append(_note(take, row, onset, onset + 0.05, None))
    return out, sorted(notes, key=lambda note: note["onset_s"])


def _pick(row: Row, onset: float, end: float, beat_s: float, rng: np.random.Generator) -> Pluck:
    level = float(rng.uniform(-1.5, 1.5))
    pluck = Pluck(onset, end - onset, float(row.midi), level_db=level)
    if row.from_midi is not None:  # begun with the pick: one note, that never stood where it began
        held = float(rng.uniform(0.010, 0.020))
        if row.gesture == "bend":
            move = Move(held, float(row.midi), float(rng.uniform(0.18, 0.22)) * beat_s)
        else:
            move = Move(held, float(row.midi), 0.018 * abs(row.midi - row.from_midi), "frets")
        return replace(pluck, midi=float(row.from_midi), moves=(move,))
    if row.gesture == "curl":  # stands for the most part of the note, and is up for the last quarter
        rise = Move(0.60 * pluck.duration_s, row.midi + CURL_CENTS / 100, 0.13 * pluck.duration_s)
        return replace(pluck, moves=(rise,))
    if row.gesture == "vibrato":
        return replace(pluck, vibrato=Vibrato(float(rng.uniform(4.8, 6.2)), float(rng.uniform(24, 34)), 0.08))
    return pluck


def _slur(pluck: Pluck, row: Row, onset: float, end: float, rng: np.random.Generator) -> Pluck:
    """Let `pluck` go on to the row's pitch, arriving at `onset` or a little after."""
    here = pluck.moves[-1].to_midi if pluck.moves else pluck.midi
    if row.gesture in ("hammer", "pull"):
        glide, shape = 0.006, "smooth"
    elif row.gesture == "slide":
        glide, shape = 0.025 * max(1, abs(row.midi - here)), "frets" if abs(row.midi - here) > 1 else "smooth"
    else:
        glide, shape = float(rng.uniform(0.080, 0.110)), "smooth"
    move = Move(onset - pluck.onset_s - glide / 2, float(row.midi), glide, shape)
    return replace(pluck, moves=(*pluck.moves, move), duration_s=end - pluck.onset_s)


def _damped(pluck: Pluck, starts: Sequence[float]) -> Pluck:
    """The finger lifts before the next attack, or damps the string more slowly where a rest follows."""
    end = pluck.onset_s + pluck.duration_s
    following = next((start for start in starts if start > pluck.onset_s), None)
    if following is None or end < following - 0.08:
        return replace(pluck, damp_s=0.050)
    damp = 0.014
    return replace(pluck, duration_s=min(pluck.duration_s, following - 0.006 - damp - pluck.onset_s), damp_s=damp)


def _truth(take: Take, pluck: Pluck, rows: Sequence[Row]) -> list[dict[str, Any]]:
    arrivals = [arrival_s(pluck, index) for index in range(len(pluck.moves))]
    slurred = arrivals[-(len(rows) - 1) :] if len(rows) > 1 else []
    onsets = [pluck.onset_s, *slurred]
    ends = [*slurred, pluck.onset_s + pluck.duration_s + pluck.damp_s / 2]
    notes = []
    for row, onset, end in zip(rows, onsets, ends, strict=True):
        settled = float(row.midi)
        if pluck.vibrato is not None and row.gesture == "vibrato":
            settled += pluck.vibrato.depth_cents / 200  # the median of a raised cosine is half its height
        notes.append(_note(take, row, onset, end, settled))
    return notes


def _note(take: Take, row: Row, onset: float, end: float, settled: float | None) -> dict[str, Any]:
    beats = (onset - take.start_s) / take.beat_s
    chord = take.chord_of(row)
    function = FUNCTIONS[(row.midi - root_of(chord)) % 12] if settled is not None else None
    flat_third = function == "♭3"
    if function is None:
        grade = None
    elif function in CHORD_TONES:
        grade = "chord_tone"
    else:
        grade = "third_approach" if row.resolves else "outside"
    if flat_third != (row.resolves or row.left is not None):
        raise ValueError(f"{take.name}: {row} is {function} of {chord}, its marks say otherwise")
    into_third = function == "3" and row.gesture == "bend" and row.from_midi == row.midi - 1
    return {
        "onset_s": round(onset, 5),
        "offset_s": round(end, 5),
        "midi": None if settled is None else round(settled, 3),
        "from_midi": None if row.from_midi is None else float(row.from_midi),
        "gesture": {"hammer": "slurred", "pull": "slurred"}.get(row.gesture, row.gesture),
        "rise_cents": CURL_CENTS if row.gesture == "curl" else 0,
        "slurred": row.is_joined,
        "bar": int(beats // 4) + 1,
        "beat": round(beats % 4 + 1, 4),
        "chord": chord,
        "function": function,
        "grade": grade,
        "resolved": row.resolves if flat_third else True if into_third else None,
        "third": None if row.again else row.resolves if flat_third else True if into_third else None,
        "left": None if row.left == "?" else row.left,
        "pushed": row.push,
        "early": row.early,
    }
