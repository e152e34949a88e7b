"""A chart as the tool understood it: rows of four bars on a page of plain text, and the same as a document.

Every chord stands over its tones, the guide tones marked. Nothing rests on colour, and all signs are made ASCII before
they are laid out where the output cannot carry them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from listener.glyphs import ascii_text
from progressions.bars import ChartChord, Meter, PlayedBar
from progressions.chart import Chart, Key, write_chart
from progressions.chart.writing import cells, plain_number, signs
from progressions.chords import Chord
from progressions.degrees import degree_text

BARS_PER_ROW = 4
WIDTH = 80
_LEAD = 4  # the number of the bar and a blank
_CLOSE = 3  # what may follow the last bar line: |x3
_GAP = 2  # blanks between the columns of two chords
GUIDE = "*"


@dataclass(frozen=True, slots=True)
class _Word:
    """A chord as it is written, and its tones under it."""

    symbol: str
    tones: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Shown:
    """A bar of the page: its number, the signs over it, what stands beside its bar lines, and its words.

    `left` is what follows the bar line before it (":", "1"), `closes` whether a colon stands before the one after it,
    and `times` what follows that ("x3").
    """

    number: str
    above: str
    words: tuple[_Word, ...]
    left: str = ""
    closes: bool = False
    times: str = ""
    starts_row: bool = False

    @property
    def least_width(self) -> int:
        """Cells from its bar line up to the next one: every symbol whole, and blanks between."""
        words = sum(_least_column(word) for word in self.words) - _GAP
        return max(len("| ") + len(self.left) + words + len(" :"), len(self.above) + _GAP)


def _least_column(word: _Word) -> int:
    return max(len(word.symbol), *(len(tone) for tone in word.tones), 1) + _GAP


def chart_lines(
    chart: Chart, *, degrees: bool = False, unrolled: bool = False, ascii_only: bool = False, width: int = WIDTH
) -> list[str]:
    """The page: title, key, meter and tempo, then the bars as written, or as they are played.

    `degrees` shows degrees for symbols and functions for tones. No line is longer than `width`, unless one bar is.
    """
    clean: Callable[[str], str] = ascii_chart if ascii_only else str
    shown = list(_as_played(chart, degrees, clean) if unrolled else _as_written(chart, degrees, clean))
    lines = [clean(line) for line in _head(chart)] + [""]
    for row in _rows(shown):
        lines += [*_row_lines(row, width), ""]
    legend = [f"{GUIDE} guide tone"]
    if any("<" in word.symbol for bar in shown for word in bar.words):
        legend.append("< an eighth early")
    return [*lines, "   ".join(legend)]


def ascii_chart(text: str) -> str:
    """Symbols and degrees in ASCII that read back as the same: iiø7 has the dash of a minor chord, ii-7b5."""
    return ascii_text(re.sub(r"ø(\d*)", lambda match: f"-{match[1] or 7}b5", text))


def _head(chart: Chart) -> list[str]:
    told = [f"key {chart.key}", str(chart.meter)]
    told += [f"{plain_number(chart.tempo_bpm)} bpm"] if chart.tempo_bpm is not None else []
    told += [f"swing {plain_number(chart.swing)}:1"] if chart.swing is not None else []
    played = len(chart.played)
    told.append(f"{played} bar{'' if played == 1 else 's'}" + (" as played" if played != len(chart.bars) else ""))
    return [*([chart.title] if chart.title else []), "   ".join(told)]


def _as_written(chart: Chart, degrees: bool, clean: Callable[[str], str]) -> Iterator[_Shown]:
    if chart.pickup is not None:
        leading = tuple(_word(c, chart.key, degrees, clean, None) for c in chart.pickup.chords)
        yield _Shown("", "pick-up", leading)
    meter, key = chart.meter, chart.key
    before: Chord | None = None
    for number, (bar, text) in enumerate(zip(chart.bars, cells(chart, degree_text), strict=True), 1):
        meter, key = bar.meter or meter, bar.key or key
        above = "  ".join([*([f"[{bar.section}]"] if bar.section else []), *signs(bar)])
        starts_row = bool(bar.section or bar.opens_repeat) or (number == 1 and chart.pickup is not None)
        if bar.repeats_back:
            words: tuple[_Word, ...] = (_Word("" if text is None else text),)
        else:
            words = tuple(_words(bar.chords, meter, key, degrees, clean, None if starts_row else before))
        before = bar.chords[-1].chord
        left = ":" if bar.opens_repeat else ",".join(map(str, bar.endings))
        times = f"x{bar.times}" if bar.times > 2 else ""
        yield _Shown(str(number), clean(above), words, left, bar.times > 0, times, starts_row)


def _as_played(chart: Chart, degrees: bool, clean: Callable[[str], str]) -> Iterator[_Shown]:
    before: Chord | None = None
    last: PlayedBar | None = None
    for number, bar in enumerate(chart.played, 1):
        section = chart.bars[bar.written].section
        above = "  ".join([*([f"[{section}]"] if section else []), *_news(chart, bar, last)])
        words = tuple(_words(bar.chords, bar.meter, bar.key, degrees, clean, None if section else before))
        before, last = bar.chords[-1].chord, bar
        yield _Shown(str(number), clean(above), words, starts_row=bool(section))


def _news(chart: Chart, bar: PlayedBar, last: PlayedBar | None) -> list[str]:
    """What holds from a bar on and did not before."""
    if last is None:
        return []
    told = [str(bar.meter)] if bar.meter != last.meter else []
    told += [f"key: {bar.key}"] if bar.key != last.key else []
    kept = last.pace * Fraction(last.meter.eighths_per_beat, bar.meter.eighths_per_beat)
    if bar.pace != kept and chart.tempo_bpm is not None:
        told.append(f"tempo: {float(bar.pace) * chart.tempo_bpm:g}")
    return told


def _words(
    chords: Sequence[ChartChord],
    meter: Meter,
    key: Key,
    degrees: bool,
    clean: Callable[[str], str],
    before: Chord | None,
) -> Iterator[_Word]:
    """The chords of a bar; the tones are left out under one that goes on from the bar before."""
    even = Fraction(meter.beats_per_bar, len(chords))
    plain = all(c.duration == even for c in chords)
    for c in chords:
        word = _word(c, key, degrees, clean, even if plain else None)
        yield _Word(word.symbol) if c.chord == before else word
        before = c.chord


def _word(c: ChartChord, key: Key, degrees: bool, clean: Callable[[str], str], even: Fraction | None) -> _Word:
    beats = "" if c.duration == even else f":{c.duration}"
    symbol = degree_text(c.chord, key) if degrees else c.chord.symbol
    tones = tuple(
        clean(tone.function if degrees else str(tone.pitch))
        + (GUIDE if tone.pitch.pitch_class in c.chord.guide_tones else "")
        for tone in c.chord.tones
    )
    return _Word(f"{'<' if c.pushed else ''}{clean(symbol)}{beats}", tones)


def _rows(shown: Sequence[_Shown]) -> Iterator[list[_Shown]]:
    row: list[_Shown] = []
    for bar in shown:
        if row and (bar.starts_row or len(row) == BARS_PER_ROW):
            yield row
            row = []
        row.append(bar)
    if row:
        yield row


def _row_lines(row: Sequence[_Shown], width: int) -> list[str]:
    """One row: signs over the bars, symbols, tones. A row too full for the page is broken in two."""
    room = width - _LEAD - len("|") - _CLOSE
    needed = [bar.least_width for bar in row]
    if sum(needed) > room and len(row) > 1:
        half = len(row) // 2
        return _row_lines(row[:half], width) + _row_lines(row[half:], width)
    widths = [room // BARS_PER_ROW] * len(row)
    if any(need > even for need, even in zip(needed, widths, strict=True)):
        spare = max(sum(widths) - sum(needed), 0) // len(row)
        widths = [need + spare for need in needed]
    lefts = [before + bar.left for before, bar in zip(["", *(bar.times for bar in row)], row, strict=False)]
    blocks = [
        _bar_block(bar, wide - len("|  :") - len(left)) for bar, wide, left in zip(row, widths, lefts, strict=True)
    ]
    lines = ["".join(bar.above.ljust(wide) for bar, wide in zip(row, widths, strict=True))]
    for down in range(max(len(block) for block in blocks)):
        line = ""
        for bar, wide, left, block in zip(row, widths, lefts, blocks, strict=True):
            beside = left if down == 0 else " " * len(left)
            part = f"|{beside} {block[down] if down < len(block) else ''}".ljust(wide)
            line += part[:-1] + ":" if bar.closes and down == 0 else part
        lines.append(f"{line}|{row[-1].times if down == 0 else ''}")
    leads = ["", row[0].number, *([""] * len(lines))]
    return [f"{lead:>3} {line}".rstrip() for lead, line in zip(leads, lines, strict=False) if line.strip()]


def _bar_block(bar: _Shown, inside: int) -> list[str]:
    """Symbols side by side, and under each its tones, broken over as many lines as they take."""
    needed = [_least_column(word) for word in bar.words]
    spare = max(inside + _GAP - sum(needed), 0) // len(needed)
    columns = [need + spare for need in needed]
    stacks = [_wrapped(word.tones, column - _GAP) for word, column in zip(bar.words, columns, strict=True)]
    lines = ["".join(word.symbol.ljust(column) for word, column in zip(bar.words, columns, strict=True))]
    for down in range(max(len(stack) for stack in stacks)):
        parts = (stack[down] if down < len(stack) else "" for stack in stacks)
        lines.append("".join(part.ljust(column) for part, column in zip(parts, columns, strict=True)))
    return [line.rstrip() for line in lines]


def _wrapped(tones: Sequence[str], width: int) -> list[str]:
    lines: list[str] = []
    for tone in tones:
        if lines and len(lines[-1]) + 1 + len(tone) <= width:
            lines[-1] += f" {tone}"
        else:
            lines.append(tone)
    return lines


def chart_document(chart: Chart) -> dict[str, Any]:
    """The chart as JSON values: its text as written, and every bar as it is played with the tones of its chords."""
    return {
        "schema": "bluethird/chart/1",
        "title": chart.title,
        "key": str(chart.key),
        "meter": str(chart.meter),
        "tempo_bpm": chart.tempo_bpm,
        "swing": chart.swing,
        "text": write_chart(chart),
        "pickup": None if chart.pickup is None else [_chord_document(c, chart.key) for c in chart.pickup.chords],
        "bars": [
            {
                "bar": number,
                "written_bar": bar.written + 1,
                "section": chart.bars[bar.written].section or None,
                "meter": str(bar.meter),
                "key": str(bar.key),
                "tempo_bpm": None if chart.tempo_bpm is None else round(chart.tempo_bpm * float(bar.pace), 3),
                "chords": [_chord_document(c, bar.key) for c in bar.chords],
            }
            for number, bar in enumerate(chart.played, 1)
        ],
    }


def _chord_document(c: ChartChord, key: Key) -> dict[str, Any]:
    guides = c.chord.guide_tones
    return {
        "symbol": c.chord.symbol,
        "degree": degree_text(c.chord, key),
        "beat": float(c.beat) + 1,
        "beats": float(c.duration),
        "pushed": c.pushed,
        "tones": [
            {"function": t.function, "note": str(t.pitch), "guide": t.pitch.pitch_class in guides}
            for t in c.chord.tones
        ],
    }
