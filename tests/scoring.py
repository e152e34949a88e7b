"""Heard notes against true ones: note F1 by mir_eval, and the share of true notes that were graded rightly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import mir_eval
import numpy as np

from listener.graded import Graded

ONSET_S = 0.05
PITCH_CENTS = 50.0


@dataclass(frozen=True, slots=True)
class Score:
    """`pairs` are (index of the true note, index of the heard one); both count pitched notes only."""

    true_notes: int
    heard_notes: int
    pairs: tuple[tuple[int, int], ...]

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall: twice the hits over both counts; 1.0 where both are silent."""
        both = self.true_notes + self.heard_notes
        return 2 * len(self.pairs) / both if both else 1.0


def score_notes(true: Sequence[tuple[float, float, float]], heard: Sequence[tuple[float, float, float]]) -> Score:
    """Match notes given as (onset in s, offset in s, MIDI): onset within 50 ms, pitch within 50 cents, offsets free."""
    if not true or not heard:
        return Score(len(true), len(heard), ())
    pairs = mir_eval.transcription.match_notes(
        *_intervals_and_hz(true), *_intervals_and_hz(heard), ONSET_S, PITCH_CENTS, offset_ratio=None
    )
    return Score(len(true), len(heard), tuple((int(a), int(b)) for a, b in pairs))


def match_onsets(
    true: Sequence[tuple[float, float, float]], heard: Sequence[tuple[float, float, float]]
) -> tuple[tuple[int, int], ...]:
    """Pairs of true and heard notes that begin within 50 ms of each other, whatever their pitch: as many as can be."""
    if not true or not heard:
        return ()
    spans = [_intervals_and_hz(side)[0] for side in (true, heard)]
    pairs = mir_eval.transcription.match_note_onsets(*spans, onset_tolerance=ONSET_S)
    return tuple((int(a), int(b)) for a, b in pairs)


def _intervals_and_hz(notes: Sequence[tuple[float, float, float]]) -> tuple[Any, Any]:
    intervals = np.array([(onset, max(offset, onset + 0.001)) for onset, offset, _ in notes])
    return intervals, 440.0 * 2 ** ((np.array([midi for _, _, midi in notes]) - 69) / 12)


def heard_note(graded: Graded, rate: int) -> tuple[float, float, float]:
    """Onset and offset in seconds, and MIDI, of a pitched note."""
    note = graded.note
    assert note.pitch_midi is not None
    assert note.offset_sample is not None
    return note.onset_sample / rate, note.offset_sample / rate, note.pitch_midi


def agreement(score: Score, true: Sequence[dict[str, Any]], heard: Sequence[Graded], fields: Sequence[str]) -> float:
    """The share of true notes whose heard note carries the same `fields` (a miss counts as wrong)."""
    return sum(not differences(true[a], heard[b], fields) for a, b in score.pairs) / max(1, len(true))


def differences(true: dict[str, Any], heard: Graded, fields: Sequence[str]) -> list[str]:
    """What the heard grade tells otherwise, as "field: true, heard"."""
    return [f"{name}: {true[name]}, {getattr(heard, name)}" for name in fields if getattr(heard, name) != true[name]]
