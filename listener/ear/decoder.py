"""From what the network says and what is measured to notes: up to six at once, told early, confirmed or withdrawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from listener.ear.contour import Point, median
from listener.ear.evidence import BAR, Evidence, Hint
from listener.ear.frames import HOP, RATE, samples
from listener.ear.moment import AMONG, Moment
from listener.ear.movement import Movement, crossing, leaving, movement
from listener.ear.strand import Over, Strand, glide_began, glide_rule, least_stand, point_of, slot_among
from listener.ear.voice import Voice
from listener.events import EarEvent, Final, Gesture, Note, Opened, Revised, Watermark, Withdrawn

MOST_VOICES = 6
SAME_ONSET = 6.0  # hops within which two hints at one pitch are one onset
AGAIN, PICKED = 0.5, 0.8  # of the picked head: the same pitch begins again; another one was struck, not slurred
CONFIRMED, KEPT_ON = 0.86, 0.90  # of the later onset heads
LENIENT, TOGETHER = 0.10, 5.0  # so much less is asked of a note that began within so many hops of a surer one
SETTLE = 2  # hops after a head's own moment at which its word is taken
SILENT, SILENT_HOPS = 0.30, 4  # of the sounding head
UNHEARD = 12  # hops after an onset before silence counts
REACHES, BLURRED = 5.5, 0.88  # semitones: no finger slurs farther; no two strings are told apart nearer
NEAR, FOLLOWED = 0.45, 0.80  # semitones: of a pitch that stands, of one that may glide
MOVED, FRETS = 0.70, 1.5  # semitones: the least that is another pitch; the least that may have gone over frets
CROWDED = 4  # hops with another string: a contour may be drawn aside
MOVING = 0.3  # of the moving head
STEP_ALONE = 10  # points after which a step is believed that no head told
STEP_RANGE, GLIDE_RANGE, STEP_TAIL, GLIDE_TAIL = 0.25, 0.12, 3, 5  # semitones and points of an arrival's tail
TRUSTED = 0.85  # clarity from which a contour alone may tell a glide
REVISE_SEMITONES = 0.15
FRETTED, AT_ONCE = 2.5, (2.0, 12.0)  # semitones and hops: a slide that begins with the pick
SHORTEST, SHORT, SHORT_SURE = samples(0.030), samples(0.060), 0.97  # a note so short must be so sure
DEAD, DEAD_REACH = -1, 4.0  # in place of a semitone; hops
# What the onset heads say, and how many of such notes were right (onset within 50 ms, pitch within 50 cents): 3,744
# notes of rendered lines in five conditions.
SURE_AND_RIGHT = (
    (0.70, 0.84, 0.88, 0.915, 0.94, 0.962, 0.976, 0.987, 0.993, 1.0),
    (0.30, 0.45, 0.60, 0.65, 0.74, 0.83, 0.94, 0.98, 0.99, 0.995),
)
UNSURE = 0.5
HELD_BELOW = 4.0
QUIET_DB, QUIET_SURE, LINE = (6.0, 14.0), (0.90, 0.99), 8  # dB under the median of so many notes, and how sure then
FOLLOWS = samples(0.025)
REMEMBERED = 66  # hops that a note is remembered after its end
LATE_HOPS = 22  # no note is opened later than this after its onset
WATERMARK_HOPS, KEPT_MOMENTS = 4, 14


class Decoder:
    """Moment in, events out. Times are samples of the ear's own rate, pitches count from the player's A4."""

    def __init__(self, tuning: float, early: bool = False) -> None:
        self._tuning = tuning
        self._evidence = Evidence(early)
        self._moments: list[Moment] = []
        self._strands: list[Strand] = []
        self._ended: list[Over] = []
        self._levels: list[float] = []  # of the last notes
        self._next_id = 1
        self._watermark = 0
        self._events: list[EarEvent] = []

    def push(self, moment: Moment) -> list[EarEvent]:
        self._events = []
        self._evidence.push(moment.heard, moment.attack)
        self._moments = [*self._moments[1 - KEPT_MOMENTS :], moment]
        for strand in list(self._strands):
            if strand in self._strands:
                self._follow(strand, moment)
        self._unite(moment.end)
        sure = self._evidence.dead()
        if sure is not None:
            self._meet_dead(sure, moment)
        for hint in self._evidence.hints(slurs=bool(self._strands)):
            self._meet(hint, moment)
        for hint in self._evidence.held():
            self._meet_held(hint, moment)
        for hint in self._evidence.arrivals():
            self._meet_arrival(hint, moment)
        for strand in list(self._strands):
            if strand in self._strands:
                self._check(strand, moment)
        for strand in list(self._strands):
            self._silence(strand, moment)
        if self._evidence.now % WATERMARK_HOPS == 0:
            self._mark()
        return self._events

    def finish(self, end: int) -> list[EarEvent]:
        """The stream ends at sample `end`."""
        self._events = []
        for strand in list(self._strands):
            self._end(strand, min(end, strand.voice.last_voiced), end)
        self._events.append(Watermark(end + 1))
        return self._events

    # --- onsets -----------------------------------------------------------------------------------------------------

    def _meet(self, hint: Hint, moment: Moment) -> None:
        """A head tells an onset: a note that is known, one that begins, or one that begins again."""
        own = [s for s in self._strands if s.midi == hint.midi or abs(s.voice.reference - hint.midi) < 0.5]
        if any(s.struck[0] == hint.midi and abs(s.struck[1] - hint.u) < SAME_ONSET for s in self._strands):
            return
        for strand in own:
            if abs(strand.u - hint.u) < SAME_ONSET:
                strand.sure = max(strand.sure, hint.sure)
                return
        if any(
            abs(e.u - hint.u) < (SAME_ONSET if e.midi == hint.midi else DEAD_REACH)
            for e in self._ended
            if e.midi in (hint.midi, DEAD)
        ):
            return
        if hint.u * HOP <= self._watermark:
            return
        picked = self._evidence.picked(hint.midi, hint.u) if hint.delay > 3 else 1.0
        if not own and self._goes_on(hint, picked, moment):
            return
        if own:
            if hint.sure < BAR or hint.delay == 3 or picked < AGAIN:
                return
            for strand in own:
                self._end(strand, self._onset(hint.u), moment.end)
        elif picked < PICKED and self._slur(hint, moment):
            return
        if hint.sure >= BAR - self._lenience(hint.midi, hint.u) or hint.delay != 6:
            self._open(hint, moment, picked)

    def _meet_held(self, hint: Hint, moment: Moment) -> None:
        if (
            any(abs(s.voice.reference - hint.midi) < 1.5 or s.midi == hint.midi for s in self._strands)
            or hint.u * HOP <= self._watermark
        ):
            return
        if any(abs(e.u - hint.u) < SAME_ONSET for e in self._ended if e.midi in (hint.midi, DEAD) and e.end > 0):
            return
        picked = self._evidence.picked(hint.midi, hint.u)
        level = max(m.level_db for m in self._moments)
        if picked < 0.5 or self._below(level) > HELD_BELOW:
            return
        self._open(hint, moment, picked)
        made = self._strands[-1]
        if made.midi == hint.midi and made.u == hint.u:
            made.checked = 10

    def _goes_on(self, hint: Hint, picked: float, moment: Moment) -> bool:
        """A finger that slides as soon as the pick has struck: the pitch begins where one just struck has gone."""
        reach, latest = (FRETTED, SAME_ONSET) if picked >= PICKED else (REACHES, AT_ONCE[1])
        for strand in self._strands:
            away = abs(strand.voice.reference - hint.midi)
            if not 0.6 < away <= reach or not AT_ONCE[0] <= hint.u - strand.u <= latest:
                continue
            if self._evidence.sounding(strand.voice.reference) < 0.5:
                self._step(strand, hint, moment, self._evidence.glide_began(strand.voice.reference, hint.midi))
                return True
            if hint.delay < 10 and away <= FRETTED:
                return True  # wait: one string, or two?
        return False

    def _lenience(self, midi: int, u: float) -> float:
        """How much less is asked of a string that was struck together with another."""
        struck = any(s.midi != midi and abs(s.u - u) < TOGETHER and s.sure > KEPT_ON for s in self._strands)
        return LENIENT if struck else 0.0

    def _onset(self, u: float) -> int:
        attack = self._evidence.attack_near(u)
        return attack.sample if attack is not None else round(u * HOP)

    def _open(self, hint: Hint, moment: Moment, picked: float) -> None:
        if len(self._strands) >= MOST_VOICES:
            return
        onset = max(self._onset(hint.u), self._watermark)
        for bent in [s for s in self._strands if hint.u - s.u > SAME_ONSET and s.is_near(hint.midi, BLURRED)]:
            self._end(bent, onset, moment.end)  # no other string sounds between two frets
        strand = self._strand(hint, onset, moment, Gesture.PICKED, None)
        strand.picked = picked
        self._tell_opened(strand, moment)

    def _strand(self, hint: Hint, onset: int, moment: Moment, gesture: Gesture, slurred_from: int | None) -> Strand:
        alone = not any(s.midi != hint.midi for s in self._strands)
        own = [m for m in self._moments if m.end - m.span // 2 >= onset]
        frames = [m.frame(hint.midi, NEAR, self._tuning, onset, alone) for m in own]
        points = [point_of(f) for f in frames if f is not None]
        level = max((m.level_db for m in self._moments if m.end > onset), default=moment.level_db)
        guessed = not points
        if guessed:
            points = [Point(moment.end, float(hint.midi), 0.0, moment.level_db)]
        voice = Voice(self._take_id(), onset, points, list(points), level, gesture, None, slurred_from)
        voice.last_voiced = moment.end
        slot = slot_among(self._strands, onset, slurred_from)
        return Strand(hint.midi, hint.u, voice, slot, hint.sure, hint.delay, guessed, checked=hint.delay)

    def _tell_opened(self, strand: Strand, moment: Moment) -> None:
        self._strands.append(strand)
        strand.voice.told = self._note(strand, None)
        self._events.append(Opened(strand.voice.id, strand.voice.told, moment.end))

    # --- slurs and glides -------------------------------------------------------------------------------------------

    def _slur(self, hint: Hint, moment: Moment) -> bool:
        """A pitch that begins without an attack: where another one left off, it came from there."""
        free = [s for s in self._strands if not s.guessed and abs(s.voice.reference - hint.midi) >= 0.6]
        glided = [s for s in free if abs(s.pitch - hint.midi) < 0.6]
        if glided:
            self._move(glided[0], moment, glided[0].pitch)
            return True
        left = [s for s in self._strands if self._left(s, hint)]
        if not left:
            return False
        source = min(left, key=lambda s: abs(s.voice.reference - hint.midi))
        began = self._evidence.glide_began(source.voice.reference, hint.midi)
        self._step(source, hint, moment, began)
        return True

    def _left(self, strand: Strand, hint: Hint) -> bool:
        away = abs(strand.voice.reference - hint.midi)
        older = hint.u - strand.u > 4
        return 0.5 < away <= REACHES and older and self._evidence.sounding(strand.voice.reference) < 0.5

    def _step(self, source: Strand, hint: Hint, moment: Moment, began: float | None) -> None:
        """To another pitch that the network heard begin: from fret to fret, or by a glide that `began` at that hop."""
        onset = max(round(hint.u * HOP), source.voice.onset + 1)
        left = min(onset, round((self._evidence.left(source.voice.reference) if began is None else began) * HOP))
        stood = (left - source.voice.plateau_from) / RATE
        gesture, least = Gesture.SLURRED, least_stand(hint.midi, source.voice.reference)
        if began is not None:
            gesture, least = glide_rule(source.voice, hint.midi)
        if stood >= least:
            self._end(source, onset, moment.end)
            strand = self._strand(hint, max(onset, self._watermark), moment, gesture, source.voice.id)
            strand.picked = 0.0
            self._tell_opened(strand, moment)
            return
        voice = source.voice
        if voice.slurred_from is not None:
            voice.gesture, voice.onset = Gesture.SLIDE if began is None else gesture, onset
        else:
            voice.from_midi = voice.reference if voice.from_midi is None else voice.from_midi
            voice.gesture = Gesture.SLIDE if began is None else gesture
        fresh = self._strand(hint, onset, moment, voice.gesture, None)
        self._next_id -= 1
        voice.plateau, voice.plateau_from = len(voice.points), onset
        source.guessed &= fresh.guessed
        voice.points += fresh.voice.points
        voice.quick += fresh.voice.quick
        voice.settle()
        source.midi, source.u, source.silent = hint.midi, hint.u, 0
        source.checked = max(source.checked, 10)
        self._revise(source, moment.end, force=True)

    def _meet_arrival(self, hint: Hint, moment: Moment) -> None:
        """The network says that a glide has ended here."""
        for strand in self._strands:
            if abs(strand.voice.reference - hint.midi) < 0.6 or strand.guessed:
                continue
            if abs(strand.pitch - hint.midi) < 0.7 and abs(strand.pitch - strand.voice.reference) >= MOVED:
                self._move(strand, moment, strand.pitch, glide=True)
                return
        if any(abs(s.voice.reference - hint.midi) < 0.6 for s in self._strands):
            return
        for strand in self._strands:
            began = self._evidence.glide_began(strand.voice.reference, hint.midi)
            if began is not None and self._left(strand, hint):
                self._step(strand, hint, moment, began)
                return

    def _arrive(self, strand: Strand, moment: Moment) -> None:
        """The contour stands elsewhere than it did."""
        voice = strand.voice
        since = voice.points[voice.stood_until + 1 :]
        if len(since) < STEP_TAIL:
            return
        tail = [p.pitch for p in since[-GLIDE_TAIL:]]
        arrival = sorted(tail)[len(tail) // 2]
        if max(tail[-STEP_TAIL:]) - min(tail[-STEP_TAIL:]) > STEP_RANGE or abs(arrival - voice.reference) < MOVED:
            return
        if min(p.clarity for p in since[-STEP_TAIL:]) < TRUSTED and not self._is_told(voice.reference, arrival):
            return
        if self._evidence.sounding(arrival) < SILENT:
            return
        kind = movement(voice.quick[max(voice.plateau, voice.stood_until - 5) :], voice.reference, arrival)
        if kind is not Movement.STEP and (len(since) < GLIDE_TAIL or max(tail) - min(tail) > GLIDE_RANGE):
            return
        if kind is Movement.STEP and len(since) < STEP_ALONE:
            return  # the network tells steps
        self._move(strand, moment, arrival)

    def _is_told(self, start: float, arrival: float) -> bool:
        """The network too hears that a pitch has glided to another one."""
        sounds = self._evidence.sounding(arrival) > 0.5 > self._evidence.sounding(start)
        return sounds and self._evidence.glide_began(start, arrival) is not None

    def _unite(self, told: int) -> None:
        """Two pitches struck at once that have become one were one string, and a finger that slid."""
        for one in list(self._strands):
            for other in self._strands:
                together = (
                    one is not other and abs(one.u - other.u) <= AT_ONCE[1] and not (one.guessed or other.guessed)
                )
                if not together or abs(one.pitch - other.pitch) > 0.3 or one.midi == one.struck[0] == round(one.pitch):
                    continue
                if not self._merge(one, other, told):
                    self._end(one, other.voice.onset, told)
                return

    def _merge(self, start: Strand, there: Strand, told: int) -> bool:
        """One note of two, unless the first one stood."""
        voice = there.voice
        stood = (self._evidence.left(start.began) * HOP - start.voice.onset) / RATE
        if stood >= least_stand(start.began, voice.reference):
            return False
        if abs(start.began - voice.reference) > 0.6:
            voice.from_midi, voice.gesture = start.began, Gesture.SLIDE
        voice.onset = min(voice.onset, start.voice.onset)
        self._withdraw(start, told)
        self._revise(there, told, force=True)
        return True

    def _goes_over(self, strand: Strand) -> Strand | None:
        """The note that one just struck has gone over into, where that was taken for a second string."""
        for other in self._strands:
            near = 0.5 < abs(other.voice.reference - strand.began) < FRETTED
            latest = SAME_ONSET if other.picked >= PICKED else AT_ONCE[1]
            if other is not strand and near and -2.0 <= other.u - strand.u <= latest:
                return other
        return None

    def _move(self, strand: Strand, moment: Moment, arrival: float, glide: bool = False) -> None:
        """A pitch has moved within one note: one note or two, by how long its start stood."""
        voice = strand.voice
        kind = movement(voice.quick[max(voice.plateau, voice.stood_until - 5) :], voice.reference, arrival)
        if glide:
            kind = Movement.GLIDE
        if kind is Movement.GLIDE and not glide and self._evidence.is_stepped(voice.reference, arrival):
            kind = (
                Movement.STAIRS if abs(arrival - voice.reference) > FRETS else Movement.STEP
            )  # a room's tail smears frets into a slope; the network tells them apart
        left = voice.stood_until
        if kind is Movement.GLIDE:
            left = max(voice.plateau, leaving(voice.quick, min(left, len(voice.quick) - 1)))
        stood = (voice.points[left].sample - voice.plateau_from) / RATE
        least, gesture = least_stand(arrival, voice.reference), Gesture.SLURRED
        if kind is Movement.STAIRS:
            gesture = Gesture.SLIDE
        elif kind is Movement.GLIDE:
            gesture, least = glide_rule(voice, arrival)
            began = glide_began(voice.quick[voice.plateau :], voice.reference, arrival)
            if began is not None:
                stood = min(stood, (began - voice.plateau_from) / RATE)
        away = (i for i in range(len(voice.points) - 1, -1, -1) if abs(voice.points[i].pitch - arrival) > 0.5)
        first = min(next(away, -1) + 1, len(voice.points) - 1)
        onset = crossing(voice.quick[voice.stood_until :], arrival)
        if stood >= least:
            self._end(strand, onset, moment.end)
            hint = Hint(round(arrival), onset / HOP, 6, strand.sure)
            made = self._strand(hint, max(onset, self._watermark), moment, gesture, voice.id)
            made.voice.points, made.voice.quick = voice.points[first:], voice.quick[first:]
            made.voice.settle()
            made.guessed, made.picked, made.checked = False, 0.0, 10
            self._tell_opened(made, moment)
            return
        if voice.slurred_from is not None:
            voice.gesture = Gesture.SLIDE if kind is Movement.STEP else gesture
            voice.onset = max(onset, voice.onset)
        else:
            voice.from_midi = voice.reference if voice.from_midi is None else voice.from_midi
            voice.gesture = Gesture.SLIDE if kind is Movement.STEP else gesture
        voice.plateau, voice.plateau_from = first, onset
        voice.settle()
        strand.midi = round(arrival)
        strand.checked = 10
        self._revise(strand, moment.end, force=True)

    # --- the sounding notes -----------------------------------------------------------------------------------------

    def _follow(self, strand: Strand, moment: Moment) -> None:
        voice = strand.voice
        alone = not any(s is not strand and s.silent == 0 for s in self._strands)
        strand.crowded += not alone
        gliding = alone or self._evidence.moving(strand.pitch) > MOVING
        frame = None
        if not strand.guessed:
            frame = moment.frame(strand.pitch, FOLLOWED, self._tuning, voice.onset, alone, sure=not gliding)
            gliding |= frame is not None and frame.clarity >= AMONG
            gliding &= frame is None or self._is_free(strand, frame.pitch)
        if not gliding or strand.guessed:
            frame = moment.frame(voice.reference, NEAR, self._tuning, voice.onset, alone)
        if frame is None or frame.centre < voice.onset:
            return
        if frame.clarity < TRUSTED and abs(frame.pitch - voice.reference) > NEAR and not gliding:
            return
        if strand.guessed:
            voice.points, voice.quick, voice.plateau = [point_of(frame)], [point_of(frame)], 0
            strand.guessed = False
            voice.settle()
            return
        voice.add(frame)
        self._arrive(strand, moment)
        if strand in self._strands:
            self._revise(strand, moment.end)

    def _is_free(self, strand: Strand, pitch: float) -> bool:
        """No other note stands at this pitch, or has just begun to."""
        others = (s for s in self._strands if s is not strand)
        return not any(abs(p - pitch) < FOLLOWED for s in others for p in (s.pitch, s.voice.reference))

    def _check(self, strand: Strand, moment: Moment) -> None:
        """The later heads confirm a note or withdraw it."""
        age = self._evidence.now - 0.5 - strand.u
        for delay, bar in ((6, CONFIRMED), (10, KEPT_ON)):
            if strand.checked >= delay or age < delay + SETTLE:
                continue
            strand.checked = delay
            sure = max(self._evidence.onset_sure(strand.midi, strand.u, d) for d in (6, 10) if age >= d)
            strand.sure = max(sure, strand.sure if delay == 10 else 0.0)
            if sure < max(bar - self._lenience(strand.midi, strand.u), self._quiet_bar(strand)):
                self._withdraw(strand, moment.end)
                return
            if delay == 6:
                strand.picked = self._evidence.picked(strand.midi, strand.u)
                if strand.picked < PICKED and strand.voice.gesture is Gesture.PICKED:
                    self._find_source(strand, moment)

    def _below(self, level_db: float) -> float:
        """By how many dB it is softer than the line."""
        return median(self._levels) - level_db if self._levels else 0.0

    def _quiet_bar(self, strand: Strand) -> float:
        """What is softer than the line must be surer: another instrument in the room is."""
        share = (self._below(strand.voice.peak_db) - QUIET_DB[0]) / (QUIET_DB[1] - QUIET_DB[0])
        return QUIET_SURE[0] + (QUIET_SURE[1] - QUIET_SURE[0]) * min(1.0, share) if share > 0.0 else 0.0

    def _find_source(self, strand: Strand, moment: Moment) -> None:
        """A note told before it was known to be no picked one: where another one left off, it came from there."""
        voice = strand.voice
        for other in list(self._strands):
            if other is not strand and self._follows(
                strand, other.voice.reference, self._evidence.left(other.voice.reference) * HOP
            ):
                self._end(other, voice.onset, moment.end)
        for over in self._ended:
            if over.end >= 0 and self._follows(strand, over.pitch, over.end):
                voice.slurred_from, voice.gesture = over.id, Gesture.SLURRED
                self._revise(strand, moment.end, force=True)

    @staticmethod
    def _follows(strand: Strand, pitch: float, end: float) -> bool:
        away = abs(strand.voice.reference - pitch)
        return 0.6 < away <= REACHES and abs(strand.voice.onset - end) < FOLLOWS

    def _silence(self, strand: Strand, moment: Moment) -> None:
        """A note is over when its pitch sounds no more."""
        heard = any(self._evidence.sounding(p) >= SILENT for p in (strand.pitch, strand.voice.reference, strand.midi))
        strand.silent = 0 if heard else strand.silent + 1
        if strand.silent >= SILENT_HOPS and self._evidence.now - strand.u > UNHEARD:
            self._end(strand, moment.end - (SILENT_HOPS + 4) * HOP, moment.end)

    def _meet_dead(self, sure: float, moment: Moment) -> None:
        """A muted stroke; what was told of it as a note is taken back."""
        u = self._evidence.now - 1 - 6 - 0.5
        for strand in list(self._strands):
            if abs(strand.u - u) < DEAD_REACH and strand.picked > 0.0:
                self._withdraw(strand, moment.end)
        if any(abs(e.u - u) < 2.0 * DEAD_REACH for e in self._ended if e.midi == DEAD):
            return
        onset = max(self._onset(u), self._watermark)
        self._ended.append(Over(DEAD, u, -1, -1.0, -1))
        note = Note(
            id=self._take_id(), onset_sample=onset, offset_sample=min(moment.end, onset + samples(0.05)),
            pitch_midi=None, gesture=Gesture.DEAD, level_db=max(m.level_db for m in self._moments), confidence=sure,
        )  # fmt: skip
        self._events += [Opened(note.id, note, moment.end), Final(note.id, moment.end)]

    # --- telling ----------------------------------------------------------------------------------------------------

    def _note(self, strand: Strand, offset: int | None) -> Note:
        drawn = strand.crowded > CROWDED or abs(strand.voice.reference - strand.midi) > NEAR
        note = strand.voice.note(offset, strand.midi if drawn else None)
        chance = float(np.interp(strand.sure, *SURE_AND_RIGHT))
        return replace(note, voice=strand.slot, confidence=chance, unsure=chance < UNSURE)

    def _revise(self, strand: Strand, told: int, force: bool = False) -> None:
        before, voice = strand.voice.told, strand.voice
        assert before is not None
        assert before.pitch_midi is not None
        if not force and len(voice.points) % 4 and abs(voice.reference - before.pitch_midi) < 0.4:
            return
        now = self._note(strand, None)
        assert now.pitch_midi is not None
        if (
            abs(now.pitch_midi - before.pitch_midi) > REVISE_SEMITONES
            or now.gesture is not before.gesture
            or now.from_midi != before.from_midi
            or now.onset_sample != before.onset_sample
        ):
            voice.told = now
            self._events.append(Revised(voice.id, now, told))

    def _end(self, strand: Strand, offset: int, told: int) -> None:
        brief = offset - strand.voice.onset < samples(0.08)
        there = self._goes_over(strand) if brief else None
        if there is not None and self._merge(strand, there, told):
            return
        short = offset - strand.voice.onset < SHORT and strand.sure < SHORT_SURE
        if short or offset - strand.voice.onset < SHORTEST:
            self._withdraw(strand, told)
            return
        self._forget(strand, offset)
        self._levels = [*self._levels[1 - LINE :], strand.voice.peak_db]
        note = self._note(strand, max(offset, strand.voice.onset + 1))
        self._events += [Revised(note.id, note, told), Final(note.id, told)]

    def _withdraw(self, strand: Strand, told: int) -> None:
        self._forget(strand)
        self._events.append(Withdrawn(strand.voice.id, told))

    def _forget(self, strand: Strand, end: int = -1) -> None:
        self._strands.remove(strand)
        since = self._evidence.now - REMEMBERED
        over = Over(strand.midi, strand.u, strand.voice.id, strand.voice.reference, end)
        self._ended = [*(e for e in self._ended if max(e.u, e.end / HOP) > since), over]

    def _mark(self) -> None:
        """Not beyond an open note, nor what may still be opened."""
        mark = min([(self._evidence.now - LATE_HOPS) * HOP, *(s.voice.onset for s in self._strands)])
        if mark > self._watermark:
            self._watermark = mark
            self._events.append(Watermark(mark))

    def _take_id(self) -> int:
        self._next_id += 1
        return self._next_id - 1
