"""Every ear beside general-purpose peers on lines whose notes are known exactly: accuracy, delay and cost in one run.

    python tests/benchmark.py [--quick] [--json FILE] [--seed N] [--notes FOLDER | --clips FOLDER] [--peer NAME]

Lines are rendered from recorded single notes (`strat_notes` of BLUETHIRD_DATA, else those of the shipped recordings),
each clean, through an amplifier, in a room, with the band in the air, and driven hard. With BLUETHIRD_DATA the real
solo is measured too. The peers are `pip install -e .[peers]`, whole file in hand; one that is missing is left out.
All shares are in per cent. Costs are processor time of this run: quote the ratio, not the seconds.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from bench.bank import Instrument, from_folder, from_recordings
from bench.clip import CONDITIONS, Clip, read_clips, write_clip
from bench.gestures import GESTURES
from bench.hearers import Hearer, ear
from bench.peers import PEERS, missing, peer
from bench.real import FOLDER, measure_solo
from bench.render import rendered
from bench.table import (
    Tallies,
    calibration,
    calibration_table,
    conditions_of,
    cost_table,
    pooled,
    real_table,
    tables,
    unsure_share,
)
from bench.tally import Tally, measures, score_clip
from listener.ear.kinds import EARS

SHIPPED_GUITAR = "clean"
WARM_UP_RATE = 44_100


def main() -> None:
    options = parsed(sys.argv[1:])
    hearers = chosen(options)
    for hearer in hearers:
        hearer.warm_up(WARM_UP_RATE)
    heard: dict[str, dict[tuple[str, str], Tally]] = {hearer.name: {} for hearer in hearers}
    source, clips = clips_of(options)
    for clip in clips:
        if options.write:
            write_clip(options.write, clip)
        for hearer in hearers:
            notes = hearer.listen(clip.samples, clip.rate)
            heard[hearer.name].setdefault((clip.group, clip.condition), Tally()).add(score_clip(clip, notes))
        progress(clip.stem)
    progress("")
    costs = {hearer.name: hearer.cost for hearer in hearers}
    data = os.environ.get("BLUETHIRD_DATA")
    folder = Path(data) / FOLDER if data else None
    real = measure_solo(folder, hearers) if folder and folder.exists() and not options.no_real else {}
    beside = next((hearer.name for hearer in hearers if not hearer.is_ear), None)
    print(f"{source}\n")
    for table in [*tables(heard), cost_table(costs, beside), *([real_table(real)] if real else [])]:
        print(table)
    for hearer in hearers:
        if hearer.is_ear:
            print(calibration_table(hearer.name, pooled(heard[hearer.name], "", None)))
    if options.json:
        result = {"sound": source, **figures(hearers, heard, costs, beside), "real": real}
        options.json.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


def progress(text: str) -> None:
    """Where it is, on a terminal alone."""
    if sys.stderr.isatty():
        print(f"\r{text:<40}\r", end="", file=sys.stderr, flush=True)


def parsed(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there too")
    parser.add_argument("--quick", action="store_true", help="two solos and clips of 8 seconds: a few minutes")
    parser.add_argument("--seed", type=int, default=1, help="another seed, other lines and other single notes")
    parser.add_argument("--seconds", type=float, help="length of a clip (default 20)")
    parser.add_argument("--solos", type=int, help="how many solos (default 8)")
    parser.add_argument("--notes", type=Path, metavar="FOLDER", help="single notes with their notes.csv")
    parser.add_argument(
        "--clips", type=Path, metavar="FOLDER", help="measure these clips, each with its .json beside it"
    )
    parser.add_argument("--match", default="*", help="only clips of --clips whose name fits, such as 'solo_*_room'")
    parser.add_argument("--condition", action="append", choices=CONDITIONS, help="only in this condition; repeatable")
    parser.add_argument("--gesture", action="append", choices=GESTURES, help="only this gesture; repeatable")
    parser.add_argument("--ear", action="append", choices=EARS, help="only this ear; repeatable")
    parser.add_argument("--peer", action="append", choices=[*PEERS, "none"], help="only this peer; repeatable")
    parser.add_argument("--no-real", action="store_true", help="leave the real solo out")
    parser.add_argument("--write", type=Path, metavar="FOLDER", help="keep the rendered clips there")
    options = parser.parse_args(arguments)
    options.seconds = options.seconds or (8.0 if options.quick else 20.0)
    options.solos = options.solos if options.solos is not None else (2 if options.quick else 8)
    return options


def chosen(options: argparse.Namespace) -> list[Hearer]:
    """The ears, then the peers that are here; those that are not are named."""
    asked = [] if options.peer == ["none"] else [name for name in options.peer or PEERS if name != "none"]
    absent = {name: lacks for name in asked if (lacks := missing(name))}
    if absent:
        named = "; ".join(f"{name} (needs {', '.join(lacks)})" for name, lacks in absent.items())
        print(f"left out, not installed: {named}", file=sys.stderr)
    return [ear(name) for name in options.ear or EARS] + [peer(name) for name in asked if name not in absent]


def clips_of(options: argparse.Namespace) -> tuple[str, Iterator[Clip]]:
    """What is measured, in words and as clips."""
    if options.clips:
        wanted = options.condition or ()
        clips = (clip for clip in read_clips(options.clips, options.match) if not wanted or clip.condition in wanted)
        return f"clips of {options.clips.name}, {options.match}", clips
    instrument = instrument_of(options)
    words = f"{instrument.name}, seed {options.seed}, clips of {options.seconds:g} s"
    gestures, conditions = options.gesture or tuple(GESTURES), options.condition or CONDITIONS
    return words, rendered(instrument, options.seed, options.seconds, options.solos, gestures, conditions)


def instrument_of(options: argparse.Namespace) -> Instrument:
    data = os.environ.get("BLUETHIRD_DATA")
    folder = options.notes or (Path(data) / "strat_notes" if data else None)
    return from_folder(folder, options.seed) if folder else from_recordings(SHIPPED_GUITAR)


def figures(
    hearers: Sequence[Hearer],
    heard: dict[str, dict[tuple[str, str], Tally]],
    costs: dict[str, float],
    beside: str | None,
) -> dict[str, Any]:
    """Everything that was measured, by hearer, set and condition ("all" over several)."""
    conditions = conditions_of(heard)
    rows: dict[str, Any] = {}
    for hearer in hearers:
        tallies: Tallies = heard[hearer.name]
        sets = {"all": "", "solo": "solo", "gestures": "gesture_", **{n: n for n, _ in tallies if n != "solo"}}
        everything = pooled(tallies, "", None)
        unsure, right = unsure_share(everything)
        rows[hearer.name] = {
            "version": hearer.version,
            "is_ear": hearer.is_ear,
            "cost": round(costs[hearer.name], 4),
            "cost_ratio": round(costs[hearer.name] / costs[beside], 3) if beside and costs[beside] else None,
            "measures": {
                name: {c or "all": measures(pooled(tallies, group, c)) for c in [*conditions, None]}
                for name, group in sets.items()
            },
            "calibration": calibration(everything) if hearer.is_ear else None,
            "unsure": {"notes": unsure, "right": right} if hearer.is_ear else None,
        }
    return {"cost_beside": beside, "hearers": rows}


if __name__ == "__main__":
    main()
