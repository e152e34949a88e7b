"""Measures as they are played become the bars of a chart: chords fill them, signs stand where something changes."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from progressions.bars import Bar, BarFault, ChartChord, Meter
from progressions.changes import SWING, TEMPO_BPM, Chart
from progressions.chords import NO_CHORD, Chord
from progressions.errors import ExchangeError, ProgressionsError
from progressions.exchange.measures import Measure
from progressions.keys import Key

_PICKUP_WORDS = ("pick-up", "pickup")
_SECTION = re.compile(r"[^\W\d_][^:\[\]|]{0,19}")


@dataclass(frozen=True, slots=True)
class _Framed:
    """A measure as it is played, or two that make one bar together, with the meter, key and tempo in force."""

    measure: Measure
    meter: Meter
    key: Key | None
    tempo: Fraction | None

    @property
    def length(self) -> Fraction:
        return self.measure.length or self.whole

    @property
    def whole(self) -> Fraction:
        return Fraction(4 * self.meter.numerator, self.meter.denominator)


def _framed(played: Sequence[Measure]) -> list[_Framed]:
    framed: list[_Framed] = []
    for measure in played:
        new = _Framed(measure, measure.meter or Meter(), measure.key, measure.tempo)
        last = framed[-1] if framed else None
        # A bar line within a bar, as where a repeat begins after the pick-up, makes two measures of one bar.
        if last is not None and len(framed) > 1 and last.length + new.length == last.whole == new.whole:
            framed[-1] = replace(last, measure=_joined(last.measure, measure, last.length))
        else:
            framed.append(new)
    return framed


def _joined(first: Measure, second: Measure, first_length: Fraction) -> Measure:
    later = tuple((at + first_length, chord) for at, chord in second.chords)
    return replace(first, chords=first.chords + later, length=first_length + second.length)


def chart_of_measures(played: Sequence[Measure], title: str, name: str) -> Chart:
    """The chart of measures in the order of playing. Raises ExchangeError with the measure that cannot be held.

    A first measure that is short is the pick-up, and a last one is filled. Tempo and swing out of the range of a chart
    are left to the player, as is a key signature that tells no tonic to the first chord.
    """
    framed = _framed(played)
    sounding = NO_CHORD
    bars: list[tuple[_Framed, Bar]] = []
    pickup = None
    for number, one in enumerate(framed):
        is_pickup = number == 0 and one.length < one.whole and len(framed) > 1
        _check_length(one, is_pickup or number == len(framed) - 1, name)
        length = one.length if is_pickup else one.whole
        bar = _bar(one, length, sounding)
        sounding = bar.chords[-1].chord
        if not is_pickup:
            bars.append((one, bar))
        elif any(not chord.chord.is_no_chord for chord in bar.chords):
            pickup = bar
    first, last = bars[0][0], bars[-1][0]
    tempo = next((one.tempo for one, _ in bars if one.tempo is not None), None)
    bpm = None if tempo is None else _beats_per_minute(tempo, first.meter)
    key = next((one.key for one, _ in bars if one.key is not None), None) or _key_of(bars, name)
    swing = next((one.measure.swing for one in framed if one.measure.swing is not None), None)
    if last.meter.eighths_per_beat != first.meter.eighths_per_beat or (
        pickup and pickup.beats >= last.meter.beats_per_bar
    ):
        pickup = None  # no end of the last bar that it could take when the form comes round
    try:
        return Chart(
            title,
            key,
            first.meter,
            bpm,
            float(swing) if swing is not None and SWING[0] <= swing <= SWING[1] else None,
            tuple(_with_signs(bars, key, tempo if bpm is not None else None)),
            pickup,
        )
    except BarFault as error:
        place = bars[max(error.bar, 0)][0].measure.place
        raise ExchangeError(name, place, error.found, error.expected) from error
    except ProgressionsError as error:
        raise ExchangeError(name, first.measure.place, str(error), "what a chart can hold") from error


def _check_length(one: _Framed, may_be_short: bool, name: str) -> None:
    if one.length > one.whole or (one.length < one.whole and not may_be_short):
        found = f"a measure of {one.length} quarters in {one.meter}"
        raise ExchangeError(name, one.measure.place, found, f"{one.whole} quarters")


def _bar(one: _Framed, length: Fraction, sounding: Chord) -> Bar:
    """The bar with the chord that still sounds up to its first one."""
    starts = list(one.measure.chords)
    if not starts or starts[0][0] > 0:
        starts.insert(0, (Fraction(0), sounding))
    ends = [*(at for at, _ in starts[1:]), length]
    beat = Fraction(one.meter.eighths_per_beat, 2)
    return Bar(
        tuple(
            ChartChord(at / beat, (end - at) / beat, chord)
            for (at, chord), end in zip(starts, ends, strict=True)
            if end > at
        )
    )


def _with_signs(bars: Sequence[tuple[_Framed, Bar]], key: Key, tempo: Fraction | None) -> Iterator[Bar]:
    """The bars with the signs of meter, key and tempo where these change, and with the names of sections."""
    meter, before = bars[0][0].meter, tempo
    for number, (one, bar) in enumerate(bars):
        now = before if before is None else one.tempo or before
        changes = number > 0 and now is not None and now != before
        new_tempo = _beats_per_minute(now, one.meter) if changes and now is not None else None
        section = one.measure.section
        named = _SECTION.fullmatch(section) is not None and section.lower() not in _PICKUP_WORDS
        yield replace(
            bar,
            meter=one.meter if one.meter != meter else None,
            key=one.key if number and one.key is not None and one.key != key else None,
            tempo_bpm=new_tempo,
            section=section if named else "",
        )
        meter, key, before = one.meter, one.key or key, now


def _beats_per_minute(quarters: Fraction, meter: Meter) -> float | None:
    beats = float(quarters * 2 / meter.eighths_per_beat)
    return beats if TEMPO_BPM[0] <= beats <= TEMPO_BPM[1] else None


def _key_of(bars: Sequence[tuple[_Framed, Bar]], name: str) -> Key:
    """The key of the first chord, for a score without a signature."""
    for _, bar in bars:
        for chord in (c.chord for c in bar.chords):
            if chord.root is not None:
                return Key(chord.root, chord.third == "minor").usual()
    raise ExchangeError(name, bars[0][0].measure.place, "no chord and no key", "a chord, or a key signature")
