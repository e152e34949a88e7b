"""What an outside note was: the first explanation that fits. It explains; the grade stays."""

from __future__ import annotations

from itertools import islice

from listener.events import Note
from listener.graded import Explained
from listener.placing import SLACK_BEATS, Scene, place, semitone
from listener.rules import Rules
from progressions.chords import Chord


def counts_as_chord_tone(pitch_class: int, chord: Chord, rules: Rules) -> bool:
    """In the chord, or a colour where the player counts colours as chord tones."""
    return pitch_class in chord.pitch_classes or (rules.colour_is_chord_tone and chord.is_colour(pitch_class))


def explain(note: Note, chord: Chord, scene: Scene) -> Explained:
    """Enclosure, chromatic approach, scale tone, passing, or plain outside, in this order."""
    assert note.pitch_midi is not None
    if _is_enclosure(note, scene):
        return Explained.ENCLOSURE
    if _is_chromatic_approach(note, scene):
        return Explained.CHROMATIC_APPROACH
    if chord.is_scale_tone(semitone(note.pitch_midi) % 12):
        return Explained.SCALE_TONE
    if _is_passing(note, scene):
        return Explained.PASSING
    return Explained.PLAIN


def _lands_on_chord_tone(note: Note, scene: Scene) -> bool:
    """Whether a note is a tone of the chord it is placed in itself."""
    span = place(note, scene).span
    if span is None or note.pitch_midi is None:
        return False
    return counts_as_chord_tone(semitone(note.pitch_midi) % 12, span.chord, scene.rules)


def _steps(note: Note, other: Note) -> int:
    """Semitones from a note up to another, negative for down."""
    assert note.pitch_midi is not None
    assert other.pitch_midi is not None
    return semitone(other.pitch_midi) - semitone(note.pitch_midi)


def _is_enclosure(note: Note, scene: Scene) -> bool:
    """Either of the two notes, next to each other in the line, that stand around the chord tone that follows them."""
    coming = list(islice(scene.line.following(note, scene.until), 2))
    if len(coming) == 2 and _encloses(note, coming[0], coming[1], scene):
        return True
    since = scene.later(note.onset_sample, -scene.rules.enclosure_beats)
    before = next(scene.line.preceding(note, since), None)
    return before is not None and bool(coming) and _encloses(before, note, coming[0], scene)


def _encloses(first: Note, second: Note, target: Note, scene: Scene) -> bool:
    one, two = _steps(target, first), _steps(target, second)
    if one * two >= 0 or max(abs(one), abs(two)) > 2:
        return False
    length = scene.onset_beat(target) - scene.onset_beat(first)
    return length <= scene.rules.enclosure_beats + SLACK_BEATS and _lands_on_chord_tone(target, scene)


def _is_chromatic_approach(note: Note, scene: Scene) -> bool:
    coming = next(scene.line.following(note, scene.until), None)
    return (
        coming is not None
        and abs(_steps(note, coming)) == 1
        and scene.comes_within(note, coming, scene.rules.approach_beats)
        and _lands_on_chord_tone(coming, scene)
    )


def _is_passing(note: Note, scene: Scene) -> bool:
    """On from one graded note to another in one direction, by semitones or whole tones, no rest longer than a beat."""
    # A bar back is far enough: a note that began earlier is no step of the same run.
    bar = scene.timeline.bar_at_beat(scene.onset_beat(note))
    since = scene.later(note.onset_sample, -float(bar.meter.beats_per_bar))
    before = next(scene.line.preceding(note, since), None)
    coming = next(scene.line.following(note, scene.until), None)
    if before is None or coming is None:
        return False
    near = scene.comes_within(before, note, scene.rules.approach_beats)
    near = near and scene.comes_within(note, coming, scene.rules.approach_beats)
    one, two = _steps(before, note), _steps(note, coming)
    stepwise = one * two > 0 and max(abs(one), abs(two)) <= 2
    return near and stepwise and _is_graded(before, scene) and _is_graded(coming, scene)


def _is_graded(note: Note, scene: Scene) -> bool:
    span = place(note, scene).span
    return span is not None and not span.chord.is_no_chord
