"""Laws of placing and grading that hold for every line and every changes."""

from __future__ import annotations

import pickle
import random
from collections import Counter
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from lines import RATE, finals, grade_events, tell, timeline
from listener.events import EarEvent, Gesture, Note, Watermark
from listener.graded import (
    ChorusFinal,
    Graded,
    GradeEvent,
    GradeFinal,
    GradeOpened,
    GradeRevised,
)
from listener.grading import Grader
from listener.rules import Rules
from progressions.chart import parse_chart, parse_key, transpose_chart
from progressions.timeline import Timeline
from progressions.timemap import TimeMap

# Changes on every beat that the rules look at: a bar, half a bar, a beat; every kind of third; N.C. and a slash bass.
CHANGES = [
    "title: a\nkey: C\n| C7 | F7 | Dm7 G7 | C7♯9 C7sus4 |",
    "title: b\nkey: E♭ minor\n| E♭m7 | A♭7/C B♭7 | N.C. E♭6 | B♭7♭9:3 B°7:1 |",
]
SIXTEENTH = RATE // 4
OFF_GRID = [0, 0, 0, -1, 1, -2400, -2880, -1200, 1199]  # samples: around the early-hands and double-stop windows
CENTS = [0, 0, 0, 19, -31, -50, 49, 50]

# A law is not a race: a busy machine must not fail it.
law = settings(deadline=None)


@st.composite
def lines(draw: st.DrawFn) -> list[Note]:
    """A line with double stops, slurs, bends, curls, ghosts and dead notes, no pitch twice at one onset."""
    made: dict[tuple[int, float], Note] = {}
    at = draw(st.integers(-3, 30)) * SIXTEENTH
    for _ in range(draw(st.integers(1, 12))):
        at += draw(st.sampled_from([1, 1, 2, 2, 3, 4])) * SIXTEENTH
        onset = at + draw(st.sampled_from(OFF_GRID))
        for _ in range(draw(st.sampled_from([1, 1, 1, 2]))):
            note = draw(single_notes(onset))
            made[onset, -1.0 if note.pitch_midi is None else note.pitch_midi] = note
    return [replace(note, id=id) for id, note in enumerate(made.values(), start=1)]


@st.composite
def single_notes(draw: st.DrawFn, onset: int) -> Note:
    pitch = draw(st.integers(60, 69)) + draw(st.sampled_from(CENTS)) / 100
    gesture = draw(st.sampled_from([Gesture.PICKED] * 9 + [Gesture.CURL, Gesture.BEND, Gesture.DEAD]))
    return Note(
        id=0,
        onset_sample=onset,
        offset_sample=onset + draw(st.integers(1, 12)) * SIXTEENTH // 4,
        pitch_midi=None if gesture is Gesture.DEAD else pitch,
        gesture=gesture,
        from_midi=pitch - 1.0 if gesture is Gesture.BEND else None,
        rise_cents=60.0 if gesture is Gesture.CURL else 0.0,
        voice=draw(st.sampled_from([0, 0, 0, 1])),
        level_db=draw(st.sampled_from([-20.0] * 5 + [-45.0])),
        confidence=draw(st.sampled_from([1.0] * 7 + [0.1])),
        unsure=draw(st.sampled_from([False] * 9 + [True])),
    )


changes = st.sampled_from(CHANGES)


def laid(text: str, tempo: float = 60) -> Timeline:
    return timeline(text, tempo=tempo)


def verdict(graded: Graded) -> Graded:
    """All that a grade says but the note itself and the names of chord and note, which follow the key."""
    return replace(graded, note=Note(0, 0, 0, None), chord=None, name=None)


def all_finals(played: list[Note], over: Timeline, rules: Rules | None = None) -> list[Graded]:
    return finals(grade_events(tell(played), over, rules))


@law
@given(played=lines(), text=changes, semitones=st.integers(-11, 11))
def test_transposing_line_and_changes_together_changes_no_grade(played: list[Note], text: str, semitones: int) -> None:
    chart = parse_chart(text)
    tonics = ["C", "D♭", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"]
    mode = " minor" if chart.key.minor else ""
    key = parse_key(tonics[(chart.key.tonic.pitch_class + semitones) % 12] + mode)
    moved = [
        replace(
            n,
            pitch_midi=None if n.pitch_midi is None else n.pitch_midi + semitones,
            from_midi=None if n.from_midi is None else n.from_midi + semitones,
        )
        for n in played
    ]
    there = Timeline(transpose_chart(chart, key), 1, TimeMap.steady(RATE, 60))
    here = all_finals(played, laid(text))
    assert [verdict(g) for g in all_finals(moved, there)] == [verdict(g) for g in here]


@law
@given(played=lines(), text=changes, factor=st.sampled_from([2, 3, 5]))
def test_scaling_tempo_and_every_duration_constant_together_changes_no_grade(
    played: list[Note], text: str, factor: int
) -> None:
    slow = [
        replace(n, onset_sample=n.onset_sample * factor, offset_sample=(n.offset_sample or 0) * factor) for n in played
    ]
    # 60 / 3 and 60 / 5 are under the slowest tempo, so the faster line starts at 180.
    quick = Timeline(parse_chart(text), 1, TimeMap.steady(RATE * 3, 180))
    wide = Timeline(parse_chart(text), 1, TimeMap.steady(RATE * 3, 180 / factor))
    here = all_finals(played, quick, Rules())
    there = all_finals(slow, wide, Rules().scaled(factor))
    assert [replace(verdict(g), beat=None) for g in there] == [replace(verdict(g), beat=None) for g in here]


@law
@given(played=lines(), text=changes, seed=st.integers(0, 2**16))
def test_the_order_in_which_simultaneous_notes_arrive_changes_nothing(played: list[Note], text: str, seed: int) -> None:
    here = all_finals(played, laid(text))
    order = list(played)
    random.Random(seed).shuffle(order)
    # The ear numbers notes as they arrive, so a shuffled arrival gives other ids to the notes of one moment as well.
    numbered = {note.id: new for new, note in enumerate(order, start=1)}
    there = all_finals([replace(n, id=numbered[n.id]) for n in order], laid(text))
    by_note = {numbered[g.note.id]: verdict(g) for g in here}
    assert {g.note.id: verdict(g) for g in there} == by_note


@law
@given(played=lines(), text=changes)
def test_every_note_gets_exactly_one_final_grade_and_nothing_after_it(played: list[Note], text: str) -> None:
    told = grade_events(tell(played), laid(text))
    assert Counter(e.id for e in told if isinstance(e, GradeFinal)) == {n.id: 1 for n in played}
    assert Counter(e.id for e in told if isinstance(e, GradeOpened)) == {n.id: 1 for n in played}
    done: set[int] = set()
    for event in told:
        if isinstance(event, GradeFinal):
            done.add(event.id)
        elif isinstance(event, GradeOpened | GradeRevised):
            assert event.id not in done
    assert [e.chorus for e in told if isinstance(e, ChorusFinal)] == [1]
    stamps = [e.told_sample for e in told]
    assert stamps == sorted(stamps), "what is told later is stamped later"


def in_pieces(events: list[EarEvent], cuts: list[int], over: Timeline) -> list[GradeEvent]:
    """The same events pushed piece by piece, the grader pickled in between."""
    grader, out = Grader(over, Rules(), RATE), []
    for start, end in zip([0, *cuts], [*cuts, len(events)], strict=True):
        piece = events[start:end]
        at = max([e.sample if isinstance(e, Watermark) else e.told_sample for e in piece], default=0)
        out += grader.push(piece, at)
        grader = pickle.loads(pickle.dumps(grader))
    return out


@law
@given(played=lines(), text=changes, data=st.data())
def test_pushing_the_same_events_in_any_pieces_tells_the_same(
    played: list[Note], text: str, data: st.DataObject
) -> None:
    over = laid(text)
    end = round(over.time_map.sample_at(over.end_beat)) + 20 * SIXTEENTH
    events: list[EarEvent] = [*tell(played), Watermark(end)]
    cuts = sorted(data.draw(st.lists(st.integers(0, len(events)), max_size=6)))
    whole = Grader(over, Rules(), RATE).push(events, end)
    assert in_pieces(events, cuts, over) == whole


@law
@given(played=lines(), text=changes, data=st.data())
def test_watermarks_that_come_late_change_no_final_grade(played: list[Note], text: str, data: st.DataObject) -> None:
    """A slower ear, or larger blocks: fewer watermarks make grades final later, never otherwise."""
    over = laid(text)
    events = tell(played)
    marks = [i for i, e in enumerate(events) if isinstance(e, Watermark)]
    dropped = set(data.draw(st.lists(st.sampled_from(marks), unique=True)))
    fewer = [e for i, e in enumerate(events) if i not in dropped]
    assert finals(grade_events(fewer, over)) == finals(grade_events(events, over))
