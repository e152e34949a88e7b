"""The kinds of chord of MusicXML 4.0 and their degree alterations, both ways.

The values and the meaning of add, alter and subtract are those of the W3C schema (kind-value, degree-alter).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from progressions.errors import ProgressionsError
from progressions.exchange.degrees import Degree, degree_of, functions_of
from progressions.qualities import BY_NAME

# Kind -> quality. The schema stacks every third in 11ths and 13ths; players leave out the 3 under an 11 and the 11
# over a major 3, and so do these qualities.
KINDS: dict[str, str] = {
    "major": "",
    "minor": "m",
    "augmented": "+",
    "diminished": "°",
    "dominant": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "°7",
    "augmented-seventh": "7♯5",
    "half-diminished": "m7♭5",
    "major-minor": "mMaj7",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
    "power": "5",
}
NO_CHORD_KIND = "none"
OTHER_KIND = "other"
# Kinds that name a harmony by its place in a key: no symbol of a chart.
FUNCTIONAL_KINDS = ("Neapolitan", "Italian", "French", "German", "pedal", "Tristan")
# The degree that the schema stacks there: an alteration of it is one of the natural degree, not an addition beside it.
STACKED = {"dominant-11th": 3, "major-11th": 3, "dominant-13th": 11, "major-13th": 11}
# Degrees of a dominant chord, "major and perfect intervals except for a minor seventh".
DOMINANT_SEMITONES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 2, 11: 5, 13: 9}


@dataclass(frozen=True, slots=True)
class Alteration:
    """One degree element: `number` of the degree, `alter` in semitones, `kind` "add", "alter" or "subtract"."""

    number: int
    alter: int
    kind: str


def functions_of_kind(kind: str, alterations: Iterable[Alteration]) -> frozenset[str]:
    """The functions of a kind with its alterations. Raises ProgressionsError where no chord symbol has them.

    To alter a degree that is not there adds it, as writers of such files mean it; to subtract one changes nothing.
    """
    there: set[Degree] = {(1, 0)}
    if kind != OTHER_KIND:
        there = {degree_of(function) for function in BY_NAME[KINDS[kind]].functions}
    for one in alterations:
        if one.number not in DOMINANT_SEMITONES:
            raise ProgressionsError(f"degree {one.number}: no chord symbol has it")
        found = {degree for degree in there if degree[0] == one.number}
        natural = DOMINANT_SEMITONES[one.number]
        if one.kind == "add":
            there.add((one.number, (natural + one.alter) % 12))
        elif one.kind == "subtract":
            there -= found
        else:
            there -= found
            there |= {(one.number, (semitones + one.alter) % 12) for _, semitones in found or {(one.number, natural)}}
    return functions_of(there)


@lru_cache(maxsize=1024)
def kind_with(functions: frozenset[str]) -> tuple[str, tuple[Alteration, ...]]:
    """The kind that needs the fewest alterations to have these functions, and the alterations."""
    ways = []
    for place, kind in enumerate(KINDS):
        there = {degree_of(function) for function in BY_NAME[KINDS[kind]].functions}
        alterations = tuple(_alterations(there, {degree_of(f) for f in functions}, STACKED.get(kind)))
        if functions_of_kind(kind, alterations) == functions:
            # Readers differ on the seventh that an added 7 is, so a kind that has it comes first.
            sevenths = sum(one.number == 7 and one.kind == "add" for one in alterations)
            ways.append((len(alterations) + 2 * sevenths, place, kind, alterations))
    if not ways:
        raise ProgressionsError(f"tones {' '.join(sorted(functions))}: MusicXML has no kind for them")
    _, _, kind, alterations = min(ways, key=lambda way: way[:2])
    return kind, alterations


def _alterations(there: set[Degree], wanted: set[Degree], stacked: int | None) -> Iterable[Alteration]:
    new = sorted(wanted - there)
    for number, semitones in sorted(there - wanted):
        other = next((degree for degree in new if degree[0] == number), None)
        if other is None:
            yield Alteration(number, 0, "subtract")
        else:
            new.remove(other)
            yield Alteration(number, (other[1] - semitones + 6) % 12 - 6, "alter")
    for number, semitones in new:
        alter = (semitones - DOMINANT_SEMITONES[number] + 6) % 12 - 6
        yield Alteration(number, alter, "alter" if number == stacked else "add")
