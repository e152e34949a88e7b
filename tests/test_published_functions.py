"""The chord types and note classes of 24 transcribed solos, 10,328 notes, against our functions, chord by chord.

The expected side is the database's own class of every note over the chord that it gives (`published_solos` reads it);
no grader stands between. Where the two differ a rule explains it, and the table is printed (run with -s).
"""

from __future__ import annotations

from collections import Counter

import pytest

from progressions.chords import Chord, parse_chord
from published_solos import CLASSES, QUALITIES, chord_rows, quality_of, translated

# (type, class) -> the degree that we tell, and the rule by which it is another.
EXPLAINED = {
    ("o", "6"): ("°7", "the ninth semitone over a diminished seventh chord is its seventh, 𝄫7"),
}
# Type -> tones of the chord as the database's dialect spells it (Pfleiderer et al., "Inside the Jazzomat", 2017; from
# memory): j is a major seventh, a digit an extension, b and # stand after the digit they alter, `o` has its seventh.
TYPES = {
    "": "R 3 5",
    "7": "R 3 5 ♭7",
    "-": "R ♭3 5",
    "-7": "R ♭3 5 ♭7",
    "m7b5": "R ♭3 ♭5 ♭7",
    "o": "R ♭3 ♭5 °7",
    "+7": "R 3 ♯5 ♭7",
    "79": "R 3 5 ♭7 9",
    "79b": "R 3 5 ♭7 ♭9",
    "79#": "R 3 5 ♭7 ♯9",
    "7913b": "R 3 5 ♭7 9 ♭13",
    "sus7913": "R 4 5 ♭7 9 13",
    "j7911#": "R 3 5 7 9 ♯11",
}


@pytest.mark.parametrize("chord_type", TYPES)
def test_a_chord_type_of_the_database_has_the_functions_it_names(chord_type: str) -> None:
    assert set(parse_chord(f"C{QUALITIES[chord_type]}").functions) == set(TYPES[chord_type].split())


def test_every_chord_type_of_the_solos_is_in_the_table() -> None:
    assert {quality_of(symbol) for symbol, _, _ in chord_rows() if symbol != "NC"} == set(TYPES)


def test_the_class_of_every_note_is_our_function_over_the_chord_of_the_database() -> None:
    rows = chord_rows()
    assert len(rows) == 10_328
    differing: Counter[tuple[str, str, str]] = Counter()
    compared = 0
    for symbol, semitones, note_class in rows:
        chord = parse_chord(translated(symbol))
        if chord.is_no_chord:
            continue
        compared += 1
        degree = _degree(chord, semitones)
        if degree not in CLASSES[note_class]:
            differing[quality_of(symbol), note_class, degree] += 1
    print(f"\n{compared} notes over chords; {compared - differing.total()} of one function in both")
    for (chord_type, note_class, degree), count in differing.items():
        told, rule = EXPLAINED.get((chord_type, note_class), ("", "UNEXPLAINED"))
        print(f"{count:4} over {chord_type!r}: class {note_class}, here {degree}: {rule}")
        assert told == degree
    assert compared == len(rows), "no note of the solos is over no chord"
    assert differing.total() == 12


def _degree(chord: Chord, semitones: int) -> str:
    assert chord.root is not None
    return chord.degree_of(chord.root.pitch_class + semitones)
