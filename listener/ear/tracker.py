"""From frames to notes: the state machine of the live ear, in the ear's own samples.

A note begins with a pick attack whose pitch is believed, or out of another note whose pitch goes elsewhere and stands
there (a slur, a bend, a slide, a release), or, where the attack was missed, with a new pitch that stands.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from listener.ear import voicing
from listener.ear.attack import CLEAR_DB
from listener.ear.contour import CLEAR, Point
from listener.ear.frames import HOP, RATE, Attack, Frame, samples
from listener.ear.levels import QUIETEST_DB, Levels
from listener.ear.movement import Movement, crossing, leaving, movement
from listener.ear.voice import Voice
from listener.ear.voicing import CONTINUED, RINGS, SAME
from listener.events import EarEvent, Final, Gesture, Note, Opened, Revised, Watermark, Withdrawn

AGREE = 3  # frames that must agree before a pitch is believed
AGREE_SEMITONES = 0.35
BELIEVED = 0.86  # clarity from which a first pitch is believed
GIVE_UP = samples(0.110)  # after an attack without a pitch
REPICK_RISE_DB = 0.5  # the same pitch is picked again where the level rises by this, or where the old sound broke off
CLEAR_RISE_DB = 3.0  # no hand's noise raises the level so much
GENTLE_DB, GENTLE_RISE_DB = 3.5, 2.0  # a weaker attack than this, with the old sound gone, is a hammer, pull or slide
GENTLE_SHARE = 1.05  # of new sound: more than all where what was foretold did not go on
BROKEN_SHARE = 1.5  # of new sound at the same pitch: the string was stopped and set going anew
NOTHING_NEW = 0.22  # an attack that adds so little to the foretold sound is a hand's noise
BELIEVED_NEW = 0.80  # clarity from which the pitch of the new sound is believed
SETTLED_SHARE = samples(0.018)  # age at which the share of new sound can be read
DEAD_FALL_DB = 10.0  # a muted string loses this much within
DEAD_WITHIN = samples(0.042)
DEAD_BELOW_DB = 26.0  # an attack so far below the recent notes is a hand's noise and no stroke
MOVED = 0.70  # semitones: the least that is another pitch
STEP_RANGE, GLIDE_RANGE = 0.25, 0.12  # semitones within which the last frames of an arrival lie
STEP_TAIL, GLIDE_TAIL = 3, 5
STAND_S, STAND_PERIODS, STAND_MORE_S = 0.040, 4.0, 0.010
LEAST_START_S = 0.025  # a shorter start is none, but the attack's own unrest
BEND_STAND_S = 0.120
RINGING = samples(0.30)  # so long after its attack a note is told from the strings that ring under it
CORRECTED = samples(0.150)  # so long after its onset an octave heard in the attack is put right
END_UNVOICED = 6  # hops without pitch that end a note
END_FALL_DB = 45.0
START_QUIET_DB = -40.0  # what already sounds when the stream begins must be a note, not a hum
LATE = samples(0.130)  # no note is opened later than this after its onset
LATE_AGREE = 5
LATE_RISE_DB = 6.0
REVISE_SEMITONES = 0.15
WATERMARK_HOPS = 4


@dataclass(slots=True)
class Pending:
    """An attack whose pitch is not known yet."""

    attack: Attack
    frames: list[Frame] = field(default_factory=list)
    peak_db: float = -120.0


class Tracker:
    """Frame in, events out. Times are samples of the ear's own rate; `told_sample` is the end of the frame's hop."""

    def __init__(self) -> None:
        self.voice: Voice | None = None
        self.pending: Pending | None = None
        self._next_id = 1
        self._levels = Levels()
        self._late: list[Frame] = []
        self._last: tuple[float, float, int] | None = None  # pitch, level and end of the note before
        self._watermark = 0
        self._hops = 0
        self._events: list[EarEvent] = []

    def push(self, frame: Frame) -> list[EarEvent]:
        self._events = []
        self._levels.push(frame.level_db, resting=self.voice is None and self.pending is None)
        if frame.attack is not None:
            self._meet_attack(frame)
        if self.pending is not None:
            self._wait(frame)
        if self.voice is not None:
            self._follow(frame)
        elif self.pending is None:
            self._open_late(frame)
        self._hops += 1
        if self._hops % WATERMARK_HOPS == 0:
            self._mark(frame.end)
        return self._events

    def finish(self, end: int) -> list[EarEvent]:
        """The stream ends at sample `end`."""
        self._events = []
        self.pending = None
        if self.voice is not None:
            self._end(min(end, self.voice.last_voiced), end)
        self._events.append(Watermark(end + 1))
        return self._events

    # --- attacks -------------------------------------------------------------------------------------------------

    def _meet_attack(self, frame: Frame) -> None:
        attack = frame.attack
        assert attack is not None
        if self.pending is not None:
            if attack.sample - self.pending.attack.sample < samples(0.030):
                return
            self._resolve_unpitched(frame)
        if self.voice is not None and attack.sample <= self.voice.onset + samples(0.020):
            return
        self.pending = Pending(attack)

    def _wait(self, frame: Frame) -> None:
        """Look for the pitch of the attack; give up after a while."""
        pending = self.pending
        assert pending is not None
        pending.peak_db = max(pending.peak_db, frame.level_db)
        age = frame.end - pending.attack.sample
        little = NOTHING_NEW if self.voice is not None and pending.attack.rise_db < CLEAR_RISE_DB else NOTHING_NEW / 4
        if age >= SETTLED_SHARE and frame.new_share < little:
            self.pending = None
            return
        least = BELIEVED
        if frame.new_share < RINGS and not (frame.clarity >= CLEAR and voicing.is_whole(frame.pitch, frame.new_pitch)):
            frame, least = replace(frame, pitch=frame.new_pitch, clarity=frame.new_clarity), BELIEVED_NEW
        if frame.clarity >= least and frame.span >= 1.9 * frame.lag and self._levels.audible(frame.level_db):
            pending.frames.append(frame)
        if len(pending.frames) >= AGREE:
            recent = [f.pitch for f in pending.frames[-AGREE:]]
            fresh = frame.end - pending.frames[-AGREE].end <= (AGREE + 1) * HOP
            if fresh and max(recent) - min(recent) < AGREE_SEMITONES:
                self._resolve(float(np.median(recent)), frame)
                return
        if age > GIVE_UP:
            self._resolve_unpitched(frame)

    def _resolve(self, pitch: float, frame: Frame) -> None:
        """The attack's pitch is believed."""
        pending, voice = self.pending, self.voice
        assert pending is not None
        attack = pending.attack
        if attack.sample < samples(0.010) and pending.peak_db < START_QUIET_DB:
            self.pending = None
            return
        if pending.peak_db - frame.level_db > DEAD_FALL_DB:
            if frame.end - attack.sample > samples(0.034):
                self._resolve_unpitched(frame)
            return
        same = voice is not None and abs(pitch - voice.reference) < SAME
        broken = attack.strength_db >= CLEAR_DB and frame.new_share > BROKEN_SHARE
        gentle = attack.strength_db < GENTLE_DB and attack.rise_db < GENTLE_RISE_DB and frame.new_share > GENTLE_SHARE
        gentle |= attack.strength_db < CLEAR_DB and frame.new_share > RINGS
        if voice is not None and (attack.rise_db < REPICK_RISE_DB and not broken if same else gentle):
            self.pending = None  # a finger moved on the sounding string: the contour tells
            return
        under = float("nan") if voice is None else voice.reference
        if voice is not None:
            self._end(attack.sample, frame.end)
        kept = [f for f in pending.frames if abs(f.pitch - pitch) < SAME]
        self.pending = None
        self._open(attack.sample, kept, pending.peak_db, frame.end)
        if self.voice is not None and frame.new_share < RINGS:
            self.voice.rings_until, self.voice.rings_pitch = attack.sample + RINGING, under

    def _resolve_unpitched(self, frame: Frame) -> None:
        """An attack that brought no pitch: a muted stroke, or a noise of the hand."""
        pending = self.pending
        assert pending is not None
        self.pending = None
        attack = pending.attack
        stroke = pending.peak_db > self._levels.loud_db - DEAD_BELOW_DB and self._levels.audible(pending.peak_db)
        if not stroke or attack.rise_db < 6.0:
            return
        if self.voice is not None:
            if self.voice.unvoiced == 0 and frame.level_db > self.voice.peak_db - 20.0:
                return
            self._end(attack.sample, frame.end)
        note = Note(
            id=self._take_id(), onset_sample=attack.sample, offset_sample=min(frame.end, attack.sample + samples(0.05)),
            pitch_midi=None, gesture=Gesture.DEAD, level_db=pending.peak_db,
            confidence=min(1.0, attack.strength_db / 8.0),
        )  # fmt: skip
        self._events += [Opened(note.id, note, frame.end), Final(note.id, frame.end)]

    # --- the sounding note -----------------------------------------------------------------------------------------

    def _open(
        self, onset: int, frames: list[Frame], peak_db: float, told: int,
        gesture: Gesture = Gesture.PICKED, slurred_from: int | None = None,
    ) -> None:  # fmt: skip
        points = [Point(f.centre, f.pitch, f.clarity, f.level_db) for f in frames]
        self._open_points(onset, points, list(points), peak_db, told, gesture, slurred_from)

    def _open_points(
        self, onset: int, points: list[Point], quick: list[Point], peak_db: float, told: int,
        gesture: Gesture, slurred_from: int | None,
    ) -> None:  # fmt: skip
        voice = Voice(self._take_id(), max(onset, self._watermark), points, quick, peak_db, gesture, None, slurred_from)
        voice.last_voiced = told
        self._levels.meet(peak_db)
        self.voice = voice
        self._late = []
        voice.told = voice.note(None)
        self._events.append(Opened(voice.id, voice.told, told))

    def _follow(self, frame: Frame) -> None:
        voice = self.voice
        assert voice is not None
        if self._is_dead(voice, frame):
            self._kill(voice, frame)
            return
        voiced = frame.clarity >= CONTINUED and frame.level_db > max(voice.peak_db - END_FALL_DB, QUIETEST_DB)
        if voiced:
            frame = voicing.of_voice(voice, frame)
            if voicing.is_sub_period(voice, frame):
                voice.shared += 1
                voice.unvoiced = 0
                if self._is_lower(voice, frame):
                    voice.correct(frame)
                    self._revise(voice, frame.end)
                voice.last_voiced = frame.end
                return
            if voicing.is_doubtful(voice, frame):
                voice.doubtful += 1
                voice.last_voiced = frame.end
                return
        if not voiced:
            voice.unvoiced += 1
            if voice.unvoiced >= END_UNVOICED and self.pending is None:
                self._end(voice.last_voiced, frame.end)
            return
        voice.unvoiced = 0
        voice.doubtful = 0 if abs(frame.pitch - voice.reference) < SAME else voice.doubtful
        voice.add(frame)
        if self.pending is None and not self._arrive(voice, frame):
            self._revise(voice, frame.end)

    def _is_lower(self, voice: Voice, frame: Frame) -> bool:
        """An attack whose overtones were heard for the note, until the string itself sounded, and alone."""
        return (
            voice.shared >= AGREE
            and frame.end - voice.onset < CORRECTED
            and frame.end >= voice.rings_until
            and frame.clarity >= voicing.PURE
            and max(p.clarity for p in voice.points) < voicing.PURE
        )

    def _is_dead(self, voice: Voice, frame: Frame) -> bool:
        return (
            voice.slurred_from is None
            and frame.end - voice.onset < DEAD_WITHIN
            and voice.peak_db - frame.level_db > DEAD_FALL_DB
        )

    def _kill(self, voice: Voice, frame: Frame) -> None:
        """A pitch was told, and the string turned out to be muted."""
        self.voice = None
        self._events.append(Withdrawn(voice.id, frame.end))
        note = Note(
            id=self._take_id(), onset_sample=voice.onset, offset_sample=frame.end, pitch_midi=None,
            gesture=Gesture.DEAD, level_db=voice.peak_db, confidence=0.7,
        )  # fmt: skip
        self._events += [Opened(note.id, note, frame.end), Final(note.id, frame.end)]

    def _arrive(self, voice: Voice, frame: Frame) -> bool:
        """Whether the pitch now stands elsewhere; if so, tell it."""
        since = voice.points[voice.stood_until + 1 :]
        if len(since) < STEP_TAIL:
            return False
        tail = [p.pitch for p in since[-STEP_TAIL:]]
        arrival = float(np.median(tail))
        if max(tail) - min(tail) > STEP_RANGE or abs(arrival - voice.reference) < MOVED:
            return False
        quick = voice.quick[max(voice.plateau, voice.stood_until - 5) :]
        kind = movement(quick, voice.reference, arrival)
        if kind is not Movement.STEP:
            tail = [p.pitch for p in since[-GLIDE_TAIL:]]
            if len(since) < GLIDE_TAIL or max(tail) - min(tail) > GLIDE_RANGE:
                return False
        self._move(voice, frame, arrival, kind)
        return True

    def _move(self, voice: Voice, frame: Frame, arrival: float, kind: Movement) -> None:
        rise = arrival - voice.reference
        left = voice.stood_until
        if kind is Movement.GLIDE:
            left = max(voice.plateau, leaving(voice.quick, left))
        stood = (voice.points[left].sample - voice.plateau_from) / RATE
        lower = 440.0 * 2.0 ** ((min(arrival, voice.reference) - 69.0) / 12.0)
        least = max(STAND_S, STAND_PERIODS / lower + STAND_MORE_S)
        gesture = Gesture.SLURRED
        if kind is Movement.STAIRS:
            gesture = Gesture.SLIDE
        elif kind is Movement.GLIDE:
            gesture = Gesture.BEND if rise > 0 else Gesture.RELEASE
            bent = voice.gesture is Gesture.BEND or voice.slurred_from is not None
            least = BEND_STAND_S if rise > 0 or not bent else 0.040
        first = next(i for i in range(len(voice.points) - 1, -1, -1) if abs(voice.points[i].pitch - arrival) > 0.5) + 1
        onset = crossing(voice.quick[voice.stood_until :], arrival)
        if stood >= least:
            self._end(onset, frame.end)
            self._open_points(
                onset, voice.points[first:], voice.quick[first:], max(p.level_db for p in voice.points[first:]),
                frame.end, gesture, voice.id,
            )  # fmt: skip
            return
        if voice.slurred_from is not None:  # a fret passed on the way: the note is where the way ends
            voice.gesture = Gesture.SLIDE if kind is Movement.STEP else gesture
            voice.onset = max(onset, voice.onset)
        elif kind is not Movement.STEP or stood >= LEAST_START_S:
            voice.from_midi = voice.reference if voice.from_midi is None else voice.from_midi
            voice.gesture = gesture
        voice.plateau, voice.plateau_from = first, onset
        voice.settle()
        self._revise(voice, frame.end)

    def _revise(self, voice: Voice, told: int) -> None:
        """Tell what has changed, if it matters."""
        before = voice.told
        assert before is not None
        assert before.pitch_midi is not None
        if len(voice.points) % 4 and abs(voice.reference - before.pitch_midi) < 0.4:
            return
        now = voice.note(None)
        assert now.pitch_midi is not None
        if (
            abs(now.pitch_midi - before.pitch_midi) > REVISE_SEMITONES
            or now.gesture is not before.gesture
            or now.from_midi != before.from_midi
            or now.onset_sample != before.onset_sample
        ):
            voice.told = now
            self._events.append(Revised(voice.id, now, told))

    def _end(self, offset: int, told: int) -> None:
        voice = self.voice
        assert voice is not None
        self.voice = None
        offset = max(offset, voice.onset + 1)
        note = voice.note(offset)
        self._last = (voice.reference, voice.points[-1].level_db, offset)
        if offset - voice.onset < samples(0.030) and len(voice.points) < 5:
            self._events.append(Withdrawn(voice.id, told))
            return
        self._events += [Revised(voice.id, note, told), Final(voice.id, told)]

    # --- notes whose attack was missed -------------------------------------------------------------------------------

    def _open_late(self, frame: Frame) -> None:
        if frame.clarity < BELIEVED or not self._levels.audible(frame.level_db) or frame.span < 1.9 * frame.lag:
            self._late = []
            return
        self._late = [*self._late[-LATE_AGREE + 1 :], frame]
        pitches = [f.pitch for f in self._late]
        if len(pitches) < LATE_AGREE or max(pitches) - min(pitches) > AGREE_SEMITONES:
            return
        same = self._last is not None and abs(pitches[-1] - self._last[0]) < SAME
        other = self._last is not None and not same and frame.end - self._last[2] < samples(0.15)
        risen = self._levels.rise_db() >= LATE_RISE_DB
        if risen or (other and frame.level_db > self._levels.loud_db - 20.0):
            onset = self._late[0].centre
            self._open(onset, self._late, max(f.level_db for f in self._late), frame.end)

    # --- the watermark -----------------------------------------------------------------------------------------------

    def _mark(self, end: int) -> None:
        """Nothing that began before it will change: not beyond an open note, an attack, or what may be opened late."""
        mark = end - LATE
        if self.pending is not None:
            mark = min(mark, self.pending.attack.sample)
        if self.voice is not None:
            mark = min(mark, self.voice.onset)
        if mark > self._watermark:
            self._watermark = mark
            self._events.append(Watermark(mark))

    def _take_id(self) -> int:
        self._next_id += 1
        return self._next_id - 1
