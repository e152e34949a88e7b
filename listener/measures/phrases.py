"""Phrases and silence: where the line breathes."""

from __future__ import annotations

from collections.abc import Sequence

from listener.graded import Graded
from listener.measures.line import Played
from progressions.timeline import Timeline

REST_BEATS = 1.0  # a rest of a beat or more ends a phrase
REST_S = 0.3  # and never a shorter one, so that a fast tempo does not cut a line at every breath


def phrases(
    notes: Sequence[Played], timeline: Timeline, chorus: int, end_beat: float, rate: int
) -> tuple[tuple[float, int, float], ...]:
    """The phrases that start in a chorus: (start beat in its bar, bar, length in beats).

    `notes` are those of the whole sitting in order of onset. A phrase goes from its first onset to the end of its last
    note; one that runs on into the next chorus is cut at `end_beat`, so that nothing yet to come changes it. One that
    begins before the first chorus and runs into it is the first chorus's, in bar 0 or earlier.
    """
    start_beat = float(timeline.chorus_beats(chorus)[0])
    found: list[tuple[float, float]] = []
    sounded_until = float("-inf")
    for note in notes:
        if note.onset_beat >= end_beat:
            break
        seconds_per_beat = float(timeline.time_map.samples_per_beat_at(note.onset_beat)) / rate
        rest = note.onset_beat - sounded_until
        starts = rest >= max(REST_BEATS, REST_S / seconds_per_beat)
        sounded_until = max(sounded_until, min(note.end_beat, end_beat))
        if starts:
            found.append((note.onset_beat, sounded_until))
        elif found:
            found[-1] = (found[-1][0], sounded_until)
    placed = []
    for first, last in found:
        if first >= start_beat or (chorus == 1 and last > start_beat):
            bar, beat = timeline.bar_and_beat(first)
            placed.append((beat, bar, last - first))
    return tuple(placed)


def silence_share(graded: Sequence[Graded], start_sample: float, end_sample: float) -> float:
    """The share of the samples from `start_sample` to `end_sample` in which no pitch sounds (0 to 1)."""
    if end_sample <= start_sample:
        return 1.0
    sounding, until = 0.0, start_sample
    for graded_note in sorted(graded, key=lambda g: g.note.onset_sample):
        note = graded_note.note
        if note.pitch_midi is None:
            continue
        first = max(until, float(note.onset_sample))
        last = end_sample if note.offset_sample is None else min(end_sample, float(note.offset_sample))
        if last > first:
            sounding, until = sounding + last - first, last
    return 1.0 - sounding / (end_sample - start_sample)
