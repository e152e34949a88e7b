"""A sitting from the first block to the report: the same grades however it is fed, and an end in order."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import soundfile as sf

from listener.builtin import builtin_take
from listener.changes import load_changes
from listener.course import Ending
from listener.ear.neural import NeuralEar
from listener.graded import Graded
from listener.interrupt import Interrupt
from listener.plan import Plan
from listener.rules import Rules
from listener.sitting import Outcome, play_recording
from listener.sources.arrays import ArraySource
from listener.sources.files import FileSource
from listener.sources.protocol import Source
from listener.views import DocumentView
from rehearsal import FIXTURES, rehearse

TAKE = builtin_take()
COMMAND = [sys.executable, "-c", "import sys; from listener.cli import main; sys.exit(main())"]


def plan(changes: str = TAKE.form, tempo: float = TAKE.tempo_bpm, choruses: int = 1) -> Plan:
    return Plan(load_changes(changes, None), tempo, TAKE.swing, choruses, 440.0, Rules())


def sit(source: Source, start_s: float | None = TAKE.start_s, of: Plan | None = None) -> Outcome:
    with Interrupt() as interrupt:
        return play_recording(
            of or plan(),
            source,
            lambda: NeuralEar(source.rate),
            DocumentView(),
            interrupt,
            start_s=start_s,
            fast=True,
        )


def finals(outcome: Outcome) -> list[Graded]:
    return sorted(outcome.course.hearing.finals, key=lambda graded: graded.note.id)


@pytest.mark.slow
def test_blocks_of_any_size_give_the_same_final_grades() -> None:
    samples, rate = sf.read(TAKE.path, dtype="float32")
    start = round((TAKE.start_s - 0.5) * rate)
    part = samples[start : start + 12 * rate]
    told = [finals(sit(ArraySource(part, rate, block=block), 0.5)) for block in (64, 1000, 4096)]
    assert len(told[0]) > 12
    assert told[0] == told[1] == told[2]


def test_three_muted_strokes_start_a_recording_as_they_start_a_live_sitting(tmp_path: Path) -> None:
    take = rehearse(tmp_path, "dead_notes", 44100)
    outcome = sit(FileSource(take.path), None, plan(str(take.chart), 100.0))
    assert outcome.first_sample / 44100 == pytest.approx(take.first_beat_s, abs=0.010)
    truth = json.loads((FIXTURES / "dead_notes.json").read_text())
    played = [note["function"] for note in truth["notes"] if note["midi"] is not None]
    heard = [graded.function for graded in finals(outcome) if graded.grade is not None]
    assert heard[: len(played)] == played


def test_a_silent_chorus_ends_the_sitting() -> None:
    silence = ArraySource([0.0] * (60 * 8000), 8000)
    outcome = sit(silence, 0.0, plan(tempo=320.0, choruses=4))
    assert outcome.ending is Ending.SILENT
    assert [report.measures.notes for report in outcome.course.reports] == [0]


def test_a_chorus_left_before_its_last_bar_is_reported_as_partial() -> None:
    samples, rate = sf.read(TAKE.path, dtype="float32")
    outcome = sit(ArraySource(samples[: 15 * rate], rate))
    assert outcome.ending is Ending.SOURCE_ENDED
    assert [report.measures.partial for report in outcome.course.reports] == [True]
    assert "partial" in outcome.course.reports[0].lines[0]


def _started(tmp_path: Path) -> subprocess.Popen[str]:
    """The command in real time on the built-in take, in the middle of its chorus."""
    arguments = ["play", "--from", str(TAKE.path), "--start", str(TAKE.start_s), "--choruses", "1"]
    environment = {**os.environ, "BLUETHIRD_CONFIG_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    pipe = subprocess.PIPE
    program = subprocess.Popen([*COMMAND, *arguments], env=environment, stdout=pipe, stderr=pipe, text=True)
    assert program.stdout is not None
    for line in program.stdout:
        if "♭3→3" in line or line.startswith("bar 1"):
            return program
    raise AssertionError("the command ended before it told a note")


@pytest.mark.slow
def test_the_first_ctrl_c_ends_the_sitting_with_its_report_and_code_0(tmp_path: Path) -> None:
    program = _started(tmp_path)
    program.send_signal(signal.SIGINT)
    out, error = program.communicate(timeout=20)
    assert program.returncode == 0
    assert "Chorus 1, partial" in out
    assert "Traceback" not in error


@pytest.mark.slow
def test_a_second_ctrl_c_ends_the_program_with_code_130(tmp_path: Path) -> None:
    program = _started(tmp_path)
    # sent together: the second one comes while the first is being obeyed, at the latest while reports are printed
    os.kill(program.pid, signal.SIGINT)
    time.sleep(0.002)
    os.kill(program.pid, signal.SIGINT)
    _, error = program.communicate(timeout=20)
    assert program.returncode in (0, 130)
    assert "Traceback" not in error
