"""The ♭3 over a chord with a major third: whether it rises into the 3, and where it goes if it does not.

The third of early blues recordings is centred near 319 cents (Cutting, Empirical Musicology Review 13, 2018), so the
♭3 is a region of pitch, 250 to 350 cents above the root, not a point.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from listener.events import Gesture, Note
from listener.placing import Place, Scene, place, semitone
from listener.rules import Rules
from progressions.chords import Chord

LEFT_BY_SEMITONES = {-3: "R", -1: "9", 2: "4"}


@dataclass(frozen=True, slots=True)
class ThirdStory:
    """What became of a ♭3.

    `counts` is False for the earlier soundings of one that is sounded again: the last sounding stands for them all.
    `left` is "R", "9", "4", "stays", or None for a leap or a resolved one.
    """

    resolved: bool
    counts: bool
    left: str | None


@dataclass(frozen=True, slots=True)
class Walk:
    """The line from a ♭3 on: its soundings, the first note that is none, and the 3 that it reached, if it did.

    `target` is the 3, or the last sounding itself where that one curls into the 3.
    """

    soundings: tuple[Note, ...]
    next_other: Note | None
    target: Note | None


def cents_over(root_pitch_class: int, pitch_midi: float) -> float:
    """Cents above the nearest root below, 0 to 1200, free of float noise."""
    return round((pitch_midi - root_pitch_class) * 100.0 % 1200.0, 4) % 1200.0


def third_root(chord: Chord) -> int | None:
    """The root's pitch class where the chord has a major third, so that a ♭3 can approach it."""
    return chord.root.pitch_class if chord.root is not None and chord.third == "major" else None


def in_flat_third(root: int, pitch_midi: float, rules: Rules) -> bool:
    return rules.third_low_cents <= cents_over(root, pitch_midi) < rules.third_high_cents


def in_third(root: int, pitch_midi: float, rules: Rules) -> bool:
    return rules.third_high_cents <= cents_over(root, pitch_midi) < 450.0


def is_rise(low_midi: float, high_midi: float, rules: Rules) -> bool:
    """A rise of 50 to 150 cents, which keeps the octave."""
    return rules.rise_low_cents <= round((high_midi - low_midi) * 100.0, 4) <= rules.rise_high_cents


def _contour_start(note: Note) -> float | None:
    """Median pitch of the first third of the contour, in MIDI; None where there is no contour to speak of."""
    third = len(note.contour) // 3
    return median(midi for _, midi in note.contour[:third]) if third else None


def _curl_ends(note: Note, rules: Rules) -> tuple[float, float] | None:
    """Start and arrival of the rise inside a note, in MIDI; None where the note does not curl.

    The rise tells last third minus first third of the contour; without a contour the settled pitch is taken for the
    start. Vibrato is no curl. A rise that is larger than a curl and was not made two notes is taken up to 150 cents.
    """
    rise = round(note.rise_cents, 4)
    if note.pitch_midi is None or note.gesture is Gesture.VIBRATO:
        return None
    if not rules.curl_low_cents <= rise <= rules.rise_high_cents:
        return None
    start = _contour_start(note)
    start = note.pitch_midi if start is None else start
    return start, start + rise / 100.0


def curls_into_third(note: Note, root: int, rules: Rules) -> bool:
    """Whether a note that begins in the ♭3 region rises of itself until it stands in the region of the 3."""
    ends = _curl_ends(note, rules)
    return ends is not None and in_flat_third(root, ends[0], rules) and in_third(root, ends[1], rules)


def carries_third(note: Note, root: int, scene: Scene) -> bool:
    """Whether a note that settled on the 3 began at the ♭3: a bend or slide at once, or a curl.

    A note slurred out of a ♭3 that stood as a note of its own does not: that one tells the third.
    """
    if note.pitch_midi is None or not in_third(root, note.pitch_midi, scene.rules):
        return False
    source = note.slurred_from
    if source is not None and source in scene.line:
        source_midi = scene.line[source].pitch_midi
        if source_midi is not None and in_flat_third(root, source_midi, scene.rules):
            return False
    if note.from_midi is not None and in_flat_third(root, note.from_midi, scene.rules):
        return is_rise(note.from_midi, note.pitch_midi, scene.rules)
    return curls_into_third(note, root, scene.rules)


def _reaches(sounding: Note, other: Note, root: int, rules: Rules) -> bool:
    assert sounding.pitch_midi is not None
    assert other.pitch_midi is not None
    return in_third(root, other.pitch_midi, rules) and is_rise(sounding.pitch_midi, other.pitch_midi, rules)


def walk(note: Note, root: int, scene: Scene) -> Walk:
    """Follow a ♭3: its repeats, at most one other note within a whole tone of the 3, and the 3.

    Each repeat, and the 3, begins within one beat after the end of the last sounding.
    """
    rules = scene.rules
    assert note.pitch_midi is not None
    key = semitone(note.pitch_midi)
    soundings = [note]
    if curls_into_third(note, root, rules):
        return Walk((note,), None, note)
    next_other: Note | None = None
    for other in scene.line.following(note, scene.until):
        assert other.pitch_midi is not None
        if not scene.comes_within(soundings[-1], other, rules.approach_beats):
            break
        if _reaches(soundings[-1], other, root, rules):
            return Walk(tuple(soundings), next_other or other, other)
        if semitone(other.pitch_midi) == key:
            soundings.append(other)
            if curls_into_third(other, root, rules):
                return Walk(tuple(soundings), next_other, other)
        elif next_other is None and abs(semitone(other.pitch_midi) - (key + 1)) <= 2:
            next_other = other
        else:
            next_other = next_other or other
            break
    return Walk(tuple(soundings), next_other, None)


def _holds_the_third(target: Note, root: int, home: Place, scene: Scene) -> bool:
    """The 3 may fall in the same chord, or in the next one if that chord holds its pitch class."""
    there = place(target, scene).span
    if there is None or home.span is None or (root + 4) % 12 not in there.chord.pitch_classes:
        return False
    between = [c for c in scene.timeline.changes if home.span.start_beat < c.beat <= there.start_beat]
    return len(between) <= 1


def _is_flat_third_there(note: Note, root: int, scene: Scene) -> bool:
    span = place(note, scene).span
    return span is not None and third_root(span.chord) == root


def tell_third(note: Note, home: Place, root: int, scene: Scene) -> ThirdStory:
    """The story of a ♭3 that is placed in a chord on `root` with a major third."""
    went = walk(note, root, scene)
    if went.target is not None and _holds_the_third(went.target, root, home, scene):
        again = any(_is_flat_third_there(sounding, root, scene) for sounding in went.soundings[1:])
        bent = went.target not in went.soundings and carries_third(went.target, root, scene)
        return ThirdStory(True, not again and not bent, None)
    return _tell_left(note, root, scene)


def _tell_left(note: Note, root: int, scene: Scene) -> ThirdStory:
    """Where an unresolved ♭3 goes from the last of its immediate repeats."""
    assert note.pitch_midi is not None
    key = semitone(note.pitch_midi)
    last, counts = note, True
    for other in scene.line.following(note, scene.until):
        assert other.pitch_midi is not None
        if not scene.comes_within(last, other, scene.rules.approach_beats):
            break
        if semitone(other.pitch_midi) != key:
            return ThirdStory(False, counts, LEFT_BY_SEMITONES.get(semitone(other.pitch_midi) - key))
        last = other
        counts = counts and not _is_flat_third_there(other, root, scene)
    return ThirdStory(False, counts, "stays")
