"""Where a sitting is shown: the screen of a terminal, plain lines, JSON lines, or nowhere until its document.

Views may leave frames out; what they are told, they are told once and in order.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Sequence
from typing import Protocol, TextIO

from listener.course import ChorusReport
from listener.dashboard import DashboardModel, InputLevel, render
from listener.graded import ChorusFinal, GradeEvent, GradeFinal, GradeOpened, GradeRevised, GradeWithdrawn
from listener.hearing import HeardEvent
from listener.plain import PlainLines
from listener.replay import event_line, header_line
from listener.summary import summary
from progressions.timeline import Timeline

FRAME_S = 0.1  # ten frames a second are seen as motion, and cost the audio nothing
NEWS_S = 0.04  # a new note does not wait for the next frame


class View(Protocol):
    """What a sitting tells while it runs."""

    def begin(self, timeline: Timeline, title: str, rate: int) -> None:
        """The changes, and where they lie; told again when the count-in is known."""

    def say(self, words: str) -> None:
        """One sentence for the player."""

    def happened(self, events: Sequence[HeardEvent], reports: Sequence[ChorusReport], position: int) -> None:
        """What a block brought; `position` is the sample that sounds now."""

    def level(self, level: InputLevel) -> None:
        """How loud the input is."""

    def tick(self, position: int | None) -> None:
        """Time goes by: the band stands at `position`, None before the count-in."""

    def close(self, reports: Sequence[ChorusReport]) -> None:
        """The sitting is over."""


def grade_events(events: Sequence[HeardEvent]) -> list[GradeEvent]:
    """The grader's part of `events`."""
    kinds = (GradeOpened, GradeRevised, GradeFinal, GradeWithdrawn, ChorusFinal)
    return [event for event in events if isinstance(event, kinds)]


def writes_unicode(stream: TextIO) -> bool:
    """Whether the stream can carry the signs of music."""
    return (stream.encoding or "").lower().replace("-", "") in ("utf8", "utf16", "utf32")


def is_screen(stream: TextIO) -> bool:
    """Whether the stream is a terminal on which a cursor can be moved."""
    return stream.isatty() and os.environ.get("TERM") != "dumb"


class ScreenView:
    """The dashboard on the terminal's second screen; reports and summary stay on the first one afterwards."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.live import Live

        self._console = Console(highlight=False)
        self._live = Live(console=self._console, screen=True, auto_refresh=False)
        self._ascii = not writes_unicode(sys.stdout)
        self._model: DashboardModel | None = None
        self._drawn_s = 0.0
        self._news = False
        self._words = ""

    def begin(self, timeline: Timeline, title: str, rate: int) -> None:
        self._model = DashboardModel(timeline, title=title)
        self._model.say(self._words)
        if not self._live.is_started:
            self._live.start()

    def say(self, words: str) -> None:
        if self._model is None:
            print(words, file=sys.stderr)
        else:
            self._words = words
            self._model.say(words)
            self._draw()

    def happened(self, events: Sequence[HeardEvent], reports: Sequence[ChorusReport], position: int) -> None:
        if self._model is None:
            return
        graded = grade_events(events)
        self._model.push(graded)
        self._news = self._news or bool(graded) or bool(reports)
        for report in reports:
            self._model.report(report.lines)

    def level(self, level: InputLevel) -> None:
        if self._model is not None:
            self._model.hear(level)

    def tick(self, position: int | None) -> None:
        if self._model is None:
            return
        if position is not None:
            self._model.move(position)
        waited_s = time.monotonic() - self._drawn_s
        if waited_s >= (NEWS_S if self._news else FRAME_S):
            self._draw()

    def close(self, reports: Sequence[ChorusReport]) -> None:
        if self._live.is_started:
            self._live.stop()
        self._model = None
        for line in closing_lines(reports, self._ascii):
            print(line)

    def _draw(self) -> None:
        if self._model is None:
            return
        self._drawn_s, self._news = time.monotonic(), False
        size = self._console.size
        colour = self._console.color_system is not None and not self._console.no_color
        frame = render(self._model.state(), size.width, size.height, colour=colour, ascii=self._ascii)
        self._live.update(frame, refresh=True)


class LinesView:
    """Plain lines on standard output, sentences on standard error."""

    def __init__(self) -> None:
        self._ascii = not writes_unicode(sys.stdout)
        self._lines: PlainLines | None = None

    def begin(self, timeline: Timeline, title: str, rate: int) -> None:
        self._lines = PlainLines(timeline, ascii_only=self._ascii)

    def say(self, words: str) -> None:
        if words:
            print(words, file=sys.stderr, flush=True)

    def happened(self, events: Sequence[HeardEvent], reports: Sequence[ChorusReport], position: int) -> None:
        if self._lines is None:
            return
        lines = self._lines.push(grade_events(events), position)
        for report in reports:
            lines += self._lines.report(report.lines)
        if lines:
            print("\n".join(lines), flush=True)

    def level(self, level: InputLevel) -> None:
        """Levels are not told in lines."""

    def tick(self, position: int | None) -> None:
        """Lines have no frames."""

    def close(self, reports: Sequence[ChorusReport]) -> None:
        for line in summary([report.measures for report in reports], ascii_only=self._ascii):
            print(line)


class EventsView:
    """Every event as a line of JSON, as it comes."""

    def begin(self, timeline: Timeline, title: str, rate: int) -> None:
        print(header_line(rate, title=title), flush=True)

    def say(self, words: str) -> None:
        if words:
            print(words, file=sys.stderr, flush=True)

    def happened(self, events: Sequence[HeardEvent], reports: Sequence[ChorusReport], position: int) -> None:
        if events:
            print("\n".join(event_line(event) for event in events), flush=True)

    def level(self, level: InputLevel) -> None:
        """No event."""

    def tick(self, position: int | None) -> None:
        """No event."""

    def close(self, reports: Sequence[ChorusReport]) -> None:
        """The last event has been told."""


class DocumentView(LinesView):
    """Nothing on standard output, which belongs to the document; sentences on standard error."""

    def happened(self, events: Sequence[HeardEvent], reports: Sequence[ChorusReport], position: int) -> None:
        """The document tells it all at the end."""

    def close(self, reports: Sequence[ChorusReport]) -> None:
        """The document follows."""


def closing_lines(reports: Sequence[ChorusReport], ascii_only: bool) -> list[str]:
    """Every chorus report, then the summary."""
    lines: list[str] = []
    for report in reports:
        lines += [*report.lines, ""]
    return lines + list(summary([report.measures for report in reports], ascii_only=ascii_only))
