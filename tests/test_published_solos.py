"""The grader against 24 transcribed solos over blues changes, 10,328 notes, and what was counted on them.

The expected side is the database's own: the class of every note over its chord, and the shares of published counts.
Where the two differ the reason is printed (run with -s) and its number of notes is held.
"""

from __future__ import annotations

from collections import Counter

import pytest

from listener.graded import Grade
from listener.grading.thirds import tell_third, walk
from listener.placing import NoteLine, Place, Scene
from listener.rules import Rules
from progressions.chords import parse_chord
from progressions.timeline import Span, Timeline
from published_solos import CLASSES, DOMINANT, RATE, Heard, graded_solos, quality_of, translated

# Rules by which the function of a note in one and the same chord is told otherwise, with the notes that they concern.
EXPLAINED = {
    ("o", "6", "°7"): ("the ninth semitone over a diminished seventh chord is its seventh, 𝄫7", 11),
}
# The other count: chords as the database's plain type, without the extensions of the symbol.
PLAIN_TYPES = {
    "": (0, 4, 7),
    "-": (0, 3, 7),
    "-7": (0, 3, 7, 10),
    "m7b5": (0, 3, 6, 10),
    "o": (0, 3, 6),
    "j7911#": (0, 4, 7, 11),
}
DOMINANT_TYPE = (0, 4, 7, 10)

BY_ONSET = Rules(early_hands_s=0.0, push_beats=0.0)  # the chord at the onset, no claims by the next one


def all_notes(rules: Rules) -> list[Heard]:
    return [heard for _, solo in graded_solos(rules) for heard in solo]


def in_same_chord(heard: Heard) -> bool:
    return heard.graded.chord == parse_chord(translated(heard.chord)).symbol


def test_the_function_of_every_note_is_the_class_of_the_database() -> None:
    notes = all_notes(Rules())
    assert len(notes) == 10_328
    differing: Counter[tuple[str, str, str | None]] = Counter()
    elsewhere: Counter[str] = Counter()
    for heard in notes:
        graded = heard.graded
        if not in_same_chord(heard):
            by = "early hands" if graded.early else "push" if graded.pushed else "database gave it to the next chord"
            elsewhere[by] += 1
        elif graded.function not in CLASSES[heard.degree]:
            differing[quality_of(heard.chord), heard.degree, graded.function] += 1
    print("\nin another chord than the database's:", dict(elsewhere))
    for key, count in differing.items():
        print(f"{count} notes, {key}: {EXPLAINED[key][0]}")
    assert differing == {key: count for key, (_, count) in EXPLAINED.items()}
    assert sum(elsewhere.values()) < 0.02 * len(notes)


def test_a_note_stands_in_another_chord_than_the_databases_only_next_to_a_change() -> None:
    """The database gives a note to the nearest beat of its metrical reading; we give it to its onset, and to the
    next chord by early hands or a push. So the two differ only in the last half beat before a change."""
    for over, solo in graded_solos(Rules()):
        for heard in solo:
            if in_same_chord(heard):
                continue
            change = over.change_after(heard.graded.note.onset_sample)
            assert change is not None
            assert float(change.beat) - over.time_map.beat_at(heard.graded.note.onset_sample) <= 0.5


@pytest.mark.parametrize(("rules", "chord_tones"), [(BY_ONSET, 0.49), (Rules(), 0.50)])
def test_masters_play_49_per_cent_chord_tones_over_dominant_sevenths(rules: Rules, chord_tones: float) -> None:
    """Counted by the chord at the onset it is 49 %; early hands and pushes, given to their own chord, add one."""
    over_dominant = [h for h in all_notes(rules) if h.graded.chord == dominant_name(h)]
    tones = sum(h.graded.grade is Grade.CHORD_TONE for h in over_dominant) / len(over_dominant)
    colour = sum(h.graded.function in ("9", "13") for h in over_dominant) / len(over_dominant)
    print(f"\n{len(over_dominant)} notes: chord tones {tones:.3f}, 9 and 13 {colour:.3f}")
    assert tones == pytest.approx(chord_tones, abs=0.005)
    assert colour == pytest.approx(0.18, abs=0.005)


def dominant_name(heard: Heard) -> str | None:
    """The chord it is graded in where that is a plain dominant seventh, else a name that no chord has."""
    name = heard.graded.chord
    return name if name is not None and name.lstrip("ABCDEFG♭♯") == DOMINANT else ""


def where_flat_thirds_went() -> Counter[tuple[str | None, bool]]:
    """What became of every ♭3 over a dominant seventh, in the chord that the database gives it, and whether it
    stepped to the 9 first."""
    went: Counter[tuple[str | None, bool]] = Counter()
    for over, solo in graded_solos(BY_ONSET):
        line = NoteLine(BY_ONSET, RATE)
        for heard in solo:
            line.put(heard.graded.note)
        scene = Scene(line, over, BY_ONSET, RATE)
        for heard in solo:
            if quality_of(heard.chord) != DOMINANT or heard.chordal_pc != 3:
                continue
            span, note = databases_span(heard, over), heard.graded.note
            assert span.chord.root is not None
            story = tell_third(note, Place(span, False, False, 0), span.chord.root.pitch_class, scene)
            first_step = walk(note, span.chord.root.pitch_class, scene).next_other
            to_nine = first_step is not None and first_step.pitch_midi == (note.pitch_midi or 0) - 1
            went["3" if story.resolved else story.left, to_nine] += 1
    return went


def databases_span(heard: Heard, over: Timeline) -> Span:
    """The span of the database's chord at the note's onset, or right after it."""
    onset = heard.graded.note.onset_sample
    here, change = over.span_at(onset), over.change_after(onset)
    symbol = parse_chord(translated(heard.chord)).symbol
    found = [s for s in (here, change and change.after) if s is not None and s.chord.symbol == symbol]
    assert found, (heard.solo, heard.chord, onset)
    return found[0]


def test_where_masters_take_the_flat_third() -> None:
    """Published: 24 % rise to the 3 within a beat, 25 % fall to R, 14 % to 9, 10 % rise to 4.

    The falls to 9 were counted by the next note alone: where the 9 goes on to the 3 at once, one note stands between
    and the ♭3 has risen. Those are in both of the published shares.
    """
    went = where_flat_thirds_went()
    by_end = Counter({where: sum(n for (w, _), n in went.items() if w == where) for where, _ in went})
    both = went["3", True]
    print(f"\n{went.total()} flat thirds: {dict(by_end)}; to 9 and then to 3: {both}")
    shares = {where: count / went.total() for where, count in by_end.items()}
    assert round(shares["3"], 2) == 0.24
    assert round(shares["R"], 2) == 0.25
    assert round(shares["4"], 2) == 0.10
    assert round((by_end["9"] + both) / went.total(), 2) == 0.14


def test_the_onsets_just_before_a_change_are_those_counted() -> None:
    """Published: 368 onsets within 60 ms before a change, 109 fit the new chord only and 88 the old only.

    Those two were counted on the database's plain chord types. With the extensions that the symbols name (the 9 and
    13 of a sus chord among them) three more fit the new and two more the old.
    """
    plain: Counter[str] = Counter()
    extended: Counter[str] = Counter()
    claimed: Counter[tuple[str, bool]] = Counter()
    for over, solo in graded_solos(Rules()):
        names = {parse_chord(translated(h.chord)).symbol: h.chord for h in solo}
        for heard in solo:
            onset = heard.graded.note.onset_sample
            change = over.change_after(onset)
            if change is None or change.before is None or change.sample - onset > 0.06 * RATE:
                continue
            old, new = change.before.chord, change.after.chord
            if old.is_no_chord or new.is_no_chord:
                continue
            assert heard.graded.note.pitch_midi is not None
            pitch_class = int(heard.graded.note.pitch_midi) % 12
            fit = fits(pitch_class, old.pitch_classes, new.pitch_classes)
            extended[fit] += 1
            claimed[fit, heard.graded.early] += 1
            plain[fits(pitch_class, plain_tones(old.symbol, names), plain_tones(new.symbol, names))] += 1
    print("\nplain types:", dict(plain), "\nas written:", dict(extended), "\nearly hands:", dict(claimed))
    assert plain.total() == 368
    assert (plain["new"], plain["old"]) == (109, 88)
    assert (extended["new"], extended["old"]) == (112, 90)
    assert claimed["new", True] > claimed["new", False], "most of those that fit the new chord only are early hands"
    assert claimed["old", True] < claimed["old", False], "most of those that fit the old chord only are not"


def fits(pitch_class: int, old: frozenset[int], new: frozenset[int]) -> str:
    return {(True, True): "both", (True, False): "old", (False, True): "new"}.get(
        (pitch_class in old, pitch_class in new), "neither"
    )


def plain_tones(symbol: str, names: dict[str, str]) -> frozenset[int]:
    root = parse_chord(symbol).root
    assert root is not None
    tones = PLAIN_TYPES.get(quality_of(names[symbol]), DOMINANT_TYPE)
    return frozenset((root.pitch_class + tone) % 12 for tone in tones)


def test_every_note_of_the_solos_is_scored_but_those_over_no_chord() -> None:
    reasons = Counter(h.graded.why_not for h in all_notes(Rules()))
    assert set(reasons) <= {None, "no chord"}, reasons
