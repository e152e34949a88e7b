"""One sitting over a recording: source, ear, grader and view wired together, and ended in order."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from listener.course import Course, Ending
from listener.errors import ListenerError
from listener.events import Block, Ear
from listener.hearing import Hearing
from listener.interrupt import Interrupt
from listener.meter import LevelMeter
from listener.plan import Plan
from listener.prelude import listen_ahead
from listener.sources.protocol import Source
from listener.start import first_beat
from listener.views import View

TICK_S = 0.02


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a sitting went. `fault` is what ended it early, after everything heard until then was reported.

    `stuck` tells that the sound server does not answer: an ordinary exit of the program would wait for it for ever.
    """

    course: Course
    ending: Ending
    first_sample: int
    fault: ListenerError | None = None
    stuck: bool = False
    take: Path | None = None
    lost_frames: int = 0
    latency_ms: float | None = None
    latency_source: str | None = None


@dataclass(slots=True)
class Stage:
    """A course and the view it is told to: the part that live sound and a recording share."""

    course: Course
    view: View
    meter: LevelMeter
    silent: bool = False

    def feed(self, block: Block, now: int | None = None) -> Ending | None:
        """Hear a block, tell the view, and say whether the sitting is over."""
        events, reports = self.course.feed(block, now)
        level = self.meter.push(block.samples)
        self.silent = level.silent
        self.view.level(level)
        self.view.happened(events, reports, self.course.hearing.position)
        return self.course.ending()

    def finish(self) -> None:
        """Make final and tell what is known."""
        events, reports = self.course.finish()
        self.view.happened(events, reports, self.course.hearing.position)


def play_recording(
    plan: Plan,
    source: Source,
    make_ear: Callable[[], Ear],
    view: View,
    interrupt: Interrupt,
    *,
    start_s: float | None = None,
    offset_cents: float | None = None,
    fast: bool = False,
    ascii_only: bool = False,
) -> Outcome:
    """Grade a recording, in real time or as fast as the machine can.

    `start_s` is the first beat of the first chorus; left out, it follows the player's three muted strokes as in a
    live sitting, or is the start of the file where there are none. `offset_cents`, left out, is estimated from the
    first notes. A fault in the middle of the file ends the sitting with the report of what was heard.
    """
    ahead = listen_ahead(source, make_ear) if start_s is None or offset_cents is None else None
    if start_s is not None:
        first_sample = round(start_s * source.rate)
    elif ahead is not None and ahead.start_sample is not None:
        first_sample = first_beat(ahead.start_sample, source.rate, plan.chart.meter, plan.tempo_bpm)
    else:
        first_sample = 0
    if offset_cents is None:
        offset_cents = (ahead.offset_cents if ahead else None) or 0.0
    timeline = plan.timeline(source.rate, first_sample)
    hearing = Hearing(make_ear(), source.rate, offset_cents)
    hearing.begin(timeline, plan.rules)
    stage = Stage(Course(plan, timeline, hearing, ascii_only), view, LevelMeter(source.rate))
    view.begin(timeline, plan.chart.title, source.rate)
    return _run(stage, source, first_sample, interrupt, fast)


def _run(stage: Stage, source: Source, first_sample: int, interrupt: Interrupt, fast: bool) -> Outcome:
    ending, fault = Ending.SOURCE_ENDED, None
    began_s = time.monotonic()
    try:
        for block in source.blocks():
            _wait_for(block, source.rate, None if fast else began_s, stage.view, interrupt)
            over = stage.feed(block)
            stage.view.tick(stage.course.hearing.position)
            if interrupt.asked or over is not None:
                ending = Ending.STOPPED if interrupt.asked else over or ending
                break
    except ListenerError as error:
        fault = error
    stage.finish()
    return Outcome(stage.course, ending, first_sample, fault)


def _wait_for(block: Block, rate: int, began_s: float | None, view: View, interrupt: Interrupt) -> None:
    """Real time: a block is heard when its last sample would have been played. The view moves on meanwhile."""
    if began_s is None:
        return
    due_s = began_s + (block.start_sample + len(block.samples)) / rate
    while not interrupt.asked and (left_s := due_s - time.monotonic()) > 0:
        time.sleep(min(left_s, TICK_S))
        view.tick(block.start_sample)
