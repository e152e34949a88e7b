"""Choruses made of half-bar cells, each with a flat third that rises to its third or does not.

A cell fills two beats: four slots of an eighth. Entries of `slot degree gesture mark` are separated by semicolons; a
note lasts until the next entry, and `-` is a rest. `lead` is a root, fifth or flat seventh near by. Why a cell
resolves, or does not, is plain from it: the third follows the flat third at once (or after a repeat, or after one
neighbour), within one beat; or a root or fifth follows, or a rest of more than a beat.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from lines import blues
from phrases import Row, Take, root_of

RISES_PLAIN = {
    "picked": "0 lead; 1 ♭3 picked resolves; 2 3; 3 5",
    "picked on the beat": "0 ♭3 picked resolves; 1 3; 2 5; 3 -",
    "struck twice": "0 ♭3 picked again; 1 ♭3 picked resolves; 2 3; 3 -",
    "after a rest": "0 ♭3 picked resolves; 1 -; 2 3; 3 5",
    "the 4 between": "0 ♭3 picked resolves; 1 4; 2 3; 3 R",
    "the 9 between": "0 ♭3 picked resolves; 1 9; 2 3; 3 5",
    "hammered": "0 lead; 1 ♭3 picked resolves; 2 3 hammer; 3 5",
    "hammered on the beat": "0 ♭3 picked resolves; 1 3 hammer; 2 5; 3 -",
}
RISES_BY_GESTURE = {
    "bent at once": "0 3 bend<♭3; 2 5; 3 -",
    "bent at once off the beat": "0 lead; 1 3 bend<♭3; 3 R",
    "bent": "0 ♭3 picked resolves; 2 3 bend; 3 -",
    "slid": "0 ♭3 picked resolves; 1 3 slide; 2 5; 3 -",
    "slid off the beat": "0 lead; 1 ♭3 picked resolves; 2 3 slide; 3 -",
    "curled": "0 ♭3 curl resolves; 3 -",
    "shaken, then picked": "0 ♭3 vibrato resolves; 2 3; 3 5",
    "slid into, then picked": "0 ♭3 slide<9 resolves; 1 3; 2 5; 3 -",
}
LEFT_PLAIN = {
    "falls to R": "0 lead; 1 ♭3 picked left:R; 2 R; 3 -",
    "falls to R on the beat": "0 ♭3 picked left:R; 1 R; 2 5; 3 -",
    "falls to 9": "0 lead; 1 ♭3 picked left:9; 2 9; 3 R",
    "rises to 4": "0 ♭3 picked left:4; 1 4; 2 5; 3 -",
    "stays": "0 ♭3 picked left:stays; 1 -",
    "pulled off to R": "0 ♭3 picked left:R; 1 R pull; 2 5; 3 -",
    "pulled off to 9": "0 lead; 1 ♭3 picked left:9; 2 9 pull; 3 R",
}
LEFT_BY_GESTURE = {
    "shaken, and a leap": "0 ♭3 vibrato left:?; 3 -",
    "shaken, falls to R": "0 ♭3 vibrato left:R; 2 R; 3 -",
    "slid down to 9": "0 ♭3 picked left:9; 1 9 slide; 2 R; 3 -",
    "slid into, falls to R": "0 ♭3 slide<9 left:R; 1 R; 2 5; 3 -",
    "bent into, falls to R": "0 ♭3 bend<9 left:R; 2 R; 3 -",
    "released to 9": "0 ♭3 picked left:9; 2 9 release; 3 R",
    "bent to 4": "0 ♭3 picked left:4; 2 4 bend; 3 5",
}
_ABOVE_FLAT_THIRD = {"9": -1, "R": -3, "♭3": 0, "3": 1, "4": 2, "5": 4}
_LEADS = (-3, 4, -5)  # R, 5 and the flat seventh below, counted from the flat third
_SHUFFLES = 10_000


def choruses() -> list[Take]:
    """Nine choruses in as many keys and guitars as are at hand, each with twelve cells of either kind."""
    plan = [
        ("A", "electric", 116, 1.0),
        ("E", "electric", 112, 1.0),
        ("G", "acoustic", 120, 1.0),
        ("C", "clean", 116, 1.0),
        ("D", "jazz", 120, 1.0),
        ("F", "electric", 92, 2.0),
        ("B♭", "clean", 112, 1.0),
        ("E♭", "electric", 120, 1.0),
        ("A", "acoustic", 96, 2.0),
    ]
    return [_chorus(index, *facts) for index, facts in enumerate(plan)]


def _chorus(index: int, key: str, guitar: str, tempo_bpm: float, swing: float) -> Take:
    rng = np.random.default_rng([7, index])
    cells = _ordered(rng, index)
    chords = blues(key)
    rows: list[Row] = []
    flat_third = 60
    for half, cell in enumerate(cells):
        chord = chords[half // 2]
        if half % 2 == 0:
            choices = [midi for midi in range(53, 71) if (midi - root_of(chord)) % 12 == 3]
            near = min(choices, key=lambda midi, here=flat_third: abs(midi - here))
            flat_third = near if rng.random() < 0.7 else int(rng.choice(choices))
        rows += _cell_rows(cell, half, flat_third, swing, rng)
    name = f"thirds_{index + 1}_{key.replace('♭', 'b').lower()}_{guitar}"
    return Take(name, f"Thirds in {key}", guitar, key, tempo_bpm, swing, 0.5, chords, tuple(rows))


def _ordered(rng: np.random.Generator, index: int) -> list[str]:
    """Twelve cells that rise and twelve that do not, shuffled until no cell speaks for the one before."""
    groups = (RISES_PLAIN, RISES_BY_GESTURE, LEFT_PLAIN, LEFT_BY_GESTURE)
    cells = []
    for group in groups:
        kinds = list(group.values())
        cells += [kinds[(6 * index + k) % len(kinds)] for k in range(6)]
    for _ in range(_SHUFFLES):
        order = [cells[k] for k in rng.permutation(len(cells))]
        if all(_may_follow(before, after) for before, after in pairwise(order)):
            return order
    raise RuntimeError("no order of the cells is free of ambiguous neighbours")


def _may_follow(before: str, after: str) -> bool:
    """After a flat third that is left, the next third must be far away or stand behind another note."""
    if "left:stays" in before or "left:?" in before or "curl" in before:
        return after.startswith("0 lead; 1 ♭3")
    return "left:" not in before or not after.startswith("0 3")


def _cell_rows(cell: str, half: int, flat_third: int, swing: float, rng: np.random.Generator) -> list[Row]:
    off = swing / (1 + swing)
    slots = (0.0, off, 1.0, 1 + off, 2.0)
    entries = [entry.split() for entry in cell.split(";")]
    starts = [int(entry[0]) for entry in entries] + [4]
    rows = []
    for entry, slot, following in zip(entries, starts, starts[1:], strict=False):
        if entry[1] == "-":
            continue
        gesture, _, begun = (entry[2] if len(entry) > 2 else "picked").partition("<")
        mark = entry[3] if len(entry) > 3 else ""
        above = int(rng.choice(_LEADS)) if entry[1] == "lead" else _ABOVE_FLAT_THIRD[entry[1]]
        length = (slots[following] - slots[slot]) * (0.8 if following == 4 else 0.95)
        rows.append(
            Row(
                bar=half // 2 + 1,
                beat=1 + 2 * (half % 2) + slots[slot],
                midi=flat_third + above,
                length=length,
                gesture=gesture,
                from_midi=flat_third + _ABOVE_FLAT_THIRD[begun] if begun else None,
                resolves=mark in ("resolves", "again"),
                again=mark == "again",
                left=mark[5:] if mark.startswith("left:") else None,
            )
        )
    return rows
