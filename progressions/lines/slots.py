"""Where the notes of a line can begin: the slots of a rhythm over the changes, chord by chord.

Each chord starts with a slot of its own, also where it is pushed off the grid; a slot of the grid that would stand
closer than half a step to that gives way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from progressions.bars import Meter
from progressions.lines.line import notes_a_whole
from progressions.timeline import PlacedBar, Span, Timeline


@dataclass(frozen=True, slots=True)
class Slot:
    """Where a note can begin, and how long it is to the next slot; `bar` is an index among the line's bars."""

    beat: Fraction
    duration: Fraction
    bar: int

    @property
    def end_beat(self) -> Fraction:
        return self.beat + self.duration


@dataclass(frozen=True, slots=True)
class Passage:
    """A chord as it comes up, with its slots. The closing chord has one."""

    span: Span
    slots: tuple[Slot, ...]

    @property
    def end_beat(self) -> Fraction:
        return self.slots[-1].end_beat

    def by_bar(self) -> list[list[Slot]]:
        """The slots bar by bar."""
        return [list(group) for _, group in groupby(self.slots, key=lambda slot: slot.bar)]


def step_beats(meter: Meter, rhythm: str) -> Fraction:
    """The length in beats of a note of the rhythm: an eighth is half a beat in 4/4, a third of one in 12/8."""
    beat_of_a_whole = Fraction(3, 8) if meter.is_compound else Fraction(1, meter.denominator)
    return Fraction(1, notes_a_whole(rhythm)) / beat_of_a_whole


def passages(timeline: Timeline, rhythm: str) -> tuple[Passage, ...]:
    """Every chord with its slots, the closing chord with one that lasts a bar. A push before beat 0 starts there."""
    spans = timeline.spans
    starts = [max(span.start_beat, Fraction(0)) for span in spans]
    form = [bar for bar in timeline.bars if bar.start_beat < _form_end(timeline)]
    beats = _onsets(form, [start for start, span in zip(starts, spans, strict=True) if not span.closing], rhythm)
    ends = [*beats[1:], _form_end(timeline)]
    found, at = [], 0
    for span, end in zip(spans, [*starts[1:], timeline.end_beat], strict=True):
        if span.closing:
            length = Fraction(timeline.bar_at_beat(span.start_beat).meter.beats_per_bar)
            found.append(Passage(span, (Slot(span.start_beat, length, len(form)),)))
            continue
        slots = []
        while at < len(beats) and beats[at] < end:
            bar = next(n for n in range(len(form) - 1, -1, -1) if form[n].start_beat <= beats[at])
            slots.append(Slot(beats[at], ends[at] - beats[at], bar))
            at += 1
        if slots:
            found.append(Passage(span, tuple(slots)))
    return tuple(found)


def _form_end(timeline: Timeline) -> Fraction:
    closing = next((span for span in timeline.spans if span.closing), None)
    return timeline.end_beat if closing is None else max(closing.start_beat, Fraction(0))


def _onsets(bars: Sequence[PlacedBar], starts: Sequence[Fraction], rhythm: str) -> list[Fraction]:
    """The grid of each bar with the starts of chords put in."""
    onsets: set[Fraction] = set(starts)
    for bar in bars:
        step, beat = step_beats(bar.meter, rhythm), bar.start_beat
        near = [start for start in starts if bar.start_beat - step < start < bar.end_beat + step]
        while beat < bar.end_beat:
            if all(abs(start - beat) >= step / 2 for start in near if start != beat):
                onsets.add(beat)
            beat += step
    return sorted(onsets)
