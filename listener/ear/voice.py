"""One sounding note: what has been heard of it and what has been told."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import takewhile

from listener.ear import contour
from listener.ear.contour import Point
from listener.ear.frames import Frame, samples
from listener.events import Gesture, Note

REFERENCE_POINTS = 16  # the first points of a plateau are its pitch while the note sounds
FIRST_POINTS, LEFT = 3, 0.25  # so many are where it began; semitones from them at which a glide has left
STRAYED = 0.5  # semitones
NEAR = 0.45  # semitones around the plateau that are no movement
CONTOUR_STEP = samples(0.010)
LIVE_POINTS = 400  # 2.3 s: while a note sounds, it is measured on so many of its last points
MOST_POINTS, FORGET = 3000, 1000  # a pitch that stands for 17 s loses 6 s out of its middle
UNSURE = 0.80  # median clarity below which two strings, or noise, are in the sound
CURL_LOW, CURL_HIGH = 25.0, 70.0


@dataclass(slots=True)
class Voice:
    """A note while it sounds. `points` is the long-frame contour, `quick` the short-frame one; `plateau` is the index
    of the first point of the pitch it stands on, `stood_until` the index of the last point near it."""

    id: int
    onset: int
    points: list[Point]
    quick: list[Point]
    peak_db: float
    gesture: Gesture = Gesture.PICKED
    from_midi: float | None = None
    slurred_from: int | None = None
    plateau: int = 0
    plateau_from: int = 0  # sample at which the pitch it stands on began
    stood_until: int = 0
    last_voiced: int = 0
    told: Note | None = None
    reference: float = field(default=float("nan"))

    def __post_init__(self) -> None:
        self.plateau_from = self.onset
        self.settle()

    def settle(self) -> None:
        """Take the plateau's first points as its reference; of a note just picked, up to where a glide leaves them."""
        head = [p.pitch for p in self.points[self.plateau : self.plateau + REFERENCE_POINTS]]
        if self.gesture is Gesture.PICKED:
            first = contour.median(head[:FIRST_POINTS])
            head = list(takewhile(lambda pitch: abs(pitch - first) <= LEFT, head)) or head[:FIRST_POINTS]
        self.reference = contour.median(head)
        self.stood_until = len(self.points) - 1
        self.last_voiced = self.points[-1].sample

    def add(self, frame: Frame) -> None:
        """One more voiced frame."""
        self.points.append(Point(frame.centre, frame.pitch, frame.clarity, frame.level_db))
        quick = frame.quick_clarity > 0.8 and abs(frame.quick_pitch - frame.pitch) < 0.8
        self.quick.append(
            Point(frame.quick_centre, frame.quick_pitch if quick else frame.pitch, frame.clarity, frame.level_db)
        )
        self.last_voiced = frame.end
        self.peak_db = max(self.peak_db, frame.level_db) if frame.end - self.onset < samples(0.06) else self.peak_db
        if len(self.points) - self.plateau > MOST_POINTS:
            for points in (self.points, self.quick):
                del points[self.plateau + FORGET : self.plateau + 2 * FORGET]
            self.stood_until = max(self.plateau + FORGET - 1, self.stood_until - FORGET)
        if abs(frame.pitch - self.reference) < NEAR:
            self.stood_until = len(self.points) - 1
            if len(self.points) - self.plateau <= REFERENCE_POINTS:
                self.settle()

    def note(self, offset: int | None, named: int | None = None) -> Note:
        """The note as known now; with its contour once it has ended. Where a semitone is `named`, a contour that strays
        from it without having gone elsewhere was drawn aside by another string."""
        standing = self.points[self.plateau :]
        if offset is None:
            standing = standing[-LIVE_POINTS:]
        else:
            inner = [p for p in standing if p.sample <= offset - samples(0.012)]
            standing = inner if len(inner) >= 3 else standing
        clarity = contour.median([p.clarity for p in standing])
        standing = contour.clear(standing)
        if named is not None and abs(contour.median([p.pitch for p in standing]) - named) > STRAYED:
            home = [p for p in self.points[self.plateau :] if abs(p.pitch - named) <= STRAYED]
            standing = home or [replace(standing[-1], pitch=float(named))]
        shape = contour.shape_of(standing)
        gesture, rise = self.gesture, shape.rise_cents
        if gesture in (Gesture.PICKED, Gesture.SLURRED):
            if shape.vibrato_cents >= contour.VIBRATO_CENTS and abs(rise) < CURL_LOW:
                gesture = Gesture.VIBRATO if gesture is Gesture.PICKED else gesture
            elif CURL_LOW <= rise <= CURL_HIGH and clarity >= contour.CLEAR:
                gesture = Gesture.CURL
        confidence = min(1.0, max(0.0, (clarity - 0.6) / 0.35)) * min(1.0, len(standing) / 5)
        return Note(
            id=self.id, onset_sample=self.onset, offset_sample=offset, pitch_midi=shape.pitch, gesture=gesture,
            from_midi=self.from_midi, slurred_from=self.slurred_from, rise_cents=rise, level_db=self.peak_db,
            confidence=confidence, unsure=clarity < UNSURE,
            contour=self._thinned() if offset is not None else (),
        )  # fmt: skip

    def _thinned(self) -> tuple[tuple[int, float], ...]:
        thinned: list[tuple[int, float]] = []
        for point in self.points:
            if not thinned or point.sample - thinned[-1][0] >= CONTOUR_STEP:
                thinned.append((max(point.sample, self.onset), point.pitch))
        return tuple(thinned)
