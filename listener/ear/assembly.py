"""From events to strings: what was picked, and how each pitch went on from there.

A strand is one pick attack with all pitches that followed from it without another: steps from fret to fret and glides.
With the whole recording in hand it is known what ended where something else began.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from listener.ear.frames import samples
from listener.ear.gleaning import SLURRED, Event, Evidence

REACHES = 5.5  # semitones: no finger slurs farther
BLURRED = 0.88  # semitones: no two strings are told apart nearer
LEFT, STAYED = samples(0.090), samples(0.070)  # how long before a slur its source may fall silent, and how long after
LEAST_AGE = samples(0.025)
SAME = samples(0.030)  # onsets so near are one, or one stroke
ALONE_BAR = 0.90  # of a slur that came from nowhere
AT_ONCE, GONE, FRETS = (samples(0.008), samples(0.060)), samples(0.035), 2  # a slide that begins with the pick
BRIEF = samples(0.090)  # a pitch that fell silent so soon may have gone over into another one
GLIDED = 0.6  # of the onset head: from this share on, that of arrival says that the slur was a glide
MOST_DRIFTS, DRIFT_ALONE = 3, samples(0.080)
GLIDE_LEFT, GLIDE_STAYED = samples(0.080), samples(0.150)  # the same of a glide's beginning and its end


@dataclass(slots=True)
class Stage:
    """A pitch of a strand from `sample` on; `glide_from` is where the glide to it began, None for a step."""

    midi: int
    sample: int
    sure: float
    glide_from: int | None = None


@dataclass(slots=True)
class Strand:
    """One string from its pick attack to its end."""

    stages: list[Stage]
    picked: float
    end: int
    near: int  # the semitone that its pitch has drifted to at the end: a curl may end in the next one
    cut: bool = False  # by the next stroke on the same string: nothing goes on from it

    @property
    def start(self) -> int:
        return self.stages[0].sample

    @property
    def last(self) -> Stage:
        return self.stages[-1]


def assemble(evidence: Evidence) -> list[Strand]:
    """All strands by onset."""
    strands: list[Strand] = []
    events = evidence.events()
    ends = _Ends(evidence, events)
    for event in events:
        open_ = [s for s in strands if s.end > event.sample - samples(1.0) and not s.cut]
        if event.arrives:
            _arrive(event, open_, evidence, ends)
        elif not _slide(event, open_, ends) and not (event.picked < SLURRED and _slur(event, open_, evidence, ends)):
            _begin(event, open_, strands, ends)
    for strand in strands:
        _leave(strand, strands, ends)
    return strands


class _Ends:
    """Where pitches fall silent."""

    def __init__(self, evidence: Evidence, events: Sequence[Event]) -> None:
        self._evidence, self._events = evidence, events

    def after(self, midi: int, sample: int) -> tuple[int, int]:
        """The end of a pitch that sounds at `sample`, followed into the next semitone where it drifts there and no
        other note begins; and the semitone it was in at last."""
        end = self._evidence.silent_from(midi, sample)
        for _ in range(MOST_DRIFTS):
            beside = [m for m in (midi - 1, midi + 1) if self._goes_on(midi, m, end)]
            if not beside:
                break
            midi, end = beside[0], self._evidence.silent_from(beside[0], end)
        return end, midi

    def goes_over(self, midi: int, start: int, end: int) -> int | None:
        """The semitone near this one that takes over where it falls silent, without an onset that was told."""
        for into in (midi + 1, midi - 1, midi + 2, midi - 2):
            begun = any(e.midi == into and abs(e.sample - end) < DRIFT_ALONE for e in self._events)
            if not begun and self._evidence.takes_over(into, start, end):
                return into
        return None

    def _goes_on(self, midi: int, into: int, sample: int) -> bool:
        begun = any(e.midi == into and abs(e.sample - sample) < DRIFT_ALONE for e in self._events)
        return not begun and self._evidence.drifts(midi, into, sample)


def _begin(event: Event, open_: list[Strand], strands: list[Strand], ends: _Ends) -> None:
    if event.picked < SLURRED and event.sure < ALONE_BAR:
        return
    for strand in open_:
        if strand.end > event.sample and min(abs(m - event.midi) for m in (strand.last.midi, strand.near)) <= BLURRED:
            if event.sample - strand.start < SAME:
                return
            strand.end, strand.cut = event.sample, True
    stage = Stage(event.midi, event.sample, event.sure)
    strands.append(Strand([stage], event.picked, *ends.after(event.midi, event.sample + samples(0.03))))


def _slide(event: Event, open_: list[Strand], ends: _Ends) -> bool:
    """A finger that slides as soon as the pick has struck: the pitch begins where one just struck has gone."""
    for strand in open_:
        age, away = event.sample - strand.start, abs(strand.last.midi - event.midi)
        if AT_ONCE[0] <= age <= AT_ONCE[1] and 1 <= away <= FRETS and strand.end < event.sample + GONE:
            _go_on(strand, event, ends, None)
            return True
    return False


def _leave(strand: Strand, strands: Sequence[Strand], ends: _Ends) -> None:
    """The same where no head told the second pitch."""
    first = strand.stages[0]
    if len(strand.stages) > 1 or strand.cut or strand.end - first.sample > BRIEF:
        return
    into = ends.goes_over(first.midi, first.sample, strand.end)
    if into is not None and not any(s is not strand and s.last.midi == into and s.end > strand.end for s in strands):
        strand.stages.append(Stage(into, strand.end, first.sure))
        strand.end, strand.near = ends.after(into, strand.end + samples(0.02))


def _slur(event: Event, open_: list[Strand], evidence: Evidence, ends: _Ends) -> bool:
    """A pitch that begins without an attack: where another one left off, it came from there."""
    left = [
        s for s in open_
        if 0 < abs(s.last.midi - event.midi) <= REACHES
        and event.sample - s.last.sample > LEAST_AGE
        and event.sample - LEFT < s.end < event.sample + STAYED
    ]  # fmt: skip
    if not left:
        return False
    source = min(left, key=lambda s: (abs(s.last.midi - event.midi), abs(s.end - event.sample)))
    began = None
    if evidence.arrived(event.midi, event.sample) > GLIDED * event.sure:
        began = evidence.glide_before(source.last.midi, event.midi, event.sample)
    _go_on(source, event, ends, began)
    return True


def _arrive(event: Event, open_: list[Strand], evidence: Evidence, ends: _Ends) -> None:
    for strand in sorted(open_, key=lambda s: (abs(s.last.midi - event.midi), -s.start)):
        if strand.last.midi == event.midi or strand.start >= event.sample - LEAST_AGE:
            continue
        began = evidence.glide_before(strand.last.midi, event.midi, event.sample)
        if began is None or abs(strand.last.midi - event.midi) > REACHES:
            continue
        if began - GLIDE_LEFT < strand.end < event.sample + GLIDE_STAYED:
            _go_on(strand, event, ends, began)
            return


def _go_on(strand: Strand, event: Event, ends: _Ends, glide_from: int | None) -> None:
    strand.stages.append(Stage(event.midi, event.sample, event.sure, glide_from))
    strand.end, strand.near = ends.after(event.midi, event.sample + samples(0.02))
