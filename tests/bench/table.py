"""The figures as text: what is heard, by condition and by gesture; how well; and whether confidence can be believed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from bench.clip import CONDITIONS, GESTURE, SOLO
from bench.tally import Tally, measures

Tallies = Mapping[tuple[str, str], Tally]  # by set and condition
NAMES = {"hard": "hard drive"}
ALL_GESTURES = "all gestures"
EDGES = (0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)
# heading, measure, digits
FIGURES = (
    ("extra/min", "extra_per_minute", 1),
    ("octave %", "octave_errors", 2),
    ("dead %", "dead_told_a_pitch", 1),
    ("bias ms", "onset_bias_ms", 1),
    ("spread ms", "onset_spread_ms", 1),
    ("told ms", "told_ms_median", 0),
    ("95 %", "told_ms_95", 0),
    ("cents", "cents_median", 1),
    ("95 %", "cents_95", 1),
    ("bends", "bends_reached", 0),
    ("starts", "bends_with_their_start", 0),
)


def pooled(tallies: Tallies, group: str, condition: str | None) -> Tally:
    """The sum over sets that begin with `group`, in one condition or in all."""
    total = Tally()
    for (name, sort), tally in tallies.items():
        if name.startswith(group) and condition in (None, sort):
            total.add(tally)
    return total


def conditions_of(heard: Mapping[str, Tallies]) -> list[str]:
    """The conditions that were measured, in their usual order."""
    met = {condition for tallies in heard.values() for _, condition in tallies}
    return [one for one in CONDITIONS if one in met] + sorted(met - set(CONDITIONS))


def as_table(title: str, heads: Sequence[str], rows: Mapping[str, Sequence[str]]) -> str:
    widths = [max(len(head), *(len(row[i]) for row in rows.values())) for i, head in enumerate(heads)]
    first = max(len(title), *map(len, rows))
    lines = [title.ljust(first) + "".join(f"  {head:>{w}}" for head, w in zip(heads, widths, strict=True))]
    lines += [
        name.ljust(first) + "".join(f"  {cell:>{w}}" for cell, w in zip(cells, widths, strict=True))
        for name, cells in rows.items()
    ]
    return "\n".join(lines) + "\n"


def tables(heard: Mapping[str, Tallies]) -> Iterator[str]:
    """F1 and agreement of solos and of all gestures by condition, then by gesture, then the other figures."""
    conditions = conditions_of(heard)
    for title, group in ((SOLO, SOLO), (ALL_GESTURES, GESTURE)):
        rows = {n: [_both(measures(pooled(t, group, c))) for c in conditions] for n, t in heard.items()}
        yield as_table(f"{title}: F1/agreement", [NAMES.get(one, one) for one in conditions], rows)
    gestures = sorted({name for tallies in heard.values() for name, _ in tallies if name.startswith(GESTURE)})
    if gestures and "clean" in conditions:
        rows = {n: [_both(measures(pooled(t, g, "clean"))) for g in gestures] for n, t in heard.items()}
        yield as_table("clean, by gesture", [one.removeprefix(GESTURE) for one in gestures], rows)
    for title, condition in (("clean, everything", "clean"), ("all conditions", None)):
        if condition not in (None, *conditions):
            continue
        rows = {n: _figures(measures(pooled(t, "", condition))) for n, t in heard.items()}
        yield as_table(title, [head for head, _, _ in FIGURES], rows)


def cost_table(costs: Mapping[str, float], beside: str | None) -> str:
    """Processor seconds per second of sound, and how many times that of the peer named."""
    heads = ["s per s"] + ([f"x {beside}"] if beside else [])
    rows = {
        name: [f"{cost:.3f}"] + ([f"{cost / costs[beside]:.2f}" if costs[beside] else "-"] if beside else [])
        for name, cost in costs.items()
    }
    return as_table("processor", heads, rows)


def real_table(real: Mapping[str, Mapping[str, Mapping[str, Any]]]) -> str:
    """F1, agreement of pitch class and agreement of grades, of the parts of the real solo."""
    parts = list(next(iter(real.values())))
    rows = {n: [f"{_both(r[part])}/{_cell(r[part]['grades'], 0)}" for part in parts] for n, r in real.items()}
    heads = [f"{part} ({next(iter(real.values()))[part]['notes']} notes)" for part in parts]
    return as_table("real solo: F1/agreement/grades", heads, rows)


def calibration(tally: Tally) -> list[dict[str, float | int | None]]:
    """Heard notes binned by confidence: how many, their mean confidence, and the share that is right; and the share
    among the notes that the ear calls unsure, under `unsure`."""
    told = np.array([(confidence, right) for confidence, _, right in tally.sure]).reshape(-1, 2)
    bins: list[dict[str, float | int | None]] = []
    for low, high in pairwise(EDGES):
        inside = told[(told[:, 0] >= low) & ((told[:, 0] < high) | (high == EDGES[-1]))]
        means = inside.mean(axis=0).round(4).tolist() if len(inside) else [None, None]
        bins.append({"from": low, "to": high, "notes": len(inside), "confidence": means[0], "right": means[1]})
    return bins


def unsure_share(tally: Tally) -> tuple[int, float | None]:
    """How many notes were called unsure, and the share of them that is right."""
    right = [good for _, unsure, good in tally.sure if unsure]
    return len(right), round(sum(right) / len(right), 4) if right else None


def calibration_table(name: str, tally: Tally) -> str:
    rows = {
        f"{one['from']:.2f} to {one['to']:.2f}": [
            str(one["notes"]),
            _cell(one["confidence"], 3),
            _cell(one["right"], 3),
        ]
        for one in calibration(tally)
    }
    count, share = unsure_share(tally)
    rows["called unsure"] = [str(count), "", _cell(share, 3)]
    return as_table(f"{name}: confidence", ["notes", "mean", "right"], rows)


def _figures(row: Mapping[str, Any]) -> list[str]:
    return [_cell(row[measure], digits) for _, measure, digits in FIGURES]


def _both(row: Mapping[str, Any]) -> str:
    return f"{_cell(row['f1'], 1)}/{_cell(row['agreement'], 1)}"


def _cell(value: float | int | None, digits: int) -> str:
    return "-" if value is None else f"{value:.{digits}f}"
