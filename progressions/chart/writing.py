"""From a chart to its text, as symbols or as degrees of its keys."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from progressions.changes import Bar, Chart, Meter
from progressions.chart.reading import PUSH
from progressions.chords import Chord
from progressions.degrees import degree_text
from progressions.keys import Key

BARS_PER_LINE = 4
Speller = Callable[[Chord, Key], str]


def write_chart(chart: Chart) -> str:
    """The chart as text that `parse_chart` reads back as the same value."""
    return _write(chart, lambda chord, key: chord.symbol)


def write_degrees(chart: Chart) -> str:
    """The chart as text in degrees of its keys, the same chart to `parse_chart`.

    Same in every note: a root that its key spells otherwise (D♭ in F♯) comes back under the key's name.
    """
    return _write(chart, degree_text)


def _write(chart: Chart, spell: Speller) -> str:
    lines = [f"title: {chart.title}"] if chart.title else []
    lines += [f"key: {chart.key}", f"meter: {chart.meter}"]
    lines += [f"{name}: {plain_number(value)}" for name, value in _numbers(chart) if value is not None]
    if chart.pickup is not None:
        lines.append(f"| [pick-up] {_chords(chart.pickup, None, chart.key, spell)} |")
    row = ""
    in_row = 0
    for bar, text in zip(chart.bars, cells(chart, spell), strict=True):
        if text is None:
            row += _closed(bar)
            continue
        if bar.section or bar.opens_repeat or in_row >= BARS_PER_LINE:
            lines += [row] if row else []
            lines += [f"[{bar.section}]"] if bar.section else []
            row, in_row = "", 0
        row = (row or "|") + (":" if bar.opens_repeat else "") + ",".join(map(str, bar.endings))
        row += f" {''.join(f'[{sign}] ' for sign in signs(bar))}{text} "
        in_row += max(bar.repeats_back, 1)
        row += "" if bar.repeats_back == 2 else _closed(bar)
    return "\n".join([*lines, row]) + "\n"


def _closed(bar: Bar) -> str:
    return "|" if bar.times == 0 else ":|" if bar.times == 2 else f":|x{bar.times}"


def signs(bar: Bar) -> list[str]:
    """The signs of meter, key and tempo that stand before a bar, without their brackets."""
    told = [str(bar.meter)] if bar.meter else []
    told += [f"key: {bar.key}"] if bar.key else []
    return [*told, f"tempo: {plain_number(bar.tempo_bpm)}"] if bar.tempo_bpm is not None else told


def cells(chart: Chart, spell: Speller) -> list[str | None]:
    """What is written in each bar: its chords, % or %%; None for a bar that the %% before it covers."""
    written: list[str | None] = []
    meter, key = chart.meter, chart.key
    for bar in chart.bars:
        meter, key = bar.meter or meter, bar.key or key
        if bar.repeats_back == 2:
            written.append(None if written and written[-1] == "%%" else "%%")
        else:
            written.append("%" if bar.repeats_back else _chords(bar, meter, key, spell))
    return written


def _chords(bar: Bar, meter: Meter | None, key: Key, spell: Speller) -> str:
    """The chords, with their beats where they do not share the bar evenly; the pick-up (no meter) tells them always."""
    even = None if meter is None else Fraction(meter.beats_per_bar, len(bar.chords))
    plain = all(c.duration == even for c in bar.chords)
    symbols = (f"{PUSH if c.pushed else ''}{spell(c.chord, key)}" for c in bar.chords)
    return " ".join(s if plain else f"{s}:{c.duration}" for s, c in zip(symbols, bar.chords, strict=True))


def _numbers(chart: Chart) -> tuple[tuple[str, float | None], ...]:
    return (("tempo", chart.tempo_bpm), ("swing", chart.swing))


def plain_number(value: float) -> str:
    """A number as it is written in a chart: 80, 2.5."""
    return str(int(value)) if float(value).is_integer() else repr(float(value))
