"""Hangover: notes after a change that fit only the chord before, the commonest fault of a student."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from listener.graded import Grade, Hangover, Shade
from listener.measures.landings import Entry
from listener.measures.line import Played, tones_of
from listener.rules import Rules
from progressions.timeline import Timeline


def hangover(entry: Entry, notes: Sequence[Played], timeline: Timeline, rules: Rules) -> Hangover | None:
    """The hangover at one change, up to a bar after it, or None.

    A third approach, and a note on the way to a tone of the new chord, point at the new chord and are none.
    """
    old, new = entry.before, entry.span
    if old is None or old.chord.is_no_chord or not entry.counted:
        return None
    only_old = tones_of(old.chord, rules) - tones_of(new.chord, rules)
    bar = timeline.bar_at_beat(new.written_beat)
    until = min(entry.until_beat, entry.beat + Fraction(rules.hangover_bars) * bar.meter.beats_per_bar)
    late = [
        note
        for note in notes
        if note.scored
        and note.graded.span is not None
        and new.index <= note.graded.span < entry.last_span
        and note.onset_beat < until
        and not (note.graded.early or note.graded.pushed)
        and note.pitch_class in only_old
        and note.graded.grade is not Grade.THIRD_APPROACH
        and note.graded.shade is not Shade.ON_THE_WAY
    ]
    if not late:
        return None
    return Hangover(
        bar=new.bar,
        chord=old.chord.symbol,
        degree=timeline.degree(old),
        into=new.chord.symbol,
        into_degree=timeline.degree(new),
        notes=len(late),
    )
