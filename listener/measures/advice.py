"""The one thing for the next chorus: the change or function whose mending would help most, by place and note name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from listener.graded import Grade, Hangover, Landing, Verdict
from listener.measures.landings import Entry
from progressions.chords import Chord, Tone
from progressions.timeline import Span

MIN_NOTES_OVER_CHORD = 4  # fewer notes over a chord do not say that one of its tones is left out


@dataclass(frozen=True, slots=True)
class Came:
    """How the line came to one change: where, by which landing, and what hung over."""

    entry: Entry
    landing: Landing
    hangover: Hangover | None


@dataclass(frozen=True, slots=True)
class Candidate:
    """A mending, and about how many notes of the chorus it would bring into their chord or give the guide tones."""

    notes: float
    words: str


def next_thing(came: Sequence[Came], spans: Sequence[Span], used: Sequence[tuple[str, str, int]]) -> str:
    """The mending worth most notes, the earlier in the form where two are worth the same.

    At a change: its hangover, and one for a landing outside the chord, mended by a tone that only the new chord has,
    guide tones first. For a function: the notes that an even use of the chord's tones would give a guide tone that was
    never played. Where nothing is to mend: the first change whose landing is no guide tone, else the tone least used.
    """
    candidates = [_at_change(at) for at in came if at.entry.counted] + _unplayed_guides(spans, used)
    best = max(candidates, key=lambda candidate: candidate.notes, default=None)
    if best is not None and best.notes > 0:
        return best.words
    for at in came:
        if at.entry.counted and Verdict.GUIDE_TONE not in at.landing.verdicts:
            return _at_change(at).words
    return _least_used(spans, used)


def tell(chord: Chord, tone: Tone, bar: int) -> str:
    """ "F♯, the 3 of D7, on bar 5"."""
    return f"{tone.pitch}, the {tone.function} of {chord.symbol}, on bar {bar}"


def _at_change(at: Came) -> Candidate:
    landing = at.landing
    outside = landing.grade is not None and landing.grade is not Grade.CHORD_TONE
    notes = (at.hangover.notes if at.hangover else 0) + outside
    old = at.entry.before.chord.pitch_classes if at.entry.before else frozenset[int]()
    chord = at.entry.span.chord
    return Candidate(notes, tell(chord, telling_tone(chord, old), at.entry.span.bar))


def telling_tone(chord: Chord, old: frozenset[int]) -> Tone:
    """The tone that tells the change best: a guide tone that the chord before lacks, else any such, else a guide."""
    ranked = sorted(
        chord.tones,
        key=lambda tone: (_pitch_class(tone) in old, _pitch_class(tone) not in chord.guide_tones),
    )
    return ranked[0]


def _unplayed_guides(spans: Sequence[Span], used: Sequence[tuple[str, str, int]]) -> list[Candidate]:
    over: Counter[str] = Counter()
    for symbol, _, count in used:
        over[symbol] += count
    played = {(symbol, function) for symbol, function, _ in used}
    found = []
    for symbol, span in first_spans(spans).items():
        for tone in span.chord.tones:
            is_guide = _pitch_class(tone) in span.chord.guide_tones
            if is_guide and (symbol, tone.function) not in played and over[symbol] >= MIN_NOTES_OVER_CHORD:
                found.append(Candidate(over[symbol] / len(span.chord.tones), tell(span.chord, tone, span.bar)))
    return found


def _least_used(spans: Sequence[Span], used: Sequence[tuple[str, str, int]]) -> str:
    counts = {(symbol, function): count for symbol, function, count in used}
    tones = [(span, tone) for span in first_spans(spans).values() for tone in span.chord.tones]
    if not tones:
        return "a chord to play over"
    span, tone = min(tones, key=lambda pair: counts.get((pair[0].chord.symbol, pair[1].function), 0))
    return tell(span.chord, tone, span.bar)


def first_spans(spans: Sequence[Span]) -> dict[str, Span]:
    """The first span of every chord of a chorus, in order; N.C. is none."""
    first: dict[str, Span] = {}
    for span in spans:
        if not span.chord.is_no_chord:
            first.setdefault(span.chord.symbol, span)
    return first


def _pitch_class(tone: Tone) -> int:
    return tone.pitch.pitch_class
