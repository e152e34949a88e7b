"""The grade of a note: a pure function of the note, the line around it, the changes and the rules."""

from __future__ import annotations

from dataclasses import dataclass

from listener.events import Note
from listener.graded import Explained, Grade, Graded, Shade
from listener.grading.explaining import counts_as_chord_tone, explain
from listener.grading.thirds import carries_third, cents_over, in_flat_third, tell_third, third_root
from listener.placing import Place, Scene, is_dead, place, semitone
from progressions.timeline import Span

ON_THE_WAY = frozenset({Explained.ENCLOSURE, Explained.CHROMATIC_APPROACH, Explained.PASSING})
BLUE_THIRD_SEMITONES = 3


@dataclass(frozen=True, slots=True)
class _Where:
    """Chorus, bar and beat of an onset, from 1; all None before the first count."""

    chorus: int | None
    bar: int | None
    beat: float | None


@dataclass(frozen=True, slots=True)
class _Judged:
    """The harmonic part of a grade."""

    grade: Grade | None
    explained: Explained | None = None
    resolved: bool | None = None
    third: bool | None = None
    left: str | None = None


def grade_note(note: Note, scene: Scene, *, final: bool = True) -> Graded:
    """Grade one note.

    `final` False tells what is known of an open note: a ♭3 that has not risen yet is neither resolved nor left.
    Notes without a grade (dead, before the first beat, after the end, over N.C.) have `grade` None and are not
    scored; ghosts, notes the ear could not separate and notes that touch lost input are graded and not scored.
    """
    home = place(note, scene)
    where = _where(note, home, scene)
    why_not = _why_not_graded(note, home, scene)
    if home.span is None or why_not is not None or note.pitch_midi is None:
        chord = None if home.span is None else home.span.chord.symbol
        index = None if home.span is None else home.span.index
        return Graded(
            note, where.chorus, where.bar, where.beat, index, chord, None, None, None, scored=False, why_not=why_not
        )
    chord_of_note = home.span.chord
    pitch_class = semitone(note.pitch_midi) % 12
    judged = _judge(note, home, home.span, scene, final)
    why_not = _why_not_scored(note, scene)
    outside = judged.grade is Grade.OUTSIDE
    return Graded(
        note=note,
        chorus=where.chorus,
        bar=where.bar,
        beat=where.beat,
        span=home.span.index,
        chord=chord_of_note.symbol,
        function=chord_of_note.function_of(pitch_class) or chord_of_note.degree_of(pitch_class),
        name=str(chord_of_note.name_of(pitch_class)),
        grade=judged.grade,
        explained=judged.explained,
        shade=_shade(judged, home.span, pitch_class) if outside else None,
        resolved=judged.resolved,
        # What is shown only adds nothing to any count.
        third=judged.third if why_not is None else None,
        left=judged.left,
        low_third=_is_low_third(note.pitch_midi, home.span, scene),
        key_degree=_blue_third(pitch_class, home.span),
        pushed=home.pushed,
        early=home.early,
        scored=why_not is None,
        why_not=why_not,
    )


def _where(note: Note, home: Place, scene: Scene) -> _Where:
    """Where the note was played. A pick-up claimed by the first chord stands in bar 0 of chorus 1."""
    position = scene.timeline.position_at(note.onset_sample)
    if position is not None:
        return _Where(position.chorus, position.bar, position.beat)
    if home.span is None:
        return _Where(None, None, None)
    return _Where(1, 0, scene.timeline.beats_per_bar + 1 + scene.onset_beat(note))


def _why_not_graded(note: Note, home: Place, scene: Scene) -> str | None:
    if is_dead(note):
        return "unsure" if note.unsure else "dead note"
    if home.span is None:
        return "pick-up" if scene.onset_beat(note) < 0 else "after the end"
    return "no chord" if home.span.chord.is_no_chord else None


def _why_not_scored(note: Note, scene: Scene) -> str | None:
    if note.touches_gap:
        return "lost input"
    if note.unsure:
        return "unsure"
    return "ghost" if scene.line.is_ghost(note) else None


def _judge(note: Note, home: Place, span: Span, scene: Scene, final: bool) -> _Judged:
    assert note.pitch_midi is not None
    root = third_root(span.chord)
    pitch_class = semitone(note.pitch_midi) % 12
    if root is not None and in_flat_third(root, note.pitch_midi, scene.rules):
        return _judge_flat_third(note, home, span, root, scene, final)
    if counts_as_chord_tone(pitch_class, span.chord, scene.rules):
        risen = True if root is not None and carries_third(note, root, scene) else None
        return _Judged(Grade.CHORD_TONE, resolved=risen, third=risen)
    return _Judged(Grade.OUTSIDE, explain(note, span.chord, scene))


def _judge_flat_third(note: Note, home: Place, span: Span, root: int, scene: Scene, final: bool) -> _Judged:
    """A ♭3 over a major third: an approach if it rises, a chord tone over 7♯9, else outside and where it went."""
    assert note.pitch_midi is not None
    story = tell_third(note, home, root, scene)
    if counts_as_chord_tone(semitone(note.pitch_midi) % 12, span.chord, scene.rules):
        # A ♯9 that stays is simply a tone of its chord; only its rise tells of the third.
        return _Judged(
            Grade.CHORD_TONE,
            resolved=story.resolved or None,
            third=True if story.resolved and story.counts else None,
        )
    if story.resolved:
        return _Judged(Grade.THIRD_APPROACH, resolved=True, third=True if story.counts else None)
    if not final and story.left in ("stays", None):
        return _Judged(Grade.OUTSIDE, Explained.FLAT_THIRD_LEFT)
    third = False if final and story.counts else None
    if story.left is not None:
        return _Judged(Grade.OUTSIDE, Explained.FLAT_THIRD_LEFT, False if final else None, third, story.left)
    return _Judged(Grade.OUTSIDE, explain(note, span.chord, scene), False, third)


def _shade(judged: _Judged, span: Span, pitch_class: int) -> Shade:
    """Colour is told by pitch; a ♭3 left to 9 or 4 goes by step, one left to R leaps a third."""
    if span.chord.is_colour(pitch_class):
        return Shade.COLOUR
    if judged.explained in ON_THE_WAY or judged.left in ("9", "4"):
        return Shade.ON_THE_WAY
    return Shade.OUTSIDE


def _is_low_third(pitch_midi: float, span: Span, scene: Scene) -> bool:
    root = third_root(span.chord)
    if root is None:
        return False
    return scene.rules.third_high_cents <= cents_over(root, pitch_midi) < scene.rules.low_third_cents


def _blue_third(pitch_class: int, span: Span) -> str | None:
    """The ♭3 of a major key; in a minor key it is no blue note but the third of the scale."""
    tonic = span.key.tonic.pitch_class
    return "♭3" if not span.key.minor and (pitch_class - tonic) % 12 == BLUE_THIRD_SEMITONES else None
