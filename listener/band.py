"""The backing loop as samples: a count-in, a click on 2 and 4, and a pad of root and shell that tells the changes.

Random access: any stretch can be asked for at any time, and the same sample index always gives the same sample,
however the stretches are cut. That holds to the bit because sound is made in whole tiles of the timeline.
Sample indices are those of the timeline; the count-in lies before beat 0.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from listener.events import Samples
from listener.start import lead_in_bars
from listener.voicing import voicing
from progressions.pitch import midi_to_hz
from progressions.timeline import Timeline

TILE_FRAMES = 2048
_TILES_KEPT = 8

_CLICK_S = 0.060
_RISE_S = 0.0003  # a third of a millisecond: the ear hears a stroke, the converter no step
_PAD_ATTACK_S = 0.030
_PAD_RELEASE_S = 0.090
_CLOSING_RELEASE_S = 1.5
_PAD_LEVEL = 0.055  # of one voice; three voices stay near -22 dBFS
_PARTIALS = (1.0, 0.42, 0.20, 0.10, 0.05, 0.025)  # a mellow reed-like tone: heard on small speakers too


@dataclass(frozen=True, slots=True)
class Stroke:
    """A wooden click: two inharmonic modes (`hz`, `second_hz`) that die away with `decay_s`; `level` is its peak."""

    hz: float
    second_hz: float
    decay_s: float
    level: float


# A free wooden bar has its second mode 2.76 times above the first (Euler-Bernoulli beam, free ends).
BACKBEAT = Stroke(1150.0, 1150.0 * 2.76, 0.009, 0.30)
COUNT = Stroke(820.0, 820.0 * 2.76, 0.011, 0.25)
COUNT_ONE = Stroke(1010.0, 1010.0 * 2.76, 0.011, 0.30)
LAST_COUNT = Stroke(1320.0, 1320.0 * 2.76, 0.009, 0.32)
LAST_COUNT_ONE = Stroke(1640.0, 1640.0 * 2.76, 0.009, 0.36)
OFFBEAT = Stroke(1320.0, 1320.0 * 2.76, 0.005, 0.09)


@dataclass(frozen=True, slots=True)
class Click:
    """One stroke at a place in beats (negative in the count-in)."""

    beat: float
    stroke: Stroke


@dataclass(frozen=True, slots=True)
class _Pad:
    """One chord that sounds: samples `start` to `end`, then `release` samples of dying away."""

    start: int
    end: int
    release: int
    pitches_hz: tuple[float, ...]


def clicked_beats(beats_per_bar: int) -> tuple[int, ...]:
    """The beats of a bar that are clicked, from 0: 2 and 4; in a bar of odd length every beat but the first."""
    if beats_per_bar % 2:
        return tuple(range(1, beats_per_bar)) or (0,)
    return tuple(range(1, beats_per_bar, 2))


class Band:
    """Renders the band of a timeline at `rate` Hz.

    `swing` is the ratio of the long to the short half of a beat (2.0 is a shuffle, 1.0 straight); the last bar of
    the count-in tells it by soft off-beats. `a4_hz` is the reference the player has tuned to.
    """

    def __init__(self, timeline: Timeline, rate: int, swing: float = 1.0, a4_hz: float = 440.0) -> None:
        self.timeline = timeline
        self.rate = rate
        self.swing = swing
        self.clicks = _clicks(timeline, swing)
        self._click_starts = [timeline.time_map.first_sample_of(Fraction(click.beat)) for click in self.clicks]
        self._click_frames = round(_CLICK_S * rate)
        strokes = {click.stroke for click in self.clicks}
        self._sounds = {stroke: _stroke_samples(stroke, self._click_frames, rate) for stroke in strokes}
        self._pads = _pads(timeline, rate, a4_hz)
        self._pad_ends = [pad.end + pad.release for pad in self._pads]
        self._tiles: dict[int, Samples] = {}

    @property
    def count_in_beats(self) -> int:
        """How many beats are counted before beat 0."""
        return _count_in(self.timeline)

    @property
    def start_sample(self) -> int:
        """The sample of the first count."""
        return self._click_starts[0]

    @property
    def end_sample(self) -> int:
        """The sample after which nothing sounds."""
        return max([self._click_starts[-1] + self._click_frames, *self._pad_ends])

    def render(self, start_sample: int, frames: int) -> Samples:
        """Mono float32 samples from `start_sample` on; silence before the count-in and after the closing chord."""
        out = np.zeros(frames, dtype=np.float32)
        place = start_sample
        end = start_sample + frames
        while place < end:
            number, within = divmod(place, TILE_FRAMES)
            part = self._tile(number)[within : within + end - place]
            out[place - start_sample : place - start_sample + len(part)] = part
            place += len(part)
        return out

    def _tile(self, number: int) -> Samples:
        tile = self._tiles.get(number)
        if tile is None:
            start = number * TILE_FRAMES
            sum_ = np.zeros(TILE_FRAMES, dtype=np.float64)
            self._add_clicks(sum_, start)
            for pad in self._pads[bisect_left(self._pad_ends, start) :]:
                if pad.start >= start + TILE_FRAMES:
                    break
                _add_pad(sum_, start, pad, self.rate)
            tile = sum_.astype(np.float32)
            while len(self._tiles) >= _TILES_KEPT:
                del self._tiles[next(iter(self._tiles))]
            self._tiles[number] = tile
        return tile

    def _add_clicks(self, sum_: np.ndarray, start: int) -> None:
        first = bisect_left(self._click_starts, start - self._click_frames)
        for click, at in zip(self.clicks[first:], self._click_starts[first:], strict=True):
            if at >= start + len(sum_):
                break
            sound = self._sounds[click.stroke]
            low, high = max(at, start), min(at + len(sound), start + len(sum_))
            if low < high:
                sum_[low - start : high - start] += sound[low - at : high - at]


def _count_in(timeline: Timeline) -> int:
    time_map = timeline.time_map
    tempo_bpm = 60.0 * time_map.rate_hz / time_map.samples_per_beat_at(0.0)
    return lead_in_bars(timeline.meter, tempo_bpm) * timeline.beats_per_bar


def _clicks(timeline: Timeline, swing: float) -> list[Click]:
    """Every stroke in order of time; the closing chord has none."""
    bar = timeline.beats_per_bar
    clicks = []
    for beat in range(-_count_in(timeline), 0):
        last, one = beat >= -bar, beat % bar == 0
        clicks.append(Click(beat, (LAST_COUNT_ONE if one else LAST_COUNT) if last else COUNT_ONE if one else COUNT))
        if last and beat < -1:  # the last off-beat is left free: it is where a player breathes in
            clicks.append(Click(beat + swing / (1.0 + swing), OFFBEAT))
    for placed in timeline.bars[: timeline.choruses * timeline.bars_per_chorus]:
        start = int(placed.start_beat)
        clicks += [Click(start + beat, BACKBEAT) for beat in clicked_beats(placed.meter.beats_per_bar)]
    return clicks


def _stroke_samples(stroke: Stroke, frames: int, rate: int) -> np.ndarray:
    seconds = np.arange(frames) / rate
    wave = np.sin(2 * np.pi * stroke.hz * seconds)
    if stroke.second_hz < 0.45 * rate:
        wave = wave + 0.35 * np.sin(2 * np.pi * stroke.second_hz * seconds)
    shape = np.minimum(1.0, seconds / _RISE_S) * np.exp(-seconds / stroke.decay_s)
    sound: np.ndarray = wave * shape * np.linspace(1.0, 0.0, frames)
    sound *= stroke.level / np.abs(sound).max()
    return sound


def _pads(timeline: Timeline, rate: int, a4_hz: float) -> list[_Pad]:
    """One pad for each stretch of the same pitches; the closing chord starts anew and dies away slowly."""
    pads: list[_Pad] = []
    closing_before = False
    for span in (*timeline.pickup, *timeline.spans):
        pitches = tuple(float(midi_to_hz(float(midi), a4_hz)) for midi in voicing(span.chord))
        start, end = timeline.span_samples(span)
        release = round((_CLOSING_RELEASE_S if span.closing else _PAD_RELEASE_S) * rate)
        joins = bool(pads) and pads[-1].end == start and pads[-1].pitches_hz == pitches
        if joins and span.closing == closing_before:
            pads[-1] = _Pad(pads[-1].start, end, release, pitches)
        elif pitches:
            pads.append(_Pad(start, end, release, pitches))
        closing_before = span.closing
    return pads


def _add_pad(sum_: np.ndarray, start: int, pad: _Pad, rate: int) -> None:
    low, high = max(pad.start, start), min(pad.end + pad.release, start + len(sum_))
    if low >= high:
        return
    place = np.arange(low - pad.start, high - pad.start, dtype=np.float64)
    attack = _raised_cosine(place / (_PAD_ATTACK_S * rate))
    release = _raised_cosine((pad.end + pad.release - pad.start - place) / pad.release)
    seconds = place / rate
    voices = np.zeros(len(place))
    for number, hz in enumerate(pad.pitches_hz):
        level = _PAD_LEVEL * (1.25 if number == 0 else 1.0)
        for partial, share in enumerate(_PARTIALS, start=1):
            if hz * partial < 0.45 * rate:
                voices += level * share * np.sin(2 * np.pi * hz * partial * seconds)
    sum_[low - start : high - start] += voices * attack * release


def _raised_cosine(share: np.ndarray) -> np.ndarray:
    """0 at a share of 0 and below, 1 at 1 and above, smooth between."""
    eased: np.ndarray = 0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0.0, 1.0))
    return eased
