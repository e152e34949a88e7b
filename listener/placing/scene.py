"""What a note is judged by: the line around it, the changes, the rules, and how far the line is known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from listener.events import Note
from listener.placing.line import NoteLine
from listener.rules import Rules
from progressions.timeline import Timeline

# Two ways to count the same beat differ by float noise only; a millionth of a beat is under a thousandth of a sample.
SLACK_BEATS = 1e-6


@dataclass(frozen=True, slots=True)
class Scene:
    """`until` is a sample index: notes that begin there or later are not looked at. `rate` is in Hz."""

    line: NoteLine
    timeline: Timeline
    rules: Rules
    rate: int
    until: float = math.inf

    def beat(self, sample: float) -> float:
        return float(self.timeline.time_map.beat_at(sample))

    def onset_beat(self, note: Note) -> float:
        return self.beat(note.onset_sample)

    def sample_at(self, beat: float) -> float:
        return float(self.timeline.time_map.sample_at(beat))

    def later(self, sample: float, beats: float) -> float:
        """The sample index `beats` after `sample`, by the timeline's tempo."""
        return self.sample_at(self.beat(sample) + beats)

    def comes_within(self, note: Note, other: Note, beats: float) -> bool:
        """Whether `other` begins no later than `beats` after the end of `note`; a sounding note has not ended."""
        if note.offset_sample is None:
            return True
        return self.onset_beat(other) - self.beat(note.offset_sample) <= beats + SLACK_BEATS
