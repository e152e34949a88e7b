"""A chart written as a MusicXML 4.0 score: chord symbols over slashes, repeats and endings as they stand in the chart.

A chart with pushed chords is written as it is played, each chord where it sounds, as MusicXML has no sign for a push.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from math import lcm
from xml.sax.saxutils import escape

from progressions.bars import Bar, Meter
from progressions.changes import Chart
from progressions.errors import ProgressionsError
from progressions.exchange.harmony import write_harmony
from progressions.exchange.sounding import as_sounding
from progressions.keys import Key

_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" \
"http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0">
"""
# Note values in quarters, longest first, as type and dots.
_VALUES = (
    (Fraction(4), "whole", 0),
    (Fraction(3), "half", 1),
    (Fraction(2), "half", 0),
    (Fraction(3, 2), "quarter", 1),
    (Fraction(1), "quarter", 0),
    (Fraction(3, 4), "eighth", 1),
    (Fraction(1, 2), "eighth", 0),
    (Fraction(1, 4), "16th", 0),
    (Fraction(1, 8), "32nd", 0),
)


def write(chart: Chart) -> str:
    """The text of a .musicxml file. Raises ProgressionsError for a title that XML cannot hold."""
    if not all(character.isprintable() for character in chart.title):
        raise ProgressionsError(f"title {chart.title!r}: expected characters that can be printed")
    if any(chord.pushed for bar in chart.bars for chord in bar.chords):
        chart = as_sounding(chart)
    lengths = [c.duration * _quarters_per_beat(meter) for bar, meter in _with_meters(chart) for c in bar.chords]
    divisions = lcm(*(length.denominator for length in lengths), 8)
    parts = [_HEAD]
    if chart.title:
        parts.append(f"  <work><work-title>{escape(chart.title)}</work-title></work>\n")
    parts.append('  <part-list><score-part id="P1"><part-name>Changes</part-name></score-part></part-list>\n')
    parts.append('  <part id="P1">\n')
    parts += _measures(chart, divisions)
    parts.append("  </part>\n</score-partwise>\n")
    return "".join(parts)


def _quarters_per_beat(meter: Meter) -> Fraction:
    return Fraction(meter.eighths_per_beat, 2)


def _with_meters(chart: Chart) -> Iterator[tuple[Bar, Meter]]:
    meter = chart.meter
    if chart.pickup is not None:
        yield chart.pickup, meter
    for bar in chart.bars:
        meter = bar.meter or meter
        yield bar, meter


def _measures(chart: Chart, divisions: int) -> Iterator[str]:
    start = 0 if chart.pickup is not None else 1
    brackets = _bracket_ends(chart.bars)
    for number, (bar, meter) in enumerate(_with_meters(chart), start):
        implicit = ' implicit="yes"' if number == 0 else ""
        yield f'    <measure number="{number}"{implicit}>\n'
        if bar.opens_repeat or bar.endings:
            yield _left_barline(bar)
        yield from _signs(chart, bar, meter, divisions, number == start)
        beat = _quarters_per_beat(meter)
        for chord in bar.chords:
            yield f"      {write_harmony(chord.chord)}\n"
            for length in _pieces(chord.duration * beat):
                yield _slash(length, divisions)
        ends = brackets.get(number - 1, ())
        if bar.times or ends:
            yield _right_barline(bar, ends)
        yield "    </measure>\n"


def _bracket_ends(bars: Sequence[Bar]) -> dict[int, tuple[int, ...]]:
    """Index of the last bar of every ending's bracket -> its numbers: the one with the :|, or of the last ending the
    first, as it goes on into what follows."""
    ends = {}
    for first, bar in enumerate(bars):
        if bar.endings:
            until = next((at for at in range(first + 1, len(bars)) if bars[at].endings), len(bars))
            last = next((at for at in range(first, until) if bars[at].times), first)
            opened = any(bars[at].opens_repeat for at in range(first + 1, last + 1))
            ends[first if opened else last] = bar.endings
    return ends


def _left_barline(bar: Bar) -> str:
    ending = f'<ending number="{_numbers(bar.endings)}" type="start"/>' if bar.endings else ""
    repeat = '<repeat direction="forward"/>' if bar.opens_repeat else ""
    style = "<bar-style>heavy-light</bar-style>" if bar.opens_repeat else ""
    return f'      <barline location="left">{style}{ending}{repeat}</barline>\n'


def _right_barline(bar: Bar, ends: tuple[int, ...]) -> str:
    kind = "stop" if bar.times else "discontinue"
    ending = f'<ending number="{_numbers(ends)}" type="{kind}"/>' if ends else ""
    times = f' times="{bar.times}"' if bar.times > 2 else ""
    repeat = f'<repeat direction="backward"{times}/>' if bar.times else ""
    style = "<bar-style>light-heavy</bar-style>" if bar.times else ""
    return f'      <barline location="right">{style}{ending}{repeat}</barline>\n'


def _numbers(endings: tuple[int, ...]) -> str:
    return ",".join(map(str, endings))


def _signs(chart: Chart, bar: Bar, meter: Meter, divisions: int, first: bool) -> Iterator[str]:
    key = chart.key if first else bar.key
    parts = [f"<divisions>{divisions}</divisions>"] if first else []
    if key is not None:
        parts.append(_key(key))
    if first or bar.meter is not None:
        time = f"<beats>{meter.numerator}</beats><beat-type>{meter.denominator}</beat-type>"
        parts.append(f"<time>{time}</time>")
    if first:
        parts.append("<clef><sign>G</sign><line>2</line></clef>")
        parts.append('<measure-style><slash type="start" use-stems="no"/></measure-style>')
    if parts:
        yield f"      <attributes>{''.join(parts)}</attributes>\n"
    if bar.section:
        yield _direction(f"<rehearsal>{escape(bar.section)}</rehearsal>", "")
    tempo, swing = (chart.tempo_bpm, chart.swing) if first else (bar.tempo_bpm, None)
    if tempo is not None or swing is not None:
        shown = "<words>Swing</words>" if tempo is None else _metronome(tempo, meter)
        yield _direction(shown, _sound(tempo, swing, meter))


def _key(key: Key) -> str:
    # A chart may stand in a key of more than seven signs, that no signature has: then its plain name.
    usual = key if abs(key.fifths) <= 7 else key.usual()
    return f"<key><fifths>{usual.fifths}</fifths><mode>{'minor' if usual.minor else 'major'}</mode></key>"


def _direction(what: str, sound: str) -> str:
    return f'      <direction placement="above"><direction-type>{what}</direction-type>{sound}</direction>\n'


def _metronome(tempo_bpm: float, meter: Meter) -> str:
    unit = {1: "eighth", 2: "quarter", 3: "quarter"}[meter.eighths_per_beat]
    dot = "<beat-unit-dot/>" if meter.eighths_per_beat == 3 else ""
    number = f"{Decimal(repr(float(tempo_bpm))):f}"
    return f"<metronome><beat-unit>{unit}</beat-unit>{dot}<per-minute>{number}</per-minute></metronome>"


def _sound(tempo_bpm: float | None, swing: float | None, meter: Meter) -> str:
    """Tempo in quarters per minute, as MusicXML counts it everywhere, and the ratio of swung eighths."""
    tempo = ""
    if tempo_bpm is not None:
        quarters = Decimal(repr(float(tempo_bpm))) * meter.eighths_per_beat / 2
        tempo = f' tempo="{quarters:f}"'
    if swing is None:
        return f"<sound{tempo}/>"
    ratio = Fraction(repr(float(swing))).limit_denominator(300)
    inside = "<straight/>"
    if ratio != 1:
        inside = f"<first>{ratio.numerator}</first><second>{ratio.denominator}</second><swing-type>eighth</swing-type>"
    return f"<sound{tempo}><swing>{inside}</swing></sound>"


def _pieces(length: Fraction) -> Iterator[Fraction]:
    """The length as note values, longest first; what no plain or triplet value has is left as one piece."""
    triplet = Fraction(2, 3) if length.denominator % 3 == 0 else Fraction(1)
    rest = length / triplet
    while rest > 0:
        value = next((value for value, _, _ in _VALUES if value <= rest), rest)
        if (rest - value).denominator not in (1, 2, 4, 8):
            value = rest
        yield value * triplet
        rest -= value


def _slash(length: Fraction, divisions: int) -> str:
    shape = ""
    for value, name, dots in _VALUES:
        if length == value:
            shape = f"<type>{name}</type>{'<dot/>' * dots}"
        elif length * 3 == value * 2 and not dots:
            ratio = "<actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
            shape = f"<type>{name}</type><time-modification>{ratio}</time-modification>"
        if shape:
            break
    duration = length * divisions
    return f"      <note><rest/><duration>{duration}</duration><voice>1</voice>{shape}</note>\n"
