"""Chords told in seconds become bars: each start goes to the nearest half beat of the annotated or even beats."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from progressions.changes import TEMPO_BPM, Bar, Chart, ChartChord, Meter
from progressions.chords import NO_CHORD, Chord, with_root
from progressions.errors import ExchangeError, ProgressionsError
from progressions.keys import Key

MOST_BARS = 1024
_GRID = 2  # parts of a beat
_PLAYABLE_BPM = (1.0, 1000.0)


@dataclass(frozen=True, slots=True)
class TimedChord:
    """A chord of a recording; `place` says where its file tells of it."""

    start_s: float
    end_s: float
    chord: Chord
    place: str


@dataclass(frozen=True, slots=True)
class Beats:
    """Beat times in seconds; the first is beat `first` of the chart, counted in beats of its meter, 0 a downbeat.

    `step` is how many such beats lie between two times: 1/3 where the eighths of 6/8 are told.
    """

    times_s: tuple[float, ...]
    meter: Meter
    first: Fraction = Fraction(0)
    step: Fraction = Fraction(1)

    def nearest(self, seconds: float) -> Fraction:
        """The nearest half beat; outside the told beats the first and the last distance go on."""
        at = min(max(bisect_right(self.times_s, seconds) - 1, 0), len(self.times_s) - 2)
        before, after = self.times_s[at : at + 2]
        told = at + (seconds - before) / (after - before)
        return Fraction(round((self.first + Fraction(told) * self.step) * _GRID), _GRID)


def even_beats(name: str, first: TimedChord, tempo_bpm: float | None, meter: Meter | None) -> Beats:
    """Beats of one tempo from the first chord on, in 4/4 unless told. Raises ExchangeError without a tempo to play."""
    if tempo_bpm is None:
        raise ExchangeError(name, first.place, "seconds without beats", "a tempo to be given beside the file")
    if not _PLAYABLE_BPM[0] <= tempo_bpm <= _PLAYABLE_BPM[1]:
        raise ExchangeError(name, first.place, f"tempo {tempo_bpm:g}", "a tempo from 1 to 1000")
    return Beats((first.start_s, first.start_s + 60.0 / tempo_bpm), meter or Meter())


def chart_of(
    name: str, title: str, timed: Sequence[TimedChord], beats: Beats, key: Key | None, tempo: float | None
) -> Chart:
    """The chart of timed chords, without the bars of no chord before the first and after the last.

    Gaps are no chord; what is shorter than the grid is left out. Without a key it is that of the first chord. Raises
    ExchangeError where there is no chord, or chords overlap by more than half a beat.
    """
    placed = _placed(name, timed, beats)
    sounding = [(start, end) for start, end, chord in placed if not chord.is_no_chord]
    if not sounding:
        raise ExchangeError(name, "the whole of it", "no chord", "at least one chord that is not N")
    per_bar = beats.meter.beats_per_bar
    first, last = sounding[0][0] // per_bar, -(-sounding[-1][1] // per_bar)
    if last - first > MOST_BARS:
        raise ExchangeError(name, timed[-1].place, f"{last - first} bars", f"at most {MOST_BARS} bars")
    home = key or _key_of(next(chord for _, _, chord in placed if not chord.is_no_chord))
    spelled = [(start, end, _respelled(chord, home)) for start, end, chord in placed]
    bars = _bars(spelled, Fraction(first * per_bar), last - first, per_bar)
    within = tempo if tempo is not None and TEMPO_BPM[0] <= tempo <= TEMPO_BPM[1] else None
    try:
        return Chart(title, home, beats.meter, within, None, bars)
    except ProgressionsError as error:
        raise ExchangeError(name, "the whole of it", str(error), "what a chart can hold") from error


def _placed(name: str, timed: Sequence[TimedChord], beats: Beats) -> list[tuple[Fraction, Fraction, Chord]]:
    placed: list[tuple[Fraction, Fraction, Chord]] = []
    end = Fraction(0)
    for one in timed:
        start, stop = beats.nearest(one.start_s), beats.nearest(one.end_s)
        if placed and start < end:
            raise ExchangeError(name, one.place, "a chord before the last one ends", "chords one after the other")
        if stop > start:
            placed.append((start, stop, one.chord))
            end = stop
    return placed


def _key_of(chord: Chord) -> Key:
    if chord.root is None:
        raise ProgressionsError("N.C. has no key: expected a chord")
    return Key(chord.root, chord.third == "minor").usual()


def _bars(
    placed: Sequence[tuple[Fraction, Fraction, Chord]], start: Fraction, how_many: int, per_bar: int
) -> tuple[Bar, ...]:
    """Bars from a beat on, filled with no chord where none is told."""
    filled: list[tuple[Fraction, Fraction, Chord]] = []
    at, end = start, start + how_many * per_bar
    for begins, ends, chord in placed:
        if begins > at:
            filled.append((at, min(begins, end), NO_CHORD))
        filled.append((max(begins, at), min(ends, end), chord))
        at = max(at, min(ends, end))
    filled.append((at, end, NO_CHORD))
    bars: list[list[ChartChord]] = [[] for _ in range(how_many)]
    for begins, ends, chord in filled:
        while begins < ends:
            number = int((begins - start) // per_bar)
            bar_start = start + number * per_bar
            stop = min(ends, bar_start + per_bar)
            bars[number].append(ChartChord(begins - bar_start, stop - begins, chord))
            begins = stop
    return tuple(Bar(tuple(chords)) for chords in bars)


def _respelled(chord: Chord, key: Key) -> Chord:
    """The chord with its root as the key spells it: labels say D# for E♭. ♯I° and the like, that lead on, stay."""
    if chord.root is None:
        return chord
    root = key.spell(chord.root.pitch_class)
    leads_on = chord.third == "minor" and "♭5" in chord.functions
    return chord if root == chord.root or (leads_on and key.degree(root)[1]) else with_root(chord, root)
