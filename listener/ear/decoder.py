"""From what the network says and what is measured to notes: up to six at once, told early, confirmed or withdrawn."""

from __future__ import annotations

from dataclasses import replace

from listener.ear.contour import Point
from listener.ear.evidence import BAR, Evidence, Hint
from listener.ear.frames import HOP, RATE, samples
from listener.ear.moment import AMONG, Moment
from listener.ear.movement import Movement, crossing, leaving, movement
from listener.ear.strand import Strand, glide_began, glide_rule, least_stand, point_of, slot_among
from listener.ear.voice import Voice
from listener.events import EarEvent, Final, Gesture, Note, Opened, Revised, Watermark, Withdrawn

MOST_VOICES = 6
SAME_ONSET = 6.0  # hops within which two hints at one pitch are one onset
AGAIN, PICKED = 0.5, 0.5  # of the picked head: the same pitch begins again; another one was struck, not slurred
CONFIRMED, KEPT_ON = 0.86, 0.90  # of the later onset heads
LENIENT, TOGETHER = 0.18, 5.0  # so much less is asked of a note that began within so many hops of a surer one
SETTLE = 2  # hops after a head's own moment at which its word is taken
SILENT, SILENT_HOPS = 0.30, 4  # of the sounding head
UNHEARD = 12  # hops after an onset before silence counts
REACHES, BLURRED = 5.5, 0.88  # semitones: no finger slurs farther; no two strings are told apart nearer
NEAR, FOLLOWED = 0.45, 0.80  # semitones: of a pitch that stands, of one that may glide
MOVED, FRETS = 0.70, 1.5  # semitones: the least that is another pitch; the least that may have gone over frets
MOVING = 0.3  # of the moving head
STEP_ALONE = 10  # points after which a step is believed that no head told
STEP_RANGE, GLIDE_RANGE, STEP_TAIL, GLIDE_TAIL = 0.25, 0.12, 3, 5  # semitones and points of an arrival's tail
TRUSTED = 0.85  # clarity from which a contour alone may tell a glide
LEAST_START_S = 0.025
REVISE_SEMITONES = 0.15
SHORTEST, SHORT, SHORT_SURE = samples(0.030), samples(0.060), 0.97  # a note so short must be so sure
DEAD_REACH = 7.0  # hops
UNSURE = 0.5
LATE_HOPS = 22  # no note is opened later than this after its onset
WATERMARK_HOPS, KEPT_MOMENTS = 4, 14


class Decoder:
    """Moment in, events out. Times are samples of the ear's own rate, pitches count from the player's A4."""

    def __init__(self, tuning: float) -> None:
        self._tuning = tuning
        self._evidence = Evidence()
        self._moments: list[Moment] = []
        self._strands: list[Strand] = []
        self._ended: list[tuple[int, float]] = []  # semitone and onset of notes that are over
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
        for hint in self._evidence.hints(slurs=bool(self._strands)):
            self._meet(hint, moment)
        for hint in self._evidence.arrivals():
            self._meet_arrival(hint, moment)
        sure = self._evidence.dead()
        if sure is not None:
            self._meet_dead(sure, moment)
        for strand in list(self._strands):
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
        for strand in own:
            if abs(strand.u - hint.u) < SAME_ONSET:
                strand.sure = max(strand.sure, hint.sure)
                return
        if any(midi == hint.midi and abs(u - hint.u) < SAME_ONSET for midi, u in self._ended):
            return
        if hint.u * HOP <= self._watermark:
            return
        picked = self._evidence.picked(hint.midi, hint.u) if hint.delay > 3 else 1.0
        if own:
            if hint.sure < BAR or hint.delay == 3 or picked < AGAIN:
                return
            for strand in own:
                self._end(strand, self._onset(hint.u), moment.end)
        elif picked < PICKED and self._slur(hint, moment):
            return
        if hint.sure >= BAR - self._lenience(hint.midi, hint.u) or hint.delay != 6:
            self._open(hint, moment, picked)

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
        left = onset if began is None else min(onset, round(began * HOP))
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
        elif began is not None or stood >= LEAST_START_S:
            voice.from_midi = voice.reference if voice.from_midi is None else voice.from_midi
            voice.gesture = gesture
        fresh = self._strand(hint, onset, moment, voice.gesture, None)
        self._next_id -= 1
        voice.plateau, voice.plateau_from = len(voice.points), onset
        source.guessed &= fresh.guessed
        voice.points += fresh.voice.points
        voice.quick += fresh.voice.quick
        voice.settle()
        source.midi, source.u, source.silent = hint.midi, hint.u, 0
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
        if min(p.clarity for p in since[-STEP_TAIL:]) < TRUSTED or self._evidence.sounding(arrival) < SILENT:
            return
        kind = movement(voice.quick[max(voice.plateau, voice.stood_until - 5) :], voice.reference, arrival)
        if kind is not Movement.STEP and (len(since) < GLIDE_TAIL or max(tail) - min(tail) > GLIDE_RANGE):
            return
        if kind is Movement.STEP and len(since) < STEP_ALONE:
            return  # the network tells steps
        self._move(strand, moment, arrival)

    def _move(self, strand: Strand, moment: Moment, arrival: float, glide: bool = False) -> None:
        """A pitch has moved within one note: one note or two, by how long its start stood."""
        voice = strand.voice
        kind = movement(voice.quick[max(voice.plateau, voice.stood_until - 5) :], voice.reference, arrival)
        if glide:
            kind = Movement.GLIDE
        far = abs(arrival - voice.reference) > FRETS
        if kind is Movement.GLIDE and not glide and far and self._evidence.is_stepped(voice.reference, arrival):
            kind = Movement.STAIRS  # a room's tail smears frets into a slope; the network tells them apart
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
        elif kind is not Movement.STEP or stood >= LEAST_START_S:
            voice.from_midi = voice.reference if voice.from_midi is None else voice.from_midi
            voice.gesture = gesture
        voice.plateau, voice.plateau_from = first, onset
        voice.settle()
        strand.midi = round(arrival)
        self._revise(strand, moment.end, force=True)

    # --- the sounding notes -----------------------------------------------------------------------------------------

    def _follow(self, strand: Strand, moment: Moment) -> None:
        voice = strand.voice
        alone = not any(s is not strand and s.silent == 0 for s in self._strands)
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
            if sure < bar - self._lenience(strand.midi, strand.u):
                self._withdraw(strand, moment.end)
                return
            if delay == 6:
                strand.picked = self._evidence.picked(strand.midi, strand.u)

    def _silence(self, strand: Strand, moment: Moment) -> None:
        """A note is over when its pitch sounds no more."""
        heard = any(self._evidence.sounding(p) >= SILENT for p in (strand.pitch, strand.voice.reference, strand.midi))
        strand.silent = 0 if heard else strand.silent + 1
        if strand.silent >= SILENT_HOPS and self._evidence.now - strand.u > UNHEARD:
            self._end(strand, moment.end - (SILENT_HOPS + 4) * HOP, moment.end)

    def _meet_dead(self, sure: float, moment: Moment) -> None:
        """A muted stroke; what was told of it as a note is taken back, unless that is surer."""
        u = self._evidence.now - 1 - 6 - 0.5
        for strand in list(self._strands):
            if abs(strand.u - u) < DEAD_REACH and strand.picked > 0.0:
                if self._evidence.onset_sure(strand.midi, strand.u, 6) > sure:
                    return
                self._withdraw(strand, moment.end)
        if any(abs(started - u) < DEAD_REACH for _, started in self._ended):
            return
        onset = max(self._onset(u), self._watermark)
        self._ended.append((-1, u))
        note = Note(
            id=self._take_id(), onset_sample=onset, offset_sample=min(moment.end, onset + samples(0.05)),
            pitch_midi=None, gesture=Gesture.DEAD, level_db=max(m.level_db for m in self._moments), confidence=sure,
        )  # fmt: skip
        self._events += [Opened(note.id, note, moment.end), Final(note.id, moment.end)]

    # --- telling ----------------------------------------------------------------------------------------------------

    def _note(self, strand: Strand, offset: int | None) -> Note:
        note = strand.voice.note(offset)
        return replace(note, voice=strand.slot, confidence=min(1.0, strand.sure), unsure=strand.sure < UNSURE)

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
        short = offset - strand.voice.onset < SHORT and strand.sure < SHORT_SURE
        if short or offset - strand.voice.onset < SHORTEST:
            self._withdraw(strand, told)
            return
        self._forget(strand)
        note = self._note(strand, max(offset, strand.voice.onset + 1))
        self._events += [Revised(note.id, note, told), Final(note.id, told)]

    def _withdraw(self, strand: Strand, told: int) -> None:
        self._forget(strand)
        self._events.append(Withdrawn(strand.voice.id, told))

    def _forget(self, strand: Strand) -> None:
        self._strands.remove(strand)
        since = self._evidence.now - 3 * LATE_HOPS
        self._ended = [*(e for e in self._ended if e[1] > since), (strand.midi, strand.u)]

    def _mark(self) -> None:
        """Not beyond an open note, nor what may still be opened."""
        mark = min([(self._evidence.now - LATE_HOPS) * HOP, *(s.voice.onset for s in self._strands)])
        if mark > self._watermark:
            self._watermark = mark
            self._events.append(Watermark(mark))

    def _take_id(self) -> int:
        self._next_id += 1
        return self._next_id - 1
