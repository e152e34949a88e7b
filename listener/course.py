"""The course of a sitting: what each block brings, the report at each chorus end, and when it is over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from listener.events import Block, Gesture, Opened
from listener.graded import ChorusFinal, ChorusMeasures
from listener.hearing import HeardEvent, Hearing
from listener.measures import measure_chorus
from listener.plan import Plan
from listener.report import chorus_report
from progressions.timeline import Timeline


class Ending(StrEnum):
    """Why a sitting is over, in words for the player."""

    PLAYED = "all choruses played"
    SILENT = "a whole chorus was silent"
    STOPPED = "stopped"
    SOURCE_ENDED = "the recording ended"
    DEVICE = "the sound device went away"


@dataclass(frozen=True, slots=True)
class ChorusReport:
    """A chorus measured and put into words."""

    measures: ChorusMeasures
    lines: tuple[str, ...]


@dataclass(slots=True)
class Course:
    """Feeds blocks to the hearing and turns finished choruses into reports. Pure: no device, file or clock."""

    plan: Plan
    timeline: Timeline
    hearing: Hearing
    ascii_only: bool = False
    reports: list[ChorusReport] = field(default_factory=list)
    last_onset: int | None = None

    def feed(self, block: Block, now: int | None = None) -> tuple[list[HeardEvent], list[ChorusReport]]:
        """What one block made known, and the reports of the choruses that ended with it."""
        events = self.hearing.push(block, now)
        return events, self._reports(events)

    def finish(self) -> tuple[list[HeardEvent], list[ChorusReport]]:
        """Make final what is known; a chorus begun is reported, as partial when left before its last bar.

        The last chorus is measured again, since the landing on the closing chord comes after its report.
        """
        events = self.hearing.finish()
        reports = self._reports(events)
        if self.reports and self.reports[-1].measures.chorus == self.plan.choruses:
            self._report(self.reports.pop().measures.chorus, partial=False)
        reported = {report.measures.chorus for report in self.reports}
        for chorus in range(1, self.plan.choruses + 1):
            start, end = self.timeline.chorus_samples(chorus)
            begun = self.hearing.position > start and (not reported or self._heard_since(start))
            if chorus not in reported and begun:
                last_bar = end - self._last_bar_samples(chorus)
                reports.append(self._report(chorus, partial=self.hearing.position < last_bar))
        return events, reports

    def ending(self) -> Ending | None:
        """Why the sitting is over by now, or None."""
        if self.reports:
            last = self.reports[-1].measures
            if last.notes == 0 and last.dead_notes == 0 and last.chorus == len(self.reports):
                return Ending.SILENT
        _, end = self.timeline.chorus_samples(self.plan.choruses)
        bar = self._last_bar_samples(self.plan.choruses)
        if len(self.reports) < self.plan.choruses or self.hearing.position < end + bar:
            return None
        heard_lately = self.last_onset is not None and self.last_onset > self.hearing.position - bar
        over = self.hearing.position >= self.timeline.span_samples(self.timeline.spans[-1])[1]
        return Ending.PLAYED if over or not heard_lately else None

    def _heard_since(self, sample: float) -> bool:
        return any(graded.note.onset_sample >= sample for graded in self.hearing.finals)

    def _last_bar_samples(self, chorus: int) -> float:
        """How long the last bar of a chorus lasts."""
        end = self.timeline.chorus_beats(chorus)[1]
        sample_at = self.timeline.time_map.sample_at
        return sample_at(end) - sample_at(self.timeline.last_bar_beat(chorus))

    def _reports(self, events: Sequence[HeardEvent]) -> list[ChorusReport]:
        reports = []
        for event in events:
            if isinstance(event, Opened) and event.note.gesture is not Gesture.DEAD:
                self.last_onset = max(self.last_onset or 0, event.note.onset_sample)
            elif isinstance(event, ChorusFinal):
                reports.append(self._report(event.chorus, partial=False))
        return reports

    def _report(self, chorus: int, partial: bool) -> ChorusReport:
        measures = measure_chorus(
            chorus,
            self.hearing.finals,
            self.timeline,
            self.plan.rules,
            self.hearing.rate,
            partial=partial,
            until_sample=self.hearing.position if partial else None,
        )
        before = self.reports[-1].measures if self.reports else None
        report = ChorusReport(measures, chorus_report(measures, before, ascii_only=self.ascii_only))
        self.reports.append(report)
        return report
