"""The five lines at a chorus end: read from two metres while the next chorus is already running."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from listener.glyphs import ascii_text
from listener.graded import ChorusMeasures, Grade, Hangover, Landing

WIDTH = 78
SEPARATORS = ("   ", "  ", " ")  # between the places of the strip, the widest that fits


def chorus_report(
    measures: ChorusMeasures, before: ChorusMeasures | None = None, *, ascii_only: bool = False
) -> tuple[str, ...]:
    """Five lines of at most 78 columns: fit, the landings, thirds, the worst hangover, one thing for the next chorus.

    `before` is the chorus played before, whose fit stands beside. `ascii_only` is for an output whose encoding cannot
    carry the signs of music.
    """
    lines = (
        _first_line(measures, before),
        landing_strip(measures),
        thirds_line(measures),
        hangover_line(worst_hangover(measures.hangovers)),
        f"next: {measures.next_thing}",
    )
    return tuple(fitted(line, ascii_only) for line in lines)


def fitted(line: str, ascii_only: bool, width: int = WIDTH) -> str:
    """The line in at most `width` columns, in ASCII where asked."""
    text = ascii_text(line) if ascii_only else line
    return text if len(text) <= width else text[: width - 1] + ("~" if ascii_only else "…")


def landing_strip(measures: ChorusMeasures, width: int = WIDTH) -> str:
    """The landings by bar, degree and function: "1 I:3   5 IV:R   9 V:open".

    A landing outside its chord stands in parentheses, one that cannot be told as "?". Where the changes are too many
    for a line, degrees are left out ("1:3 5:R"), and where that is still too long, landings are counted by function.
    """
    landings = ([measures.entry] if measures.entry else []) + list(measures.landings)
    if not landings:
        return "one chord, no change to land on"
    bars: dict[int, list[Landing]] = {}
    for landing in landings:
        bars.setdefault(landing.bar, []).append(landing)
    full = [f"{bar} " + " ".join(f"{at.degree}:{landing_word(at)}" for at in inside) for bar, inside in bars.items()]
    short = [f"{bar}:" + " ".join(landing_word(at) for at in inside) for bar, inside in bars.items()]
    for places in (full, short):
        for separator in SEPARATORS:
            strip = separator.join(places)
            if len(ascii_text(strip)) <= width:
                return strip
    counts = Counter(landing_word(landing) for landing in landings)
    told = "  ".join(f"{word} {count}" for word, count in counts.most_common())
    return fitted(f"{len(landings)} landings: {told}", False, width)


def landing_word(landing: Landing) -> str:
    """The function landed on, in parentheses outside the chord; "open", or "?" where the note cannot be told."""
    if landing.open:
        return "open"
    if landing.function is None:
        return "?"
    return landing.function if landing.grade is Grade.CHORD_TONE else f"({landing.function})"


def thirds_line(measures: ChorusMeasures) -> str:
    """ "♭3→3  4 of 6": thirds resolved of played."""
    played = measures.thirds_played
    return f"♭3→3  {measures.thirds_resolved} of {played}" if played else "♭3→3  none played"


def worst_hangover(hangovers: Sequence[Hangover]) -> Hangover | None:
    """The hangover of most notes, the earlier of equals."""
    return max(hangovers, key=lambda hangover: hangover.notes, default=None)


def hangover_line(hangover: Hangover | None) -> str:
    """ "late leaving I at bar 5, 3 notes"."""
    if hangover is None:
        return "late leaving: none"
    return f"late leaving {hangover.degree} at bar {hangover.bar}, {counted(hangover.notes, 'note')}"


def place_words(measures: ChorusMeasures) -> str | None:
    """Where the line runs against the chart, if it lost its place: "a bar behind the chart"."""
    bars = measures.lost_place_bars
    if bars is None:
        return None
    return f"{'a bar' if abs(bars) == 1 else f'{abs(bars)} bars'} {'ahead of' if bars > 0 else 'behind'} the chart"


def fit_words(fit: float | None) -> str:
    """A fit with its sign, or a dash where there is none."""
    return "–" if fit is None else f"{fit + 0.0:+.2f}".replace("-0.00", "+0.00")


def counted(count: int, noun: str) -> str:
    """ "1 note", "3 notes"; a noun whose plural is irregular is written out by the caller."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def chorus_name(measures: ChorusMeasures) -> str:
    return f"Chorus {measures.chorus}, partial" if measures.partial else f"Chorus {measures.chorus}"


def _first_line(measures: ChorusMeasures, before: ChorusMeasures | None) -> str:
    if measures.notes == 0:
        dead = f", {counted(measures.dead_notes, 'dead note')}" if measures.dead_notes else ""
        return f"{chorus_name(measures)}   silent{dead}"
    fit = f"fit {fit_words(measures.fit)}"
    if before is not None and before.fit is not None:
        fit += f" (before {fit_words(before.fit)})"
    place = place_words(measures)
    return "   ".join([chorus_name(measures), fit] + ([place] if place else []))
