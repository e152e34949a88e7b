"""`TimeMap`: piecewise linear, append-only, between samples of a stream and beats of the music.

Beat 0 is the first beat of chorus 1. Tempo and places are kept as rational numbers, so that a beat has one exact place.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction

from progressions.changes import TEMPO_BPM, check_range
from progressions.errors import ProgressionsError

Beat = Fraction | float | int


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of steady tempo from `beat` (at `sample`, exact) on."""

    beat: Fraction
    sample: Fraction
    samples_per_beat: Fraction


@dataclass(frozen=True, slots=True)
class TimeMap:
    """Piecewise linear map between beats and sample indices of a stream at `rate_hz`.

    Append-only: `with_step` gives a new map that agrees with this one up to the step. Beats before the first segment
    go on backwards at its tempo.
    """

    rate_hz: int
    segments: tuple[Segment, ...]
    _beats: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _samples: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _slopes: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_beats", tuple(float(s.beat) for s in self.segments))
        object.__setattr__(self, "_samples", tuple(float(s.sample) for s in self.segments))
        object.__setattr__(self, "_slopes", tuple(float(s.samples_per_beat) for s in self.segments))

    @staticmethod
    def steady(rate_hz: int, tempo_bpm: float, first_sample: int = 0) -> TimeMap:
        """One tempo throughout; beat 0 is at `first_sample`, which may be negative."""
        if rate_hz <= 0:
            raise ProgressionsError(f"rate {rate_hz} Hz: expected a value above 0")
        return TimeMap(rate_hz, (Segment(Fraction(0), Fraction(first_sample), _slope(rate_hz, tempo_bpm)),))

    def with_step(self, beat: Beat, tempo_bpm: float) -> TimeMap:
        """The map with a new tempo from `beat` on, which has to lie after every earlier step."""
        at, last = Fraction(beat), self.segments[-1]
        if at <= last.beat:
            raise ProgressionsError(f"tempo step at beat {float(at):g}: expected one after beat {float(last.beat):g}")
        step = Segment(at, self.exact_sample_at(at), _slope(self.rate_hz, tempo_bpm))
        return TimeMap(self.rate_hz, (*self.segments, step))

    def beat_at(self, sample: float) -> float:
        """Beat at a sample index, which may lie between samples."""
        at = max(bisect_right(self._samples, sample) - 1, 0)
        return self._beats[at] + (sample - self._samples[at]) / self._slopes[at]

    def sample_at(self, beat: Beat) -> float:
        """Place of a beat in samples, between samples where it falls there."""
        value = float(beat)
        at = max(bisect_right(self._beats, value) - 1, 0)
        return self._samples[at] + (value - self._beats[at]) * self._slopes[at]

    def exact_sample_at(self, beat: Fraction) -> Fraction:
        """`sample_at` without rounding."""
        segment = self.segments[max(bisect_right(self.segments, beat, key=lambda s: s.beat) - 1, 0)]
        return segment.sample + (beat - segment.beat) * segment.samples_per_beat

    def first_sample_of(self, beat: Fraction) -> int:
        """The first whole sample that is not before the beat."""
        return math.ceil(self.exact_sample_at(beat))

    def samples_per_beat_at(self, beat: Beat) -> float:
        """Length in samples of a beat at the tempo that holds from `beat` on."""
        return self._slopes[max(bisect_right(self._beats, float(beat)) - 1, 0)]


def _slope(rate_hz: int, tempo_bpm: float) -> Fraction:
    check_range("tempo", tempo_bpm, TEMPO_BPM, " bpm")
    return Fraction(60 * rate_hz) / Fraction(tempo_bpm)
