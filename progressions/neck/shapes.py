"""The chord shape beneath a zone: the open form's tones moved up the neck, with what the symbol adds put in.

The forms are a table of which function each string of them holds; a shape is the nearest that the hand can hold to it.
A shape holds third and seventh wherever the hand can, then extensions. Common practice of the guitar.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heappop, heappush

from progressions.chords import Chord
from progressions.neck.fingers import shape_fingers
from progressions.neck.fretboard import ZONE_FRETS, Fretboard, FrettedNote, Told

# What each string of a form holds, from its lowest root up, for triads and for chords with a seventh (or sixth).
TRIAD_FORMS: dict[str, tuple[str, ...]] = {
    "C": ("R", "3", "5", "R"),
    "A": ("R", "5", "R", "3"),
    "G": ("R", "3", "5", "R"),
    "E": ("R", "5", "R", "3", "5", "R"),
    "D": ("R", "5", "R", "3"),
}
SEVENTH_FORMS: dict[str, tuple[str, ...]] = {
    "C": ("R", "3", "7", "R"),
    "A": ("R", "5", "7", "3"),
    "G": ("R", "3", "7", "R"),
    "E": ("R", "5", "7", "3", "5", "R"),
    "D": ("R", "5", "7", "3"),
}
# A position has no form: its lowest root and up to four strings over it.
POSITION_STRINGS = 5
# The place of a form that each function fills, the first that a chord has.
ROLES: dict[str, tuple[str, ...]] = {
    "R": ("R",),
    "3": ("3", "♭3", "4", "2", "11"),
    "5": ("5", "♭5", "♯5"),
    "7": ("7", "♭7", "°7", "6"),
}
# What it costs to leave a place out, to fill it otherwise, and to leave a function out of the whole shape.
COST_MUTED, COST_OTHER, COST_BARRE, COST_FIFTH, COST_WIDE = 2, 1, 3, 4, 4
WIDE_FRETS = 3  # from the first finger's to the last: more than that is a stretch for a chord
COST_GUIDE, COST_ALTERED_FIFTH, COST_EXTENSION = 100, 30, 10


@dataclass(frozen=True, slots=True)
class Shape:
    """A chord held by the hand: its notes from the lowest string up; the other strings are not played.

    `left_out` are functions of the symbol that the hand cannot add there.
    """

    notes: tuple[FrettedNote, ...]
    left_out: tuple[str, ...]

    def frets(self, strings: int) -> tuple[int | None, ...]:
        """A fret for each of so many strings, low string first; None is not played."""
        by_string = {note.string: note.fret for note in self.notes}
        return tuple(by_string.get(string) for string in range(strings, 0, -1))


def chord_shape(chord: Chord, told: Told, board: Fretboard, form: str, root_string: int, fret: int, low: int) -> Shape:
    """The shape on the root at `root_string` (from 0) and `fret`, within the five frets from `low` up.

    The bass of a slash chord takes a string under the root or the root's own, where the hand reaches it there.
    """
    functions = [told[midi % 12][0] for midi in sorted(told)]
    bass = _bass_place(chord, board, root_string, low)
    wanted = _wanted(functions, form, board.strings - root_string)
    choices = [_choices(told, board, root_string + up, low, role) for up, role in enumerate(wanted)]
    choices[0] = [(0, fret, "R")]
    start = root_string
    if bass is not None:
        start = bass[0]
        choices = [[(0, bass[1], told[_bass_class(chord)][0])], *choices[max(start - root_string + 1, 0) :]]
        between = root_string - start - 1
        choices[1:1] = [[(0, None, "")]] * max(between, 0)
    best = _best(choices, functions)
    notes, used = [], set()
    for up, ((_, at, function), finger) in enumerate(best):
        if at is None:
            continue
        used.add(function)
        midi = board.open_midis[start + up] + at
        notes.append(FrettedNote(board.strings - start - up, at, midi, function, told[midi % 12][1], finger))
    return Shape(tuple(notes), tuple(f for f in chord.functions if f not in used and f != "5"))


_Choice = tuple[int, int | None, str]  # cost, fret (None: not played), function


def _wanted(functions: list[str], form: str, strings: int) -> list[str]:
    """The function wanted on each string from the root's up; "" where any will do."""
    by_role = {role: next((f for f in ROLES[role] if f in functions), "") for role in ROLES}
    if not form:
        return ["R"] + [""] * (min(POSITION_STRINGS, strings) - 1)
    table = SEVENTH_FORMS if by_role["7"] else TRIAD_FORMS
    return [by_role[role] or "none" for role in table[form]]


def _choices(told: Told, board: Fretboard, string: int, low: int, role: str) -> list[_Choice]:
    """What a string can hold within the zone, the cheapest first."""
    found: list[_Choice] = [(COST_MUTED, None, "")]
    for fret in range(low, low + ZONE_FRETS):
        tone = told.get((board.open_midis[string] + fret) % 12)
        if tone is not None:
            found.append((COST_OTHER if role and tone[0] != role else 0, fret, tone[0]))
    return sorted(found, key=lambda choice: (choice[0], choice[1] is None, choice[1] or 0))


def _bass_class(chord: Chord) -> int:
    assert chord.bass is not None
    return chord.bass.pitch_class


def _bass_place(chord: Chord, board: Fretboard, root_string: int, low: int) -> tuple[int, int] | None:
    """String (from 0) and fret of a slash bass: on the root's string or the next above or below it."""
    if chord.bass is None or chord.bass == chord.root:
        return None
    for string in (root_string - 1, root_string, root_string + 1):
        if 0 <= string < board.strings:
            fret = low + (_bass_class(chord) - board.open_midis[string] - low) % 12
            if fret < low + ZONE_FRETS:
                return string, fret
    return None


def _best(choices: list[list[_Choice]], functions: list[str]) -> list[tuple[_Choice, int]]:
    """The cheapest way to hold one choice a string, and its fingers.

    A search from the cheapest beginning on: a beginning costs at least what it has cost so far, with what the strings
    to come can no longer hold; the first whole shape to come up is the cheapest but for its barres.
    """
    costs = _costs_of_leaving_out(functions)
    to_come = [{choice[2] for later in choices[at:] for choice in later} for at in range(len(choices) + 1)]
    waiting: list[tuple[int, tuple[int, ...]]] = [(0, ())]
    best: tuple[int, list[tuple[_Choice, int]]] | None = None
    while waiting and (best is None or waiting[0][0] < best[0]):
        price, picked = heappop(waiting)
        beginning = [choices[at][pick] for at, pick in enumerate(picked)]
        if len(picked) < len(choices):
            for pick, choice in enumerate(choices[len(picked)]):
                cost = _price([*beginning, choice], costs, to_come[len(picked) + 1])
                heappush(waiting, (cost, (*picked, pick)))
            continue
        held = shape_fingers([fret for _, fret, _ in beginning])
        if held is not None and (best is None or price + COST_BARRE * held[1] < best[0]):
            best = price + COST_BARRE * held[1], list(zip(beginning, held[0], strict=True))
    assert best is not None  # the root alone can always be held
    return best[1]


def _costs_of_leaving_out(functions: list[str]) -> dict[str, int]:
    guides = [next((f for f in ROLES[role] if f in functions), None) for role in ("3", "7")]
    costs = {}
    for function in functions:
        if function in guides:
            costs[function] = COST_GUIDE
        elif function in ROLES["5"]:
            costs[function] = COST_FIFTH if function == "5" else COST_ALTERED_FIFTH
        elif function != "R":
            costs[function] = COST_EXTENSION
    return costs


def _price(beginning: list[_Choice], costs: dict[str, int], to_come: set[str]) -> int:
    """What the first strings cost, and the functions that neither they nor the strings to come can hold."""
    price = sum(choice[0] for choice in beginning)
    if price:  # the forms themselves are never too wide
        frets = [fret for _, fret, _ in beginning if fret]
        price += COST_WIDE if frets and max(frets) - min(frets) >= WIDE_FRETS else 0
    held = {function for _, _, function in beginning}
    return price + sum(cost for f, cost in costs.items() if f not in held and f not in to_come)
