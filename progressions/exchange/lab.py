"""Lab files: a line for each chord, "start end label", in seconds, labels in Harte's syntax."""

from __future__ import annotations

import math

from progressions.changes import Chart, Meter
from progressions.errors import ChordError, ExchangeError
from progressions.exchange.gridding import TimedChord, chart_of, even_beats
from progressions.exchange.harte import parse_harte
from progressions.keys import Key

MOST_CHORDS = 20_000


def read_lab(
    text: str, name: str = "lab", *, tempo_bpm: float | None, meter: Meter | None = None, key: Key | None = None
) -> Chart:
    """The chart of a lab file, which tells no beats: they are even at `tempo_bpm`, from the first chord on.

    Meter is 4/4 unless given, the key that of the first chord. Raises ExchangeError with the line.
    """
    timed = []
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        if line.strip() and not line.lstrip().startswith("#"):
            timed.append(_timed(name, f"line {number}", line))
        if len(timed) > MOST_CHORDS:
            raise ExchangeError(name, f"line {number}", "too many chords", f"at most {MOST_CHORDS}")
    first = next((one for one in timed if not one.chord.is_no_chord), None)
    if first is None:
        raise ExchangeError(name, "line 1", "no chord", "lines such as 0.0 2.5 A:min7")
    beats = even_beats(name, first, tempo_bpm, meter)
    return chart_of(name, "", timed, beats, key, tempo_bpm)


def _timed(name: str, place: str, line: str) -> TimedChord:
    words = line.split()
    if len(words) != 3:
        raise ExchangeError(name, place, f"{len(words)} words", "start, end and chord, such as 0.0 2.5 A:min7")
    start, end = (_seconds(name, place, word) for word in words[:2])
    if end < start:
        raise ExchangeError(name, place, f"an end at {end:g} s before the start", "the end after the start")
    try:
        return TimedChord(start, end, parse_harte(words[2]), place)
    except ChordError as error:
        found = f"chord {error.symbol!r}, character {error.position + 1}"
        raise ExchangeError(name, place, found, error.expected) from error


def _seconds(name: str, place: str, word: str) -> float:
    try:
        seconds = float(word)
    except ValueError:
        seconds = math.nan
    if not 0.0 <= seconds < 1e6:
        raise ExchangeError(name, place, f"time {word[:30]!r}", "seconds from 0")
    return seconds
