"""Until when a grade is open."""

from __future__ import annotations

from listener.events import Note
from listener.grading.thirds import in_flat_third, third_root, walk
from listener.placing import SLACK_BEATS, Scene, is_dead, place


def deadline(note: Note, scene: Scene) -> float | None:
    """The sample index from which nothing can alter the grade; None while the note, or its repeat, still sounds.

    A grade is open until the later of one beat after the note's offset and a quarter beat after the next change. The
    change that counts is one that can still claim the note or the one it moves to, that is, one that comes within
    the push window after an onset; a later change alters nothing. Where early hands are at stake on a tone of the
    old chord only, the rule looks at a whole beat after the change, and so does this. A ♭3 sounded again is open
    until one beat after its last sounding. A dead note has no grade to wait for.

    `scene` looks at all that is known. The answer rests on notes that begin before it only, so it stands as soon as
    the ear's watermark has passed it.
    """
    if note.offset_sample is None:
        return None
    if is_dead(note):
        return float(note.offset_sample)
    soundings, following = _what_follows(note, scene)
    last = soundings[-1]
    if last.offset_sample is None:
        return None
    # A note that begins on the very end of the beat is still within it.
    end = scene.later(last.offset_sample, scene.rules.approach_beats + SLACK_BEATS)
    decisive = list(soundings)
    if following is not None and following.onset_sample < end:
        decisive.append(following)
    return max(end, *(place(other, scene).settled_sample for other in decisive))


def _what_follows(note: Note, scene: Scene) -> tuple[tuple[Note, ...], Note | None]:
    """The soundings of a note (more than one for a repeated ♭3), and the note that it moves to."""
    following = next(scene.line.following(note, scene.until), None)
    home = place(note, scene)
    root = None if home.span is None else third_root(home.span.chord)
    if root is None or note.pitch_midi is None or not in_flat_third(root, note.pitch_midi, scene.rules):
        return (note,), following
    went = walk(note, root, scene)
    return went.soundings, went.target or following
