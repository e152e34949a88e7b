"""Functions used over each chord and never used, and what became of the thirds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from listener.graded import Graded
from listener.measures.line import Played
from progressions.timeline import Span


@dataclass(frozen=True, slots=True)
class Thirds:
    """♭3s over chords with a major third: how many were played, rose into the 3, and where the others went."""

    played: int
    resolved: int
    left: tuple[tuple[str, int], ...]


def functions_used(notes: Sequence[Played]) -> tuple[tuple[str, str, int], ...]:
    """(chord symbol, function, notes), chords in order of appearance, the most played function first."""
    counts: Counter[tuple[str, str]] = Counter()
    for note in notes:
        graded = note.graded
        if note.scored and graded.chord is not None and graded.function is not None:
            counts[graded.chord, graded.function] += 1
    chords = list(dict.fromkeys(chord for chord, _ in counts))
    ordered = sorted(counts.items(), key=lambda item: (chords.index(item[0][0]), -item[1]))
    return tuple((chord, function, count) for (chord, function), count in ordered)


def functions_unused(spans: Sequence[Span], used: Sequence[tuple[str, str, int]]) -> tuple[tuple[str, str], ...]:
    """(chord symbol, function) of every chord tone that no note played while its chord came up."""
    played = {(chord, function) for chord, function, _ in used}
    missing: dict[tuple[str, str], None] = {}
    for span in spans:
        for tone in span.chord.tones:
            if (span.chord.symbol, tone.function) not in played:
                missing[span.chord.symbol, tone.function] = None
    return tuple(missing)


def thirds(graded: Sequence[Graded]) -> Thirds:
    """Thirds played, resolved and left, whichever grade the notes carry."""
    told = [note for note in graded if note.third is not None]
    left = Counter(note.left for note in told if not note.third and note.left is not None)
    return Thirds(len(told), sum(note.third is True for note in told), tuple(left.most_common()))
