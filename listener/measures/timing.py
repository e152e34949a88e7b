"""Timing against the grid: where the onsets lie, how widely they spread, and the swing ratio.

Check values: downbeats of soloists lie about 30 ms behind at 150 bpm (Nelias et al., Communications Physics 2022);
ratios of the ride cymbal run from 3.5:1 slow to 1:1 fast (Friberg and Sundström, Music Perception 19, 2002).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor
from statistics import fmean, median, stdev

from listener.graded import Timing
from listener.measures.intervals import median_interval
from listener.measures.line import Played
from progressions.timeline import TimeMap

# Slots of eighth, triplet and sixteenth inside a beat, 1 being the next beat's first.
SLOTS = (0.0, 1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4, 1.0)
MIN_NOTES = 8
MIN_PAIRS = 8
# An off-beat of a pair lies between the ratios 0.8:1 and 4.5:1, the widest that is heard as long and short.
OFF_LOW, OFF_HIGH = 0.44, 0.82


@dataclass(frozen=True, slots=True)
class Pair:
    """A downbeat, its off-beat and the next downbeat, all played, with nothing between; onsets in beats."""

    down: float
    off: float
    next_down: float

    @property
    def ratio(self) -> float:
        """The long note over the short one."""
        return (self.off - self.down) / (self.next_down - self.off)


def timing(line: Sequence[Played], time_map: TimeMap, rate: int) -> Timing:
    """The timing of one chorus; `line` holds the notes of its line in order of onset.

    Each onset is measured from its nearest slot. Once eight pairs of eighths exist, the off-beat of a beat that is not
    divided further is measured from the player's own median ratio instead. The mean is positive behind the beat.
    """
    onsets = [note.onset_beat for note in line]
    pairs = swing_pairs(onsets)
    ratios = [pair.ratio for pair in pairs]
    own = median(ratios) if len(ratios) >= MIN_PAIRS else None
    interval = median_interval(ratios) if own is not None else None
    late_ms = [
        (onset - slot) * float(time_map.samples_per_beat_at(onset)) / rate * 1000
        for onset, slot in zip(onsets, slots_of(onsets, own), strict=True)
    ]
    enough = len(late_ms) >= MIN_NOTES
    return Timing(
        notes=len(late_ms),
        mean_ms=fmean(late_ms) if enough else None,
        spread_ms=stdev(late_ms) if enough else None,
        swing_ratio=own,
        swing_low=interval[0] if interval else None,
        swing_high=interval[1] if interval else None,
        pairs=len(pairs),
    )


def swing_pairs(onsets: Sequence[float]) -> list[Pair]:
    """Pairs of eighths: three onsets in a row, the outer two nearest to beats that follow each other."""
    pairs = []
    for down, off, next_down in zip(onsets, onsets[1:], onsets[2:], strict=False):
        beat = floor(down + 0.5)
        on_beats = abs(down - beat) < 1 / 6 and abs(next_down - beat - 1) < 1 / 6
        if on_beats and OFF_LOW <= (off - down) / (next_down - down) <= OFF_HIGH:
            pairs.append(Pair(down, off, next_down))
    return pairs


def slots_of(onsets: Sequence[float], swing_ratio: float | None) -> list[float]:
    """The slot of each onset in beats: the nearest of the grid, or the player's own off-beat."""
    own_off = swing_ratio / (1 + swing_ratio) if swing_ratio is not None else None
    slots = []
    for index, onset in enumerate(onsets):
        beat = floor(onset)
        part = onset - beat
        slot = min(SLOTS, key=lambda at: abs(part - at))
        if own_off is not None and OFF_LOW <= part <= OFF_HIGH and _is_lone_off(onsets, index, beat):
            slot = own_off
        slots.append(beat + slot)
    return slots


def _is_lone_off(onsets: Sequence[float], index: int, beat: int) -> bool:
    """Whether no other onset divides the beat: the neighbours lie on its downbeat, on the next one, or outside."""
    before = onsets[index - 1] if index else beat - 1.0
    after = onsets[index + 1] if index + 1 < len(onsets) else beat + 2.0
    return before < beat + 1 / 6 and after > beat + 1 - 1 / 6
