"""Landings: the first note of the new chord at each change, how the line moved into it, and by what right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from listener.graded import Grade, Landing, Verdict
from listener.measures.line import Played, tones_of
from listener.rules import Rules
from progressions.chords import Chord
from progressions.timeline import Change, Span, Timeline

WHOLE_TONE = 2


@dataclass(frozen=True, slots=True)
class Entry:
    """A place at which the line comes into a chord, up to the next change.

    `until_beat` ends the search for a landing: a bar after the change, the next change, or the end of the chorus.
    `last_span` is one past the last span of the chord. `counted` is False for the seam of a chorus that is no change.
    """

    span: Span
    before: Span | None
    beat: Fraction
    until_beat: Fraction
    last_span: int
    counted: bool = True


def entries(timeline: Timeline, chorus: int) -> list[Entry]:
    """The changes of a chorus in order, before them its own beginning where that is no change; N.C. is not entered.

    The change to the closing chord belongs to the last chorus.
    """
    end = timeline.chorus_beats(chorus)[1]
    changes = list(timeline.changes)
    found = []
    for change, following in zip(changes, [*changes[1:], None], strict=True):
        if change.after.chorus == chorus:
            found.append(_entry(timeline, change, following, end))
    first = next((span for span in timeline.spans if span.chorus == chorus and not span.closing), None)
    if first is not None and not any(entry.span.index == first.index for entry in found):
        following = next((change for change in changes if change.beat > first.start_beat), None)
        seam = Change(-1, first.start_beat, 0, timeline.spans[first.index - 1] if first.index else None, first)
        found.insert(0, replace(_entry(timeline, seam, following, end), counted=False))
    return [entry for entry in found if not entry.span.chord.is_no_chord]


def _entry(timeline: Timeline, change: Change, following: Change | None, chorus_end: Fraction) -> Entry:
    until = change.beat + timeline.bar_at_beat(change.after.written_beat).meter.beats_per_bar
    if not change.after.closing:
        until = min(until, chorus_end)
    last_span = len(timeline.spans)
    if following is not None:
        until, last_span = min(until, following.beat), following.after.index
    return Entry(change.after, change.before, change.beat, until, last_span)


def landing(entry: Entry, line: Sequence[Played], timeline: Timeline, rules: Rules) -> Landing:
    """How the line lands at `entry`; `line` holds the notes of the line in order of onset.

    A note is held over the change when it sounds a quarter beat after it and no other onset comes from the note until
    then. Without a landing the chord is left open.
    """
    span = entry.span
    empty = Landing(
        chorus=span.chorus,
        bar=span.bar,
        beat=float(span.beat + 1),
        chord=span.chord.symbol,
        degree=timeline.degree(span),
        open=True,
    )
    inside = [i for i, note in enumerate(line) if _is_inside(note, entry)]
    held = _held_over(entry, line, rules)
    if held is not None:
        return _held_landing(empty, entry, line, held, rules)
    if not inside:
        return empty
    first = inside[0]
    at, delayed = _delayed(line, inside, rules) if not _is_tone(line[first]) else (first, False)
    note = line[at]
    before = line[at - 1] if at else None
    guide = note.pitch_class in span.chord.guide_tones
    verdicts = _verdicts(before, note, span.chord, guide, rules) if _is_tone(note) else ()
    return replace(
        empty,
        open=False,
        note_id=note.graded.note.id,
        function=note.graded.function,
        name=note.graded.name,
        motion_semitones=float(note.semitone - before.semitone) if before else None,
        verdicts=verdicts,
        delayed=delayed,
        early=line[first].graded.early,
        pushed=line[first].graded.pushed,
        grade=note.graded.grade,
    )


def _is_inside(note: Played, entry: Entry) -> bool:
    """Whether a scored note is graded in the chord entered and comes within the search."""
    span = note.graded.span
    in_chord = note.scored and span is not None and entry.span.index <= span < entry.last_span
    return in_chord and note.onset_beat < entry.until_beat


def _is_tone(note: Played) -> bool:
    return note.graded.grade is Grade.CHORD_TONE


def _held_over(entry: Entry, line: Sequence[Played], rules: Rules) -> int | None:
    """Index of the note held over the change that is a tone of the new chord, or None."""
    stands_until = float(entry.beat) + rules.after_change_beats
    before = [i for i, note in enumerate(line) if note.onset_beat < stands_until]
    if not before:
        return None
    note = line[before[-1]]
    earlier_chord = note.graded.span is not None and note.graded.span < entry.span.index
    if not (note.scored and earlier_chord and note.end_beat > stands_until):
        return None
    return before[-1] if note.pitch_class in tones_of(entry.span.chord, rules) else None


def _held_landing(empty: Landing, entry: Entry, line: Sequence[Played], at: int, rules: Rules) -> Landing:
    """A held note as the landing: a common tone does not move; a suspended one moved where it was played."""
    note, chord = line[at], entry.span.chord
    common = entry.before is not None and note.pitch_class in tones_of(entry.before.chord, rules)
    before = note if common else (line[at - 1] if at else None)
    guide = note.pitch_class in chord.guide_tones
    return replace(
        empty,
        open=False,
        note_id=note.graded.note.id,
        function=chord.degree_of(note.pitch_class),
        name=str(chord.name_of(note.pitch_class)),
        motion_semitones=float(note.semitone - before.semitone) if before else None,
        verdicts=_verdicts(before, note, chord, guide, rules),
        held="common tone held" if common else "suspended in",
        grade=Grade.CHORD_TONE,
    )


def _delayed(line: Sequence[Played], inside: Sequence[int], rules: Rules) -> tuple[int, bool]:
    """The first chord tone after an outside landing where it follows in time and by step, else that landing."""
    first = line[inside[0]]
    arrival = next((i for i in inside[1:] if _is_tone(line[i])), None)
    if arrival is None:
        return inside[0], False
    in_time = line[arrival].onset_beat - first.onset_beat <= rules.delayed_beats
    by_step = abs(line[arrival].semitone - first.semitone) <= WHOLE_TONE
    return (arrival, True) if in_time and by_step else (inside[0], False)


def _verdicts(before: Played | None, note: Played, chord: Chord, guide: bool, rules: Rules) -> tuple[Verdict, ...]:
    """All verdicts that fit, *leap* only where no other does; without a note before there is no motion to judge."""
    verdicts = []
    if before is not None:
        low, high = sorted((before.semitone, note.semitone))
        tones = tones_of(chord, rules)
        if not any(pitch % 12 in tones for pitch in range(low + 1, high)):
            verdicts.append(Verdict.NEAREST)
        if high - low <= WHOLE_TONE:
            verdicts.append(Verdict.SMOOTH)
    if guide:
        verdicts.append(Verdict.GUIDE_TONE)
    return tuple(verdicts) if verdicts or before is None else (Verdict.LEAP,)
