"""Accuracy and cost of the whole path beside a general-purpose peer, on the fixtures, in one run.

    python tests/benchmark.py [--json FILE]

The peer is librosa: pyin for the pitch, its onset detector for the attacks, whole file in hand. It hears notes and
grades nothing. `cost` is processor time per second of sound, each measured in this run; the ratio is what to quote.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import librosa
import numpy as np
import soundfile as sf

from listener.ear.kinds import EARS, make_ear
from listener.graded import GradeFinal
from listener.hearing import Hearing
from listener.plan import Plan
from listener.rules import Rules
from listener.sources.arrays import ArraySource
from progressions.chart import parse_chart
from scoring import score_notes

FIXTURES = Path(__file__).parents[1] / "recordings-fixtures"
Heard = list[tuple[float, float, float]]


def ours(ear: str, samples: np.ndarray, rate: int, truth: dict[str, Any]) -> tuple[Heard, list[float], list[float]]:
    """Notes, and the milliseconds from onset to first told and the seconds to final, of the path that plays."""
    chart = parse_chart(truth["chart"])
    plan = Plan(chart, truth["tempo_bpm"], truth["swing"], truth["choruses"], 440.0, Rules())
    hearing = Hearing(make_ear(ear, rate, 440.0), rate)
    hearing.begin(plan.timeline(rate, round(truth["start_s"] * rate)), plan.rules)
    source, events = ArraySource(samples, rate), []
    for block in source.blocks():
        events += hearing.push(block)
    events += hearing.finish()
    notes, told, final = [], [], []
    for event in events:
        if isinstance(event, GradeFinal) and event.graded.note.pitch_midi is not None:
            note = event.graded.note
            notes.append((note.onset_sample / rate, (note.offset_sample or 0) / rate, note.pitch_midi))
            told.append(1000 * (hearing.first_shown[note.id] - note.onset_sample) / rate)
            final.append((hearing.final_at[note.id] - note.onset_sample) / rate)
    return notes, told, final


def peer(samples: np.ndarray, rate: int, truth: dict[str, Any]) -> tuple[Heard, list[float], list[float]]:
    """librosa.pyin at 2048 and 256, cut at librosa's onsets and where the pitch leaves by more than 60 cents."""
    hop = 256
    hz, voiced, _ = librosa.pyin(samples, fmin=75, fmax=1400, sr=rate, frame_length=2048, hop_length=hop)
    attacks = librosa.onset.onset_detect(y=samples, sr=rate, hop_length=hop)
    midi = librosa.hz_to_midi(np.where(voiced, hz, 1.0))
    notes: Heard = []
    run: list[int] = []
    for frame in range(len(midi) + 1):
        ends = frame == len(midi) or not voiced[frame]
        if run and (ends or frame in attacks or abs(midi[frame] - np.median(midi[run])) > 0.6):
            if len(run) * hop >= 0.035 * rate:
                pitch = float(np.median(midi[run[len(run) // 3 :]]))
                notes.append((run[0] * hop / rate, (run[-1] + 1) * hop / rate, pitch))
            run = []
        if not ends:
            run.append(frame)
    return notes, [], []


def measure(hear: Callable[..., Any]) -> dict[str, Any]:
    """F1 over all fixtures, and cost."""
    hits = true_notes = heard_notes = 0
    seconds = busy = 0.0
    told: list[float] = []
    final: list[float] = []
    rows = {}
    for path in sorted(FIXTURES.glob("*.flac")):
        truth = json.loads(path.with_suffix(".json").read_text())
        samples, rate = sf.read(path, dtype="float32")
        begun = time.process_time()
        notes, early, late = hear(samples, rate, truth)
        busy += time.process_time() - begun
        seconds += len(samples) / rate
        wanted = [(n["onset_s"], n["offset_s"], n["midi"]) for n in truth["notes"] if n["midi"] is not None]
        score = score_notes(wanted, notes)
        rows[path.stem] = round(score.f1, 4)
        hits, true_notes, heard_notes = hits + len(score.pairs), true_notes + len(wanted), heard_notes + len(notes)
        told, final = told + early, final + late
    result: dict[str, Any] = {"f1": 2 * hits / (true_notes + heard_notes), "cost": busy / seconds, "fixtures": rows}
    if told:
        result["told_ms"] = [float(v) for v in np.percentile(told, [50, 95])]
        result["final_s"] = [float(v) for v in np.percentile(final, [50, 95])]
    return result


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there too")
    options = parser.parse_args()
    assert list(FIXTURES.glob("*.flac")), f"no fixtures in {FIXTURES}"
    librosa.pyin(np.zeros(8192, np.float32), fmin=75, fmax=1400, sr=44100)  # the peer compiles itself at its first call
    ears = {ear: measure(partial(ours, ear)) for ear in EARS}
    other = measure(peer)
    print(f"{'note F1':24}" + "".join(f"{name:>11}" for name in [*EARS, "peer"]))
    for name, f1 in other["fixtures"].items():
        print(f"{name:24}" + "".join(f"{told['fixtures'][name]:11.3f}" for told in ears.values()) + f"{f1:11.3f}")
    print(f"{'all':24}" + "".join(f"{told['f1']:11.3f}" for told in [*ears.values(), other]))
    for ear, told in ears.items():
        ratio = told["cost"] / other["cost"]
        print(f"{ear}: cost {told['cost']:.3f} s per second, {ratio:.2f} of the peer's {other['cost']:.3f}", end="; ")
        print("told {:.0f} ms after the onset (95 %: {:.0f})".format(*told["told_ms"]), end=", ")
        print("final after {:.2f} s (95 %: {:.2f})".format(*told["final_s"]))
    if options.json:
        options.json.write_text(json.dumps({**ears, "peer": other}, indent=1) + "\n")


if __name__ == "__main__":
    main()
