"""The summary of a sitting: quiet full tables, with masters' figures beside where they were counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from listener.graded import ChorusMeasures, Grade, Landing, Verdict
from listener.measures import MASTERS_GUIDE_SHARE, MASTERS_ROOT_SHARE
from listener.measures.intervals import wilson
from listener.report import chorus_name, counted, fit_words, fitted, place_words

WIDTH = 78
MOST_HANGOVERS = 10


def summary(choruses: Sequence[ChorusMeasures], *, ascii_only: bool = False) -> tuple[str, ...]:
    """The tables of a sitting, each line at most 78 columns; a sitting without a note has one line."""
    if not any(chorus.notes or chorus.dead_notes for chorus in choruses):
        return ("No notes were heard.",)
    sections = (
        chorus_table(choruses),
        grades_table(choruses),
        landings_table(choruses),
        functions_table(choruses),
        hangover_table(choruses),
        timing_table(choruses),
        phrases_table(choruses),
    )
    lines = [line for section in sections if section for line in ["", *section]]
    return tuple(fitted(line, ascii_only, WIDTH) for line in lines[1:])


def chorus_table(choruses: Sequence[ChorusMeasures]) -> list[str]:
    """One row a chorus: notes, fit with its standard error, chord tones, thirds, silence, dead notes."""
    lines = [f"{'':20}{'notes':>6}{'fit':>15}{'chord tones':>14}{'♭3→3':>10}{'silence':>10}"]
    for chorus in choruses:
        error = f" ±{chorus.fit_error:.2f}" if chorus.fit_error is not None else ""
        thirds = f"{chorus.thirds_resolved} of {chorus.thirds_played}" if chorus.thirds_played else "–"
        tones = share(chorus.chord_tones, chorus.scored)
        lines.append(
            f"{chorus_name(chorus):20}{chorus.notes:>6}{fit_words(chorus.fit) + error:>15}{tones:>14}{thirds:>10}"
            f"{percent(chorus.silence_share):>10}"
        )
        place = place_words(chorus)
        if place:
            lines.append(f"  fits better {place}")
    return lines


def grades_table(choruses: Sequence[ChorusMeasures]) -> list[str]:
    """The three grades, the third split in colour, on the way and outside; and where unresolved thirds went."""
    scored = sum(chorus.scored for chorus in choruses)
    rows = (
        ("chord tones", sum(chorus.chord_tones for chorus in choruses), "masters over dominant sevenths 49 %"),
        ("third approach", sum(chorus.third_approaches for chorus in choruses), ""),
        ("colour", sum(chorus.colour for chorus in choruses), ""),
        ("on the way", sum(chorus.on_the_way for chorus in choruses), ""),
        ("outside", sum(chorus.outside for chorus in choruses), ""),
    )
    lines = [f"Grades of {counted(scored, 'note')}"]
    lines += [f"  {name:16}{share(count, scored):>12}   {beside}".rstrip() for name, count, beside in rows]
    left: Counter[str] = Counter()
    for chorus in choruses:
        left.update(dict(chorus.thirds_left))
    if left:
        lines.append("  ♭3 left: " + ", ".join(f"{where} {count}" for where, count in left.most_common()))
    dead = sum(chorus.dead_notes for chorus in choruses)
    unscored = sum(chorus.notes - chorus.scored for chorus in choruses)
    if dead or unscored:
        lines.append(f"  {counted(dead, 'dead note')}, {counted(unscored, 'note')} shown and not scored")
    return lines


def landings_table(choruses: Sequence[ChorusMeasures]) -> list[str]:
    """Landings by function and verdict, the share on roots and on guide tones, and how they came."""
    landings = [landing for chorus in choruses for landing in chorus.landings]
    if not landings:
        return []
    tones = [landing for landing in landings if landing.grade is Grade.CHORD_TONE]
    verdicts = tuple(Verdict)
    lines = [f"{'Landings':14}{'all':>6}" + "".join(f"{verdict.value:>12}" for verdict in verdicts)]
    by_function = Counter(landing.function or "?" for landing in tones)
    for function, count in by_function.most_common():
        marks = [sum(t.function == function and verdict in t.verdicts for t in tones) for verdict in verdicts]
        lines.append(f"  {function:12}{count:>6}" + "".join(f"{mark:>12}" for mark in marks))
    outside = sum(landing.grade not in (None, Grade.CHORD_TONE) for landing in landings)
    lines.append(f"  {'outside':12}{outside:>6}")
    lines.append(f"  {'left open':12}{sum(landing.open for landing in landings):>6}")
    lines += _manner(landings)
    return lines + _habits(choruses, tones)


def _manner(landings: Sequence[Landing]) -> list[str]:
    """How the landings came where they were not plainly on the change."""
    manners = Counter[str]()
    for landing in landings:
        manners.update({"delayed": landing.delayed, "early": landing.early, "pushed": landing.pushed})
        if landing.held:
            manners[landing.held] += 1
    told = [f"{name} {count}" for name, count in manners.items() if count]
    return ["  " + ", ".join(told)] if told else []


def _habits(choruses: Sequence[ChorusMeasures], tones: Sequence[Landing]) -> list[str]:
    """Roots and guide tones among the landings on chord tones, beside the masters' shares."""
    if not tones:
        return []
    roots = sum(landing.function == "R" for landing in tones)
    guides = sum(Verdict.GUIDE_TONE in landing.verdicts for landing in tones)
    lines = []
    for name, hits, masters in (("on R", roots, MASTERS_ROOT_SHARE), ("guide tones", guides, MASTERS_GUIDE_SHARE)):
        low, high = wilson(hits, len(tones)) or (0.0, 1.0)
        interval = f"{100 * low:.0f} to {100 * high:.0f} %"
        lines.append(f"  {name:12}{hits} of {len(tones)}, {interval} (masters {percent(masters)})")
        if name == "on R" and low > MASTERS_ROOT_SHARE:
            lines.append("  roots are a habit")
    return lines


def functions_table(choruses: Sequence[ChorusMeasures]) -> list[str]:
    """Functions used over each chord, most played first, and the chord tones never used in the whole sitting."""
    used: dict[str, Counter[str]] = {}
    for chorus in choruses:
        for chord, function, count in chorus.functions:
            used.setdefault(chord, Counter())[function] += count
    never: dict[str, list[str]] = {}
    for chorus in choruses:
        for chord, function in chorus.unused:
            if function not in used.get(chord, ()) and function not in never.get(chord, ()):
                never.setdefault(chord, []).append(function)
    lines = ["Functions"]
    for chord in [*used, *(chord for chord in never if chord not in used)]:
        told = [f"{function} {count}" for function, count in used.get(chord, Counter()).most_common()]
        lines += wrapped(f"  {chord:9}", told)
        if chord in never:
            lines += wrapped(" " * 11 + "never ", never[chord])
    return lines if len(lines) > 1 else []


def hangover_table(choruses: Sequence[ChorusMeasures]) -> list[str]:
    """Late leaving by change, the worst first, counted over the sitting."""
    notes: Counter[tuple[int, str, str]] = Counter()
    times: Counter[tuple[int, str, str]] = Counter()
    for chorus in choruses:
        for late in chorus.hangovers:
            notes[late.bar, late.degree, late.into_degree] += late.notes
            times[late.bar, late.degree, late.into_degree] += 1
    lines = [
        f"  {old} for {new} at bar {bar}: {counted(count, 'note')} in {_choruses(times[bar, old, new])}"
        for (bar, old, new), count in notes.most_common(MOST_HANGOVERS)
    ]
    if len(notes) > MOST_HANGOVERS:
        lines.append(f"  and {len(notes) - MOST_HANGOVERS} more changes")
    return ["Late leaving", *lines] if lines else []


def _choruses(count: int) -> str:
    return "1 chorus" if count == 1 else f"{count} choruses"


def timing_table(choruses: Sequence[ChorusMeasures]) -> list[str]:
    """Mean and spread against the grid, and the swing ratio with its interval; only the spread says how steady."""
    lines = []
    for chorus in choruses:
        timing = chorus.timing
        if timing.mean_ms is None or timing.spread_ms is None:
            continue
        side = "behind" if timing.mean_ms >= 0 else "ahead"
        told = f"  {chorus_name(chorus):20}{abs(timing.mean_ms):.0f} ms {side}, spread {timing.spread_ms:.0f} ms"
        if timing.swing_ratio is not None and timing.swing_low is not None and timing.swing_high is not None:
            told += f", swing {timing.swing_ratio:.1f}:1 ({timing.swing_low:.1f} to {timing.swing_high:.1f})"
        lines.append(told)
    return ["Timing against the nearest eighth, triplet or sixteenth", *lines] if lines else []


def phrases_table(choruses: Sequence[ChorusMeasures]) -> list[str]:
    """Phrases of each chorus: how many, how long, and the beats on which they start."""
    lines = []
    for chorus in choruses:
        if chorus.phrases:
            lengths = sorted(length for _, _, length in chorus.phrases)
            starts = Counter(int(beat) for beat, _, _ in chorus.phrases)
            beats = ", ".join(f"{beat}" + (f" ({n})" if n > 1 else "") for beat, n in sorted(starts.items()))
            told = f"{counted(len(lengths), 'phrase')}, {lengths[0]:.1f} to {lengths[-1]:.1f} beats"
            lines.append(f"  {chorus_name(chorus):20}{told}, from beat {beats}")
    return ["Phrases", *lines] if lines else []


def wrapped(first: str, words: Sequence[str], width: int = WIDTH) -> list[str]:
    """The words two spaces apart after `first`, going on below it where the line is full."""
    lines, line = list[str](), first
    for word in words:
        if len(line) + len(word) + 2 > width and line.strip():
            lines.append(line.rstrip())
            line = " " * len(first)
        line += word + "  "
    return [*lines, line.rstrip()]


def share(count: int, of: int) -> str:
    """ "12 (51 %)", or a dash of nothing."""
    return f"{count} ({percent(count / of)})" if of else "–"


def percent(value: float) -> str:
    return f"{100 * value:.0f} %"
