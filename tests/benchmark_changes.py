"""What reading a chart and finding the zones of its chords costs, beside a general-purpose peer in the same run.

    python tests/benchmark_changes.py [--json FILE]

A chart of 64 bars with 128 chords, drawn with a seed. The peer is music21: the same symbols through its ChordSymbol.
All in milliseconds of processor, the best of several runs; cold means that nothing was read before in this process.
"""

from __future__ import annotations

import argparse
import gc
import json
import random
import time
from collections.abc import Callable
from pathlib import Path

from music21 import harmony

from progressions.chart import parse_chart, parse_key
from progressions.chords import Chord
from progressions.forms import form_names, load_form
from progressions.neck import Fretboard, standard_tuning, zones

ROOTS = ["A", "Bb", "B", "C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab"]
QUALITIES = ["7", "m7", "maj7", "m7b5", "6", "dim7", "sus4", "m6", "9", "m9"]
BARS, RUNS = 64, 7


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there too")
    options = parser.parse_args()
    draw = random.Random(1)
    bars = [[draw.choice(ROOTS) + draw.choice(QUALITIES) for _ in range(2)] for _ in range(BARS)]
    text = "key: A\n" + "\n".join(f"| {' '.join(bar)} |" for bar in bars)
    figures = {
        "chart of 64 bars, cold": best(lambda: parse_chart(text), forget),
        "chart of 64 bars, warm": best(lambda: parse_chart(text)),
        "its symbols in music21": best(lambda: [peer(symbol) for bar in bars for symbol in bar], runs=1),
    }
    for name in form_names():
        form = load_form(name, parse_key("A"))
        chords = {c.chord for bar in form.bars for c in bar.chords}
        figures[f"zones of {name}"] = best(lambda chords=chords: all_zones(chords), forget)
    for name, ms in figures.items():
        print(f"{name:32}{ms:9.2f} ms{ms / figures['its symbols in music21']:9.4f} of music21")
    if options.json:
        options.json.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")


def peer(symbol: str) -> harmony.ChordSymbol:
    """The symbol as music21 writes it: a flat is a minus sign."""
    root = symbol[:2].replace("b", "-") if symbol[1:2] in ("b", "#") else symbol[:1]
    return harmony.ChordSymbol(root + symbol[len(root) :].replace("m7b5", "ø7"))


def all_zones(chords: set[Chord]) -> None:
    board = Fretboard(standard_tuning())
    for chord in chords:
        if not chord.is_no_chord:
            zones(chord, board)


def forget() -> None:
    """Empty every cache of ours."""
    for thing in gc.get_objects():
        if hasattr(thing, "cache_clear") and str(getattr(thing, "__module__", "")).startswith("progressions"):
            thing.cache_clear()


def best(work: Callable[[], object], before: Callable[[], None] | None = None, runs: int = RUNS) -> float:
    """Milliseconds of processor."""
    times = []
    for _ in range(runs):
        if before is not None:
            before()
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return 1000.0 * min(times)


if __name__ == "__main__":
    main()
