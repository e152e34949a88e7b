"""What a line is played over: changes at a tempo, as chords in time and as swung eighths."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from guitar import RATE
from progressions.forms import load_form
from progressions.keys import parse_key
from progressions.timeline import Timeline, TimeMap

START_S = 0.6
FORMS = ("blues", "blues-quick-change", "blues-minor", "jazz-blues", "two-five-one")
KEYS = ("C", "D♭", "D", "E♭", "E", "F", "G♭", "G", "A♭", "A", "B♭", "B")


@dataclass(frozen=True, slots=True)
class Slot:
    """One swung eighth: its place, and what fits the chord that sounds there. Pitch classes count from C."""

    start_s: float
    length_s: float
    root: int
    chord: frozenset[int]
    scale: frozenset[int]


@dataclass(frozen=True, slots=True)
class Song:
    timeline: Timeline
    swing: float
    beat_s: float
    slots: tuple[Slot, ...]
    chords: tuple[tuple[float, float], ...]

    @property
    def beats(self) -> list[tuple[Slot, Slot]]:
        """The eighths two by two."""
        return list(zip(self.slots[::2], self.slots[1::2], strict=True))


def make_song(rng: np.random.Generator, tempo_bpm: float, seconds: float, forms: tuple[str, ...] = FORMS) -> Song:
    """Choruses of a form in some key that fill `seconds`."""
    beat_s = 60.0 / tempo_bpm
    chart = load_form(str(rng.choice(forms)), parse_key(str(rng.choice(KEYS))))
    swing = 1.0 if tempo_bpm > 150 else float(rng.choice([1.0, 1.5, 2.0]))
    beats = math.floor((seconds - START_S) / beat_s)
    choruses = math.ceil((beats + 1) / (len(chart.bars) * chart.meter.beats_per_bar))
    time_map = TimeMap.steady(RATE, tempo_bpm, first_sample=round(START_S * RATE))
    timeline = Timeline(chart, choruses, time_map)
    slots = []
    for beat in range(beats):
        span = timeline.span_at_beat(beat)
        assert span is not None
        assert span.chord.root is not None
        scale = frozenset(pc for pc in range(12) if span.chord.is_scale_tone(pc))
        facts = (span.chord.root.pitch_class, span.chord.pitch_classes, scale | span.chord.pitch_classes)
        start, off = START_S + beat * beat_s, beat_s * swing / (1 + swing)
        slots += [Slot(start, off, *facts), Slot(start + off, beat_s - off, *facts)]
    spans = [timeline.span_samples(span) for span in timeline.spans]
    chords = tuple((first / RATE, min(end / RATE, seconds)) for first, end in spans if first / RATE < seconds)
    return Song(timeline, swing, beat_s, tuple(slots), chords)


def step(
    rng: np.random.Generator, allowed: frozenset[int], here: int, low: int, high: int, reach: int = 7, least: int = 1
) -> int:
    """The next pitch of a line: one of the allowed pitch classes within reach of `here`, or the nearest there is."""
    pool = [midi for midi in range(low, high + 1) if midi % 12 in allowed and abs(midi - here) >= least]
    near = [midi for midi in pool if abs(midi - here) <= reach]
    return int(rng.choice(near)) if near else min(pool, key=lambda midi: abs(midi - here))
