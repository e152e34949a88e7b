"""Fit: how much better a line fits its own chords than the other chords of the form, and whether it lost its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

from listener.measures.intervals import mean, mean_error
from listener.measures.line import Played
from progressions.timeline import Span, Timeline

LOST_PLACE_BARS = (-1, 1, -2, 2)  # the nearer shift first: it wins where two fit alike
LOST_PLACE_NOTES = 8  # notes that tell the two places apart, at least
LOST_PLACE_Z = 3.0  # how surely the shifted place must fit better (one-sided 0.1 %)


@dataclass(frozen=True, slots=True)
class Fit:
    """`difference` is the share of notes in the chord of the moment less their mean share in the form's others."""

    difference: float | None
    error: float | None


def chord_weights(spans: Sequence[Span]) -> dict[frozenset[int], Fraction]:
    """How many beats each pitch-class set of the form lasts; N.C. is none of them."""
    weights: dict[frozenset[int], Fraction] = {}
    for span in spans:
        if not span.chord.is_no_chord and not span.closing:
            own = span.chord.pitch_classes
            weights[own] = weights.get(own, Fraction(0)) + span.end_beat - span.start_beat
    return weights


def fit(notes: Sequence[Played], timeline: Timeline, weights: dict[frozenset[int], Fraction]) -> Fit:
    """The fit of scored notes, each with its own difference; the mean of them, and its standard error.

    For every note: 1 or 0 for the chord that it is graded in, less the share of the form's other chords, weighted by
    how long they last, that hold its pitch class. The error is that of a mean of independent notes: notes of a line
    lean on each other, so the true one is somewhat larger. Chords are taken by their own tones whatever the player
    counts as a chord tone, so that fits stay comparable. Without another chord in the form there is no fit.
    """
    differences = []
    for note in notes:
        if note.graded.span is None:
            continue
        own = timeline.spans[note.graded.span].chord.pitch_classes
        others = {chord: beats for chord, beats in weights.items() if chord != own}
        if own and others:
            elsewhere = sum(beats for chord, beats in others.items() if note.pitch_class in chord)
            differences.append((note.pitch_class in own) - float(elsewhere / sum(others.values())))
    return Fit(mean(differences), mean_error(differences))


def lost_place(notes: Sequence[Played], timeline: Timeline, chorus: int) -> int | None:
    """By how many bars the line runs ahead of the chart (negative: behind), or None where it keeps its place.

    Only notes that tell two places apart speak: in the chord here and not in the one there, or the reverse. A shift is
    told when at least `LOST_PLACE_NOTES` speak and the there exceeds the here by `LOST_PLACE_Z` standard deviations of
    a fair coin (a sign test). The form is taken as a loop.
    """
    best: tuple[float, int] | None = None
    for bars in LOST_PLACE_BARS:
        here = there = 0
        for note in notes:
            if note.graded.span is None:
                continue
            own = timeline.spans[note.graded.span]
            middle = max(Fraction(note.onset_beat), own.written_beat)  # an early or pushed note stands on the change
            other = timeline.span_at_beat(timeline.bars_away(middle, bars))
            if other is None or own.chord.is_no_chord or other.chord.is_no_chord:
                continue
            in_own = note.pitch_class in own.chord.pitch_classes
            in_other = note.pitch_class in other.chord.pitch_classes
            here, there = here + (in_own and not in_other), there + (in_other and not in_own)
        if here + there >= LOST_PLACE_NOTES:
            z = (there - here) / sqrt(here + there)
            if z >= LOST_PLACE_Z and (best is None or z > best[0]):
                best = (z, bars)
    return best[1] if best else None
