"""From strands to notes: each pitch that stood is one, measured over its whole length and named by how it came.

The rules are those of the live ear (`strand`, `movement`); here the end of everything is known beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from listener.ear import contour
from listener.ear.assembly import Stage, Strand
from listener.ear.contour import Point
from listener.ear.frames import LONG_FRAME, RATE, SHORT_FRAME, Signal, samples
from listener.ear.gleaning import Evidence
from listener.ear.movement import Movement, crossing, movement
from listener.ear.strand import STRUCK_TOGETHER, glide_began, glide_rule, least_stand
from listener.ear.tracing import Trace, Tracer
from listener.ear.voice import REFERENCE_POINTS, Voice
from listener.events import Gesture, Note

AROUND, NEAR = 2.6, 0.6  # semitones looked at around the pitches of a string alone, and of one among others
BLURS, NEARER = 1.4, 0.4  # semitones between strings that a common period blurs; looked at around one of them then
ALONE, AMONG, BY_PARTIALS = 0.72, 0.93, 0.80  # clarity that is asked for, and what is said of a pitch from partials
TRUSTED = 0.85  # clarity from which a contour alone tells a movement
MOVED, STANDS, STEP_ALONE, STEADY = 0.70, 5, 10, 0.25  # semitones away, for so many points, within so many semitones
SHORT = LONG_FRAME + samples(0.020)  # too short a pitch for long frames
SHORTEST, BRIEF, BRIEF_SURE = samples(0.030), samples(0.055), 0.93
# What the onset head says, and how many of such notes were right (onset within 50 ms, pitch within 50 cents): 16,673
# notes of rendered lines in five conditions.
SURE_AND_RIGHT = (
    (0.65, 0.75, 0.83, 0.875, 0.92, 0.94, 0.96, 0.976, 0.986, 0.993, 1.0),
    (0.05, 0.34, 0.51, 0.61, 0.71, 0.88, 0.96, 0.975, 0.995, 0.998, 0.999),
)
UNSURE = 0.6
SHORT_PLATEAU, NEAR_TOP = 24, 0.20  # points; semitones
FRETS, PASSING, FLAT = 1.5, samples(0.100), 0.3  # semitones; a fret that may be passed; semitones
SLID = 5  # points between two pitches that a slide stands on and a slur only passes
DEAD_REACH = samples(0.040)


class Teller:
    """Of one recording; `tuning` is what pitches counted from 440 Hz get to count from the player's A4."""

    def __init__(self, evidence: Evidence, tracer: Tracer, tuning: float) -> None:
        self._evidence, self._tracer, self._tuning = evidence, tracer, tuning
        self._next_id = 1

    def notes(self, strands: Sequence[Strand]) -> list[Note]:
        """All notes by onset, with ids from 1; dead ones among them."""
        dead = self._dead(strands)
        struck = [s for s in strands if not any(_silences(s, at, sure) for at, sure in dead)]
        told: list[Note] = []
        for strand in struck:
            others = [s for s in struck if s is not strand and s.start < strand.end and s.end > strand.start]
            told += self._of_strand(strand, others)
        for at, sure in dead:
            level = self._tracer.level_db(at)
            note = Note(self._take_id(), at, at + samples(0.05), None, Gesture.DEAD, level_db=level, confidence=sure)
            told.append(note)
        return _numbered(_slotted(told))

    def _dead(self, strands: Sequence[Strand]) -> list[tuple[int, float]]:
        """Muted strokes that are not more surely a note."""
        return [
            (at, sure) for at, sure in self._evidence.dead()
            if not any(abs(s.start - at) < DEAD_REACH and s.stages[0].sure > sure for s in strands)
        ]  # fmt: skip

    def _of_strand(self, strand: Strand, others: Sequence[Strand]) -> list[Note]:
        points, quick = self._contours(strand, others)
        if not others:
            self._find_movements(strand, points, quick)
        voice = self._voice(strand.start, _between(points, strand.start, self._end_of(strand, 0)), strand, 0)
        told: list[Note] = []
        sure = strand.stages[0].sure
        for i, stage in enumerate(strand.stages[1:], 1):
            mine = _between(points, stage.sample, self._end_of(strand, i)) or [_guess(stage)]
            gesture, least, left, onset = self._way(voice, stage, mine, quick)
            if left - voice.plateau_from >= least:
                told += self._close(voice, onset, sure)
                came_from = told[-1].id if told and told[-1].id == voice.id else None
                voice = self._voice(onset, mine, strand, i)
                voice.gesture, voice.slurred_from, sure = gesture, came_from, stage.sure
                continue
            if voice.slurred_from is not None:
                voice.gesture, voice.onset = gesture, max(onset, voice.onset)
            else:
                voice.from_midi = voice.reference if voice.from_midi is None else voice.from_midi
                voice.gesture = Gesture.SLIDE if stage.glide_from is None else gesture
            top = _top(mine, voice.reference) if stage.glide_from is not None else mine
            voice.plateau, voice.plateau_from = len(voice.points) + mine.index(top[0]), onset
            voice.points += mine[: mine.index(top[-1]) + 1]
            voice.settle()
            sure = max(sure, stage.sure)
        return told + self._close(voice, strand.end, sure)

    def _close(self, voice: Voice, offset: int, sure: float) -> list[Note]:
        length = offset - voice.onset
        if length < SHORTEST or (length < BRIEF and sure < BRIEF_SURE):
            return []
        chance = float(np.interp(sure, *SURE_AND_RIGHT))
        return [replace(voice.note(offset), confidence=chance, unsure=chance < UNSURE)]

    def _voice(self, onset: int, points: list[Point], strand: Strand, stage: int) -> Voice:
        points = points or [_guess(strand.stages[stage])]
        return Voice(self._take_id(), onset, list(points), list(points), self._tracer.level_db(onset))

    def _take_id(self) -> int:
        self._next_id += 1
        return self._next_id - 1

    @staticmethod
    def _end_of(strand: Strand, i: int) -> int:
        return strand.stages[i + 1].sample if i + 1 < len(strand.stages) else strand.end

    # --- contours ---------------------------------------------------------------------------------------------------

    def _contours(self, strand: Strand, others: Sequence[Strand]) -> tuple[list[Point], list[Point]]:
        """The pitch of a string from its attack to its end, in long frames and, where it is alone, in short ones."""
        pitches = [s.midi - self._tuning for s in strand.stages]
        low, high = min(pitches) - AROUND, max(pitches) + AROUND
        wide = self._tracer.trace(strand.start, strand.end, low, high, quick=strand.end - strand.start < SHORT)
        alone = ~_among(wide, others) & ~self._astray(wide, strand)
        pitch = np.where(alone & (wide.clarity >= ALONE), wide.pitch, np.nan)
        clarity = wide.clarity.copy()
        if not alone.all():
            for i, stage in enumerate(strand.stages):
                part = (wide.centre >= stage.sample) & (wide.centre < self._end_of(strand, i)) & ~alone
                if part.any():
                    beside = any(abs(s.midi - stage.midi) < BLURS for other in others for s in other.stages)
                    pitch[part], clarity[part] = self._shared(wide, part, stage.midi - self._tuning, strand, beside)
        points = _points(Trace(wide.centre, pitch + self._tuning, clarity))
        if others or (len(strand.stages) == 1 and not _moves(points)):
            return points, points
        fast = self._tracer.trace(strand.start, strand.end, low, high, quick=True)
        calm = np.interp(fast.centre, wide.centre, np.where(np.isnan(wide.pitch), -99.0, wide.pitch))
        good = (fast.clarity > ALONE) & ((np.abs(fast.pitch - calm) < 2.0) | (fast.centre < wide.centre[0]))
        return points, _points(Trace(fast.centre, np.where(good, fast.pitch, np.nan) + self._tuning, fast.clarity))

    def _astray(self, wide: Trace, strand: Strand) -> npt.NDArray[np.bool_]:
        """Which frames hardly repeat, and not at a pitch that was told, nor on a way between two: something else sounds
        under this string that no head told."""
        far = wide.clarity < AMONG
        for i, stage in enumerate(strand.stages):
            until = self._end_of(strand, i)
            here = (wide.centre >= stage.sample) & (wide.centre < until)
            told = (stage.midi, strand.near) if i + 1 == len(strand.stages) else (stage.midi,)
            for midi in told:
                far &= ~(here & (np.abs(wide.pitch + self._tuning - midi) <= NEAR))
            if i + 1 < len(strand.stages) and (began := strand.stages[i + 1].glide_from) is not None:
                far &= ~((wide.centre >= began - LONG_FRAME) & (wide.centre < until + LONG_FRAME))
        return far

    def _shared(
        self, wide: Trace, part: npt.NDArray[np.bool_], midi: float, strand: Strand, beside: bool
    ) -> tuple[Signal, Signal]:
        """Pitch and clarity of the frames `part`, in which other strings sound too; where one sounds `beside` this one,
        a semitone away, only partials tell them apart."""
        at = wide.centre[part]
        reach = NEARER if beside else NEAR
        found = self._tracer.partials(strand.start, strand.end, midi, reach)
        known = ~np.isnan(found.pitch)
        pitch, clarity = np.full(len(at), np.nan), np.full(len(at), BY_PARTIALS)
        if known.any():
            pitch = np.interp(at, found.centre[known], found.pitch[known])
        narrow = self._tracer.trace(strand.start, strand.end, midi - reach, midi + reach).within(at[0], at[-1] + 1)
        if len(narrow.centre) == len(at) and not beside:
            sure = narrow.clarity >= AMONG
            pitch, clarity = np.where(sure, narrow.pitch, pitch), np.where(sure, narrow.clarity, BY_PARTIALS)
        return pitch, clarity

    # --- movements --------------------------------------------------------------------------------------------------

    def _find_movements(self, strand: Strand, points: list[Point], quick: list[Point]) -> None:
        """Add the pitches on which the contour stands and which no head told."""
        i = 0
        while i < len(strand.stages):
            until = self._end_of(strand, i)
            if i + 1 < len(strand.stages) and strand.stages[i + 1].glide_from is not None:
                until = min(until, strand.stages[i + 1].glide_from or until)
            found = self._movement(strand.stages[i], _between(points, strand.stages[i].sample, until), quick)
            if found is not None:
                strand.stages.insert(i + 1, found)
            i += 1

    def _movement(self, stage: Stage, points: list[Point], quick: list[Point]) -> Stage | None:
        if len(points) < STANDS + 3:
            return None
        reference = contour.median([p.pitch for p in points[:REFERENCE_POINTS]])
        away = [abs(p.pitch - reference) >= MOVED and p.clarity >= TRUSTED for p in points]
        for i in range(len(points) - STANDS):
            if not all(away[i : i + STANDS]):
                continue
            tail = [p.pitch for p in points[i : i + STANDS]]
            if max(tail) - min(tail) > STEADY:
                continue
            arrival = contour.median(tail)
            if self._evidence.sounding(arrival, points[i + STANDS // 2].sample) < 0.3:
                continue
            between = _between(quick, stage.sample, points[i + STANDS - 1].sample)
            if len(between) < 3:
                return None
            kind = movement(between, reference, arrival)
            if kind is Movement.STEP and not all(away[i : i + STEP_ALONE]):
                return None
            onset = max(stage.sample + 1, crossing(between, arrival))
            began = glide_began(between, reference, arrival) if kind is Movement.GLIDE else None
            if kind is Movement.GLIDE and began is None:
                return None
            return Stage(round(arrival), onset, stage.sure, None if began is None else round(began))
        return None

    def _way(
        self, voice: Voice, stage: Stage, mine: list[Point], quick: list[Point]
    ) -> tuple[Gesture, float, float, int]:
        """How a pitch was left for the next: the gesture, how many samples the old one must have stood to be a note of
        its own, when it was left, and when the next began."""
        arrival = contour.median([p.pitch for p in mine[:REFERENCE_POINTS]])
        onset = max(stage.sample, voice.onset + 1)
        between = _between(quick, voice.plateau_from, mine[min(4, len(mine) - 1)].sample)
        far = abs(arrival - voice.reference) > FRETS
        if stage.glide_from is None:
            away = [p for p in between if abs(p.pitch - voice.reference) > 0.5]
            slid = far and sum(abs(p.pitch - arrival) > 0.5 for p in away) >= SLID
            left = float(onset)
            if voice.slurred_from is not None and onset - voice.plateau_from < PASSING:
                left = voice.plateau_from + min(left - voice.plateau_from, _longest_stand(between))
            return Gesture.SLIDE if slid else Gesture.SLURRED, least_stand(arrival, voice.reference) * RATE, left, onset
        gesture, least = glide_rule(voice, arrival)
        left = float(stage.glide_from)
        began = glide_began(between, voice.reference, arrival) if len(between) > 4 else None
        if began is not None:
            left = min(left, began)
        if len(between) > 4 and abs(between[-1].pitch - arrival) < 0.5:
            onset = max(voice.onset + 1, crossing(between, arrival))
        return gesture, least * RATE, left, onset


def _moves(points: Sequence[Point]) -> bool:
    """Whether a contour goes anywhere: where it does not, short frames tell nothing more."""
    pitches = [p.pitch for p in points]
    return len(points) > STANDS and max(pitches) - min(pitches) > FLAT


def _longest_stand(points: Sequence[Point]) -> float:
    """Samples for which a contour stood on one pitch; a short frame blurs either end of it."""
    most = first = 0
    for i in range(1, len(points)):
        while abs(points[i].pitch - points[first].pitch) > FLAT:
            first += 1
        most = max(most, points[i].sample - points[first].sample)
    return float(most + SHORT_FRAME * 3 // 4)


def _top(points: list[Point], start: float) -> list[Point]:
    """Where a glide that came from `start` stood, of a short plateau: a bend let down at once has hardly one."""
    if len(points) > SHORT_PLATEAU:
        return points
    way = sorted((p.pitch - start for p in points), key=abs)[-3:]
    top = start + contour.median(way)
    near = [i for i, p in enumerate(points) if abs(p.pitch - top) < NEAR_TOP] or [0, len(points) - 1]
    return points[near[0] : near[-1] + 1]


def _among(trace: Trace, others: Sequence[Strand]) -> npt.NDArray[np.bool_]:
    """Which frames other strings sound in."""
    shared = np.zeros(len(trace.centre), bool)
    for other in others:
        shared |= (trace.centre + LONG_FRAME // 2 > other.start) & (trace.centre - LONG_FRAME // 2 < other.end)
    return shared


def _points(trace: Trace) -> list[Point]:
    known = np.flatnonzero(~np.isnan(trace.pitch))
    return [
        Point(int(trace.centre[i]), float(trace.pitch[i]), float(trace.clarity[i]), 0.0) for i in known.tolist()
    ]  # fmt: skip


def _between(points: Sequence[Point], first: float, end: float) -> list[Point]:
    return [p for p in points if first <= p.sample < end]


def _guess(stage: Stage) -> Point:
    return Point(stage.sample, float(stage.midi), 0.0, 0.0)


def _silences(strand: Strand, at: int, sure: float) -> bool:
    """Whether a muted stroke is the truth about this string."""
    return abs(strand.start - at) < DEAD_REACH and strand.stages[0].sure <= sure


def _slotted(notes: list[Note]) -> list[Note]:
    """Notes struck together stand apart; a slurred note stays in the voice it came from."""
    slots: dict[int, int] = {}
    out: list[Note] = []
    for note in sorted(notes, key=lambda n: (n.onset_sample, -(n.pitch_midi or 0.0))):
        together = {slots[n.id] for n in out if note.onset_sample - n.onset_sample <= STRUCK_TOGETHER}
        free = next(slot for slot in range(len(together) + 1) if slot not in together)
        slots[note.id] = slots.get(note.slurred_from or 0, free)
        out.append(replace(note, voice=slots[note.id]))
    return out


def _numbered(notes: list[Note]) -> list[Note]:
    """Ids in order of onset."""
    new = {note.id: number for number, note in enumerate(notes, 1)}
    return [replace(n, id=new[n.id], slurred_from=new.get(n.slurred_from or 0)) for n in notes]
