"""One live sitting: stream, ear, grader, band, take and view wired together, and ended in order."""

from __future__ import annotations

import gc
import time
from dataclasses import dataclass, field
from typing import Any

from listener.band import Band
from listener.course import Course, Ending
from listener.errors import DeviceError
from listener.events import Block, Ear
from listener.hearing import Hearing
from listener.interrupt import Interrupt
from listener.keeping import Keeper
from listener.keys import Keys
from listener.meter import LevelMeter
from listener.plan import Plan
from listener.room.duplex import Duplex, LiveSource
from listener.sitting import Outcome, Stage
from listener.start import Strokes, first_beat
from listener.tuning import estimate_offset
from listener.views import View
from progressions.chart import write_chart
from progressions.timeline import Timeline

LOOP_S = 0.008
WATCH_S = 0.25
FADE_OUT_S = 0.15
FAR_S = 3600.0  # where the changes lie on screen until the count-in is known
WAITING = "three muted strokes, or Enter, to start"
NO_SIGNAL = "no signal: cable or volume?"


@dataclass(slots=True)
class LiveSitting:
    """A running stream over which one plan is played once."""

    plan: Plan
    duplex: Duplex
    source: LiveSource
    ear: Ear
    view: View
    keys: Keys
    interrupt: Interrupt
    keeper: Keeper
    rest_minutes: int = 25
    ascii_only: bool = False
    _fault: DeviceError | None = None
    _said: str = ""
    _reports_seen: int = 0
    _rested_s: float = 0.0
    _rest_due: bool = False
    _watched_s: float = field(default_factory=time.monotonic)

    def run(self) -> Outcome:
        """Wait for the start, play to the end, report, and close the take. The stream is left to the caller."""
        hearing = Hearing(self.ear, self.source.rate)
        first_sample = self._wait(hearing)
        if first_sample is None:
            ending = Ending.STOPPED if self._fault is None else Ending.DEVICE
            return Outcome(Course(self.plan, self._timeline(None), hearing), ending, 0, self._fault)
        stage = self._begin(hearing, first_sample)
        # a later collection over all that start-up made would hold the audio callback for a tenth of a second
        gc.collect()
        gc.freeze()
        ending = self._play(stage)
        self._end(stage)
        fault = self._fault or self.keeper.fault
        return Outcome(
            stage.course,
            ending,
            first_sample,
            fault,
            take=self.keeper.folder,
            lost_frames=self.source.lost,
            latency_ms=1000 * self.source.latency_samples / self.source.rate,
            latency_source=str(self.source.latency_source),
        )

    def _timeline(self, first_sample: int | None) -> Timeline:
        far = round(FAR_S * self.source.rate)
        return self.plan.timeline(self.source.rate, far if first_sample is None else first_sample)

    def _wait(self, hearing: Hearing) -> int | None:
        """The first beat's sample once the player has started, None where the sitting ends before that."""
        self.view.begin(self._timeline(None), self.plan.chart.title, self.source.rate)
        strokes, meter = Strokes(self.source.rate), LevelMeter(self.source.rate)
        self._say(WAITING)
        while not self.interrupt.asked and self._is_there():
            started = None
            for block in self.source.read_available():
                started = strokes.push(hearing.push(block)) or started
                level = meter.push(block.samples)
                self.view.level(level)
                self._say(NO_SIGNAL if level.silent else WAITING)
            if started is not None:
                return self._first_beat(started)
            if self.keys.enter_pressed():
                return self._first_beat(self.source.captured_sample)
            self.view.tick(None)
            time.sleep(LOOP_S)
        return None

    def _first_beat(self, start_sample: int) -> int:
        return first_beat(start_sample, self.source.rate, self.plan.chart.meter, self.plan.tempo_bpm)

    def _begin(self, hearing: Hearing, first_sample: int) -> Stage:
        timeline = self._timeline(first_sample)
        hearing.offset_cents = estimate_offset(hearing.notes.values()) or 0.0
        hearing.begin(timeline, self.plan.rules)
        if self.duplex.player is not None:
            self.duplex.player.play(Band(timeline, self.source.rate, self.plan.swing, self.plan.a4_hz).render)
        self.keeper.open(self._description(hearing, first_sample))
        self.view.begin(timeline, self.plan.chart.title, self.source.rate)
        course = Course(self.plan, timeline, hearing, self.ascii_only)
        return Stage(course, self.view, LevelMeter(self.source.rate))

    def _description(self, hearing: Hearing, first_sample: int) -> dict[str, Any]:
        """What it takes to grade the recording again."""
        return {
            "changes": write_chart(self.plan.chart),
            "tempo_bpm": self.plan.tempo_bpm,
            "swing": self.plan.swing,
            "choruses": self.plan.choruses,
            "first_beat_sample": first_sample,
            "a4_hz": self.plan.a4_hz,
            "offset_cents": round(hearing.offset_cents, 2),
            "rules": self.plan.rules.profile,
            "ear": self.ear.version,
            "device": self.duplex.rig.who,
            "latency_samples": self.source.latency_samples,
            "latency_source": str(self.source.latency_source),
        }

    def _play(self, stage: Stage) -> Ending:
        while not self.interrupt.asked:
            over = None
            for block in self.source.read_available():
                over = self._feed(stage, block) or over
            if over is not None:
                return over
            if self.duplex.player is not None:
                self.duplex.player.pump()
            if not self._is_there():
                return Ending.DEVICE
            self._say(self._words(stage))
            self.view.tick(self.source.captured_sample)
            time.sleep(LOOP_S)
        return Ending.STOPPED

    def _feed(self, stage: Stage, block: Block) -> Ending | None:
        over = stage.feed(block, self.source.captured_sample)
        self.keeper.write(block, stage.course.hearing)
        return over

    def _end(self, stage: Stage) -> None:
        if self.duplex.player is not None and self._fault is None:
            self.duplex.player.play(None)
            time.sleep(FADE_OUT_S)
        for block in self.source.read_available():
            self._feed(stage, block)
        stage.finish()
        self.keeper.write_notes(stage.course.hearing)
        self.keeper.close()

    def _is_there(self) -> bool:
        """Every quarter of a second: is the device still there?"""
        if time.monotonic() - self._watched_s >= WATCH_S:
            self._watched_s = time.monotonic()
            try:
                self.duplex.check()
            except DeviceError as fault:
                self._fault = fault
                return False
        return True

    def _words(self, stage: Stage) -> str:
        """The quiet line at the foot of the screen; a rest is suggested at a chorus end, never inside a chorus."""
        reports, played_s = len(stage.course.reports), stage.course.hearing.position / self.source.rate
        if reports > self._reports_seen:
            self._reports_seen = reports
            self._rest_due = self.rest_minutes > 0 and played_s - self._rested_s >= 60 * self.rest_minutes
            self._rested_s = played_s if self._rest_due else self._rested_s
        words = [f"{self.rest_minutes} minutes played: rest hands and ears"] if self._rest_due else []
        words += [f"lost frames {self.source.lost}"] if self.source.lost else []
        return NO_SIGNAL if stage.silent else "   ".join(words)

    def _say(self, words: str) -> None:
        if words != self._said:
            self._said = words
            self.view.say(words)
