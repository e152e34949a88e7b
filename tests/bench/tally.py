"""The scoring rules: how heard notes count against the truth of a clip, and what is told of many clips together.

Counted as mir_eval matches notes, with onsets within 50 ms and pitches within 50 cents, offsets free:
- F1, precision and recall of the notes.
- agreement: the share of the true notes over chords whose heard note, matched in time alone where need be, has the
  right pitch class. A miss counts as wrong. It is the share of grades that a player would find right.
- octave, wrong: the share of true notes matched in time alone whose pitch lies octaves away, or elsewhere.
- extra: heard notes that match no true note even in time.
- dead: the share of dead notes at which a pitch was told.
A true note under 40 ms is neither right nor wrong, and neither is what is heard there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields
from typing import TypeVar

import numpy as np

from bench.clip import Clip, TrueNote
from bench.hearers import HeardNote
from scoring import match_onsets, score_notes

SHORT_S = 0.040
REACHED_CENTS = 25.0
ANY_MIDI = 60.0

_N = TypeVar("_N", TrueNote, HeardNote)


@dataclass(slots=True)
class Tally:
    """Counts that add up over clips, and lists of what is summed up as quantiles: seconds, and cents."""

    clips: int = 0
    seconds: float = 0.0
    true: int = 0
    heard: int = 0
    right: int = 0
    octave: int = 0
    wrong: int = 0
    extra: int = 0
    dead: int = 0
    dead_heard: int = 0
    over_chords: int = 0
    agree: int = 0
    bends: int = 0
    bends_reached: int = 0
    bends_begun: int = 0
    onset_s: list[float] = field(default_factory=list)
    told_s: list[float] = field(default_factory=list)
    cents: list[float] = field(default_factory=list)
    sure: list[tuple[float, bool, bool]] = field(default_factory=list)  # confidence, unsure, right

    def add(self, other: Tally) -> None:
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))


def score_clip(clip: Clip, heard: Sequence[HeardNote]) -> Tally:
    """The counts of one clip; `heard` in order of onset."""
    pitched = [note for note in clip.notes if note.midi is not None]
    scored = [note for note in pitched if note.offset_s - note.onset_s >= SHORT_S]
    short = [note for note in pitched if note.offset_s - note.onset_s < SHORT_S]
    dead = [note for note in clip.notes if note.midi is None]
    pairs = score_notes(_triples(scored), _triples(heard)).pairs
    missed = _without(scored, (a for a, _ in pairs))
    free = _without(heard, (b for _, b in pairs))
    forgiven = {b for _, b in score_notes(_triples(short), _triples(free)).pairs}

    tally = Tally(clips=1, seconds=clip.seconds, true=len(scored), right=len(pairs), dead=len(dead))
    tally.heard = len(heard) - len(forgiven)
    in_time = match_onsets(_triples(missed), _triples(free))
    same_class = [scored[a] for a, _ in pairs]
    for a, b in in_time:
        if _is_octave(free[b].midi - _midi(missed[a])):
            tally.octave += 1
            same_class.append(missed[a])
        else:
            tally.wrong += 1
    extra = _without(free, (b for _, b in in_time))
    tally.extra = len(extra) - len(match_onsets(_triples(short), _triples(extra)))
    tally.dead_heard = len(match_onsets(_triples(dead), _triples(extra)))
    tally.over_chords = sum(_is_graded(note, clip) for note in scored)
    tally.agree = sum(_is_graded(note, clip) for note in same_class)
    _measure(tally, [(scored[a], heard[b]) for a, b in pairs])
    tally.bends = sum(_is_bend(note) for note in scored)
    tally.sure += [(note.confidence, note.unsure, True) for _, b in pairs if (note := heard[b]).confidence is not None]
    tally.sure += [
        (note.confidence, note.unsure, False)
        for index, note in enumerate(free)
        if index not in forgiven and note.confidence is not None
    ]
    return tally


def _measure(tally: Tally, pairs: Iterable[tuple[TrueNote, HeardNote]]) -> None:
    """Onsets, delays, cents and bends of the notes that were heard rightly."""
    for true, heard in pairs:
        cents = 100 * (heard.midi - _midi(true))
        tally.onset_s.append(heard.onset_s - true.onset_s)
        tally.cents.append(abs(cents))
        if heard.told_s is not None and true.start_midi is None:  # a bend is told once it has got there
            tally.told_s.append(heard.told_s - true.onset_s)
        if _is_bend(true):
            assert true.start_midi is not None
            tally.bends_reached += abs(cents) <= REACHED_CENTS
            tally.bends_begun += heard.from_midi is not None and abs(heard.from_midi - true.start_midi) <= 0.5


def _triples(notes: Sequence[TrueNote] | Sequence[HeardNote]) -> list[tuple[float, float, float]]:
    return [(note.onset_s, note.offset_s, ANY_MIDI if note.midi is None else note.midi) for note in notes]


def _without(notes: Sequence[_N], taken: Iterable[int]) -> list[_N]:
    gone = set(taken)
    return [note for index, note in enumerate(notes) if index not in gone]


def _midi(note: TrueNote) -> float:
    assert note.midi is not None
    return note.midi


def _is_octave(semitones: float) -> bool:
    return abs(semitones) > 6 and abs(semitones - 12 * round(semitones / 12)) <= 0.5


def _is_graded(note: TrueNote, clip: Clip) -> bool:
    return clip.chords is None or any(start <= note.onset_s < end for start, end in clip.chords)


def _is_bend(note: TrueNote) -> bool:
    """Begun with the pick at one pitch and bent to another."""
    return note.kind == "bend" and not note.slurred and note.start_midi is not None


def measures(tally: Tally) -> dict[str, float | int | None]:
    """What is told of a tally: shares in per cent, times in ms; None where there is nothing to tell it of."""

    def share(part: float, whole: float, times: float = 100.0) -> float | None:
        return round(times * part / whole, 3) if whole else None

    def quantile(values: Sequence[float], q: float, times: float) -> float | None:
        return round(float(np.percentile(values, q)) * times, 3) if values else None

    early, late = quantile(tally.onset_s, 25, 1000), quantile(tally.onset_s, 75, 1000)
    return {
        "clips": tally.clips,
        "seconds": round(tally.seconds, 3),
        "notes": tally.true,
        "f1": share(2 * tally.right, tally.true + tally.heard),
        "precision": share(tally.right, tally.heard),
        "recall": share(tally.right, tally.true),
        "agreement": share(tally.agree, tally.over_chords),
        "octave_errors": share(tally.octave, tally.true),
        "wrong_pitches": share(tally.wrong, tally.true),
        "extra_per_minute": share(tally.extra, tally.seconds, 60.0),
        "dead_notes": tally.dead,
        "dead_told_a_pitch": share(tally.dead_heard, tally.dead),
        "onset_bias_ms": quantile(tally.onset_s, 50, 1000),
        "onset_spread_ms": None if early is None or late is None else round(late - early, 3),
        "told_ms_median": quantile(tally.told_s, 50, 1000),
        "told_ms_95": quantile(tally.told_s, 95, 1000),
        "cents_median": quantile(tally.cents, 50, 1),
        "cents_95": quantile(tally.cents, 95, 1),
        "bends": tally.bends,
        "bends_reached": share(tally.bends_reached, tally.bends),
        "bends_with_their_start": share(tally.bends_begun, tally.bends),
    }
