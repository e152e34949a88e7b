"""A note that the decoder follows, and the rules by which a pitch that moves is one note or two. Pure functions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from listener.ear.contour import Point
from listener.ear.frames import Frame, samples
from listener.ear.voice import Voice
from listener.events import Gesture

STAND_S, STAND_PERIODS, STAND_MORE_S = 0.040, 4.0, 0.010
BEND_STAND_S = 0.120
STRUCK_TOGETHER = samples(0.025)  # a double stop
LET_DOWN_S = 0.150  # a pre-bend is heard before it is let down


@dataclass(slots=True)
class Strand:
    """One sounding note: `midi` the semitone that the network named, `u` its onset in hops."""

    midi: int
    u: float
    voice: Voice
    slot: int
    sure: float
    delay: int  # of the head that told it
    guessed: bool = False  # no pitch was measured yet
    picked: float = 1.0
    silent: int = 0
    crowded: int = 0  # hops in which another string sounded too
    checked: int = 0  # the last delay whose word was taken
    struck: tuple[int, float] = (0, 0.0)  # `midi` and `u` at first

    def __post_init__(self) -> None:
        self.struck = self.midi, self.u

    @property
    def began(self) -> float:
        """The pitch at which it was struck, measured or, where it moved too soon, as the network named it."""
        first = self.voice.points[0].pitch
        return first if abs(first - self.struck[0]) < 0.5 else float(self.struck[0])

    @property
    def pitch(self) -> float:
        return self.voice.points[-1].pitch

    def is_near(self, midi: float, reach: float) -> bool:
        """Whether it stood, or now is, so near."""
        return min(abs(self.pitch - midi), abs(self.voice.reference - midi)) < reach


@dataclass(frozen=True, slots=True)
class Over:
    """A note that has ended: what a slur may have come from, and what is not begun twice."""

    midi: int
    u: float
    id: int
    pitch: float
    end: int  # sample


def point_of(frame: Frame) -> Point:
    return Point(frame.centre, frame.pitch, frame.clarity, frame.level_db)


def glide_rule(voice: Voice, arrival: float) -> tuple[Gesture, float]:
    """What a glide is called, and how many seconds its start must stand to be a note of its own."""
    rises = arrival > voice.reference
    bent = voice.gesture is Gesture.BEND or voice.slurred_from is not None
    if rises:
        return Gesture.BEND, BEND_STAND_S
    return Gesture.RELEASE, STAND_S if bent else LET_DOWN_S


def glide_began(points: list[Point], start: float, arrival: float) -> float | None:
    """The sample at which a glide began that has gone half its way: a hand moves like a raised cosine, which takes a
    quarter of its time for the first 15 % and half for 50 %; the foot of the slope itself is lost in the noise."""
    when = dict[float, int]()
    for share in (0.5, 0.15):
        level = start + share * (arrival - start)
        past = [i for i, p in enumerate(points) if (p.pitch - level) * (arrival - start) < 0]
        if not past or past[-1] + 1 >= len(points):
            return None
        when[share] = points[past[-1] + 1].sample
        points = points[: past[-1] + 2]
    return when[0.5] - 2.03 * (when[0.5] - when[0.15])


def least_stand(one: float, other: float) -> float:
    """Seconds that a fretted start must stand to be a note of its own."""
    lower = float(440.0 * 2.0 ** ((min(one, other) - 69.0) / 12.0))
    return max(STAND_S, STAND_PERIODS / lower + STAND_MORE_S)


def slot_among(strands: Sequence[Strand], onset: int, slurred_from: int | None) -> int:
    """The voice of a new note. One that starts alone goes on with the line, whatever still rings; notes struck together
    stand apart; a slurred note stays in the voice it came from."""
    for strand in strands:
        if strand.voice.id == slurred_from:
            return strand.slot
    taken = {s.slot for s in strands if abs(s.voice.onset - onset) <= STRUCK_TOGETHER}
    return next(slot for slot in range(len(taken) + 1) if slot not in taken)
