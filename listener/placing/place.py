"""Where a note belongs: the chord at its onset, or, by early hands or a push, the chord about to come."""

from __future__ import annotations

from dataclasses import dataclass

from listener.events import Note
from listener.placing.line import is_dead, semitone
from listener.placing.scene import SLACK_BEATS, Scene
from progressions.timeline import Change, Span


@dataclass(frozen=True, slots=True)
class Place:
    """The span a note is graded in (None before the first beat and after the end).

    `early` is early hands, `pushed` an anticipation. From `settled_sample` on, no later note can alter the place.
    """

    span: Span | None
    early: bool
    pushed: bool
    settled_sample: float


def place(note: Note, scene: Scene) -> Place:
    """Give a note its chord.

    The chord that sounds at the onset has it, unless the next change claims it. Onsets within a window of the change
    are early hands; onsets before that window, up to half a beat before the change, may be a push. A change into
    N.C. claims nothing: there is no chord to be early for.
    """
    span = scene.timeline.span_at(note.onset_sample)
    plain = Place(span, False, False, note.onset_sample)
    change = scene.timeline.change_after(note.onset_sample)
    if is_dead(note) or change is None or change.after.chord.is_no_chord:
        return plain
    lead_beats = float(change.beat) - scene.onset_beat(note)
    if lead_beats > scene.rules.push_beats + SLACK_BEATS:
        return plain
    if _in_early_window(note, change, lead_beats, scene):
        return _early_hands(note, span, change, scene)
    return _push(note, span, change, scene)


def _in_early_window(note: Note, change: Change, lead_beats: float, scene: Scene) -> bool:
    lead_samples = scene.sample_at(float(change.beat)) - note.onset_sample
    rules = scene.rules
    return (
        lead_samples <= rules.early_hands_s * scene.rate + 1e-6 and lead_beats <= rules.early_hands_beats + SLACK_BEATS
    )


def _other_onset(note: Note, start: float, end: float, scene: Scene) -> bool:
    return scene.line.other_onset(note, start, min(end, scene.until))


def _downbeat_end(change: Change, scene: Scene) -> float:
    """Where the quarter beat after a change ends. An onset on that very point is no longer within it: in a line of
    sixteenths it is the second sixteenth, and does not take the downbeat."""
    return scene.sample_at(float(change.beat) + scene.rules.after_change_beats - SLACK_BEATS)


def _holds(change_side: Span | None, note: Note) -> bool:
    if change_side is None or note.pitch_midi is None:
        return False
    return semitone(note.pitch_midi) % 12 in change_side.chord.pitch_classes


def _early_hands(note: Note, span: Span | None, change: Change, scene: Scene) -> Place:
    """The last onset before the change belongs to the new chord, unless another one takes the downbeat, or it is a
    tone of the old chord only and the first beat of the new chord has an onset of its own."""
    downbeat_end = _downbeat_end(change, scene)
    if _other_onset(note, note.onset_sample, downbeat_end, scene):
        return Place(span, False, False, downbeat_end)
    if _holds(change.before, note) and not _holds(change.after, note):
        first_beat_end = scene.sample_at(float(change.beat) + 1 - SLACK_BEATS)
        if _other_onset(note, downbeat_end, first_beat_end, scene):
            return Place(span, False, False, first_beat_end)
        return Place(change.after, True, False, first_beat_end)
    return Place(change.after, True, False, downbeat_end)


def _push(note: Note, span: Span | None, change: Change, scene: Scene) -> Place:
    """A push takes the place of the downbeat: nothing else is struck from it until a quarter beat after the change.
    While that is still to come the note stays with the chord at its onset, so that a line of eighths does not flicker.
    """
    if not _holds(change.after, note):
        return Place(span, False, False, note.onset_sample)
    downbeat_end = _downbeat_end(change, scene)
    sounds_across = note.offset_sample is None or note.offset_sample > change.sample
    shared = _holds(change.before, note)
    if (
        scene.until < downbeat_end
        or _other_onset(note, note.onset_sample, downbeat_end, scene)
        or (shared and not sounds_across)
    ):
        return Place(span, False, False, downbeat_end)
    return Place(change.after, False, True, downbeat_end)
