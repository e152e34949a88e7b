"""From events to the state of the screen: what was pushed so far, looked at from the place that sounds now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import floor

from listener.dashboard.state import DashboardState, InputLevel, PageBar, PageChord, Phase, ShownNote
from listener.events import Gesture
from listener.graded import ChorusFinal, Graded, GradeEvent, GradeFinal, GradeWithdrawn
from listener.words import remarks
from progressions.pitch import neutral_name
from progressions.timeline import PlacedBar, Span, Timeline


def shown(graded: Graded, *, final: bool) -> ShownNote:
    """The note as the screen tells it; a note outside the changes is named by its pitch alone."""
    pitch = graded.note.pitch_midi
    name = graded.name if graded.name or pitch is None else str(neutral_name(round(pitch)))
    return ShownNote(
        id=graded.note.id,
        chorus=graded.chorus,
        bar=graded.bar,
        beat=graded.beat,
        name=name,
        function=graded.function,
        chord=graded.chord,
        grade=graded.grade,
        shade=graded.shade,
        final=final,
        dead=graded.note.gesture is Gesture.DEAD,
        scored=graded.scored,
        remarks=remarks(graded, final=final),
    )


def _page_bar(bar: PlacedBar) -> PageBar:
    chords = tuple(PageChord(float(c.beat), c.chord.symbol) for c in bar.chords)
    return PageBar(chords, bar.meter.beats_per_bar)


class DashboardModel:
    """A push object without clock or screen: events, place, level and words in; `state()` out.

    Before the first `move` the phase is waiting; then the place decides between count-in, playing and the closing
    chord, until `end`.
    """

    def __init__(self, timeline: Timeline, *, title: str = "") -> None:
        self._timeline = timeline
        self._sample: int | None = None
        self._ended = False
        self._notes: dict[int, tuple[int, ShownNote]] = {}
        chart, length = timeline.chart, timeline.bars_per_chorus
        self._form = tuple(_page_bar(bar) for bar in timeline.bars[:length])
        # the last chorus has the closing chord's bars, and no pick-up into another at its end
        self._last = tuple(_page_bar(bar) for bar in timeline.bars[(timeline.choruses - 1) * length :])
        self._still = DashboardState(
            title=title or chart.title,
            key=str(chart.key),
            form_bars=len(self._form),
            beats_per_bar=timeline.beats_per_bar,
            choruses=timeline.choruses,
        )

    def push(self, events: Iterable[GradeEvent]) -> None:
        """Takes what the grader said; notes of choruses that are long over are let go."""
        for event in events:
            if isinstance(event, ChorusFinal):
                kept = {id: entry for id, entry in self._notes.items() if (entry[1].chorus or 0) >= event.chorus}
                self._notes = kept
            elif isinstance(event, GradeWithdrawn):
                self._notes.pop(event.id, None)
            else:
                note = shown(event.graded, final=isinstance(event, GradeFinal))
                self._notes[event.id] = (event.graded.note.onset_sample, note)

    def move(self, sample: int) -> None:
        """The band stands at this sample of the stream."""
        self._sample = sample

    def hear(self, level: InputLevel) -> None:
        """The input is this loud."""
        self._still = replace(self._still, level=level)

    def say(self, message: str) -> None:
        """One line of words, until another takes its place."""
        self._still = replace(self._still, message=message)

    def report(self, lines: Sequence[str]) -> None:
        """The report of the last chorus, until that of the next."""
        self._still = replace(self._still, report=tuple(lines))

    def end(self) -> None:
        """The sitting is over."""
        self._ended = True

    def state(self) -> DashboardState:
        """The moment as values."""
        entries = sorted(self._notes.items(), key=lambda item: (item[1][0], item[0]))
        state = replace(self._still, notes=tuple(note for _, (_, note) in entries), bars=self._form)
        spans = self._timeline.spans
        if self._sample is None:
            phase = Phase.ENDED if self._ended else Phase.WAITING
            return self._with_next(replace(state, phase=phase, chord_now=spans[0].chord.symbol), spans[0], None)
        beat = self._timeline.time_map.beat_at(self._sample)
        position = self._timeline.position_at(self._sample)
        if position is None:
            phase = Phase.ENDED if self._ended else Phase.COUNT_IN
            count = floor(beat) % self._still.beats_per_bar + 1
            return self._coming(replace(state, phase=phase, count=count), spans[0], beat)
        span = self._timeline.span_at(self._sample) or spans[-1]
        last = position.chorus == self._timeline.choruses
        playing = Phase.CLOSING if span.closing else Phase.PLAYING
        state = replace(
            state,
            phase=Phase.ENDED if self._ended else playing,
            bars=self._last if last else self._form,
            chorus=position.chorus,
            bar=position.bar,
            beat=position.beat,
            chord_now=span.chord.symbol,
        )
        return self._with_next(state, span, beat)

    def _with_next(self, state: DashboardState, now: Span, beat: float | None) -> DashboardState:
        """Adds the next chord of another name, however often the one of the moment comes before it."""
        for span in self._timeline.spans[now.index + 1 :]:
            if span.chord.symbol != now.chord.symbol:
                return self._coming(state, span, beat)
        return state

    def _coming(self, state: DashboardState, span: Span, beat: float | None) -> DashboardState:
        """Adds a chord that comes: where it is written, and how long until it sounds."""
        until = None if beat is None else max(float(span.start_beat) - beat, 0.0)
        return replace(
            state,
            chord_next=span.chord.symbol,
            next_bar=span.bar,
            next_beat=float(span.beat) + 1.0,
            beats_until=until,
            bars_until=None if beat is None or state.has_one_meter else self._bars_until(span, beat),
        )

    def _bars_until(self, span: Span, beat: float) -> int | None:
        """Bars until a chord, a begun one counted whole; None where less than a whole bar is left."""
        timeline = self._timeline
        here = timeline.bar_at_beat(beat)
        if span.start_beat - beat < here.meter.beats_per_bar:
            return None
        bar, inside = timeline.bar_and_beat(beat)
        bars = (span.chorus - here.chorus) * timeline.bars_per_chorus + span.bar - bar
        return bars + (float(span.beat - span.pushed) + 1 > inside + 1e-6)
