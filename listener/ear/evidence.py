"""What the heads of the network have said of late, and which onsets that makes. Times `u` are hops since the start."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from listener.ear.features import LOWEST, PITCHES
from listener.ear.frames import HOP, Attack, samples
from listener.ear.network import HEADS, ONSET_DELAYS, SCENE_HEADS, SOUNDING_DELAY, Floats, Heard

KEPT = 64  # frames: 0.37 s
LEAST_GLIDE = 6  # frames: a finger that comes down moves the pitch for a shorter time
GLIDES, PAUSE = 0.3, 3  # of the moving head, and for how many frames it may fall silent within one glide
EARLY, BAR, LATE = 0.93, 0.85, 0.93  # of the onset heads told 3, 6 and 10 frames late
SOONER = 0.60  # the first of them, where a note is to be told as soon as can be
WAY, SURELY_MOVES = 30, 0.65  # frames looked back for a glide, and how surely the moving head tells it
SLUR_BAR = 0.60  # the same, 6 frames late, where another note has just left off
HELD, HELD_SURE, HELD_BAR = 8, 0.90, 0.70
DEAD_BAR = 0.5  # the head of dead notes hardly errs: no false one in 80 minutes of rendered lines
LEFT_BIAS = 0.35  # hops that the head of sounding goes on too long, counted on rendered slurs
STRUCK = 0.40  # of the attack head: an early note must be a picked one
ATTACK_REACH = samples(0.024)  # an attack so near an onset is its own
_EARLY, _BAR, _LATE = (HEADS.index(f"onset_{d}") for d in ONSET_DELAYS)
_PICKED, _SOUNDING, _MOVING, _ARRIVED = (HEADS.index(h) for h in ("picked_6", "sounding", "moving", "arrived_6"))
_ATTACK, _DEAD = (SCENE_HEADS.index(h) for h in ("attack_3", "dead_6"))


@dataclass(frozen=True, slots=True)
class Hint:
    """An onset that a head tells: the semitone (MIDI), where it was, how late it is told, how surely."""

    midi: int
    u: float
    delay: int
    sure: float


class Evidence:
    """Pushed once a hop; with `early` the first head is believed at a lower bar."""

    def __init__(self, early: bool = False) -> None:
        self._early = SOONER if early else EARLY
        self._past: Floats = np.zeros((2 * KEPT, PITCHES, len(HEADS)), np.float32)  # moved back only when it is full
        self._filled = KEPT
        self._scene: Floats = np.zeros((KEPT, len(SCENE_HEADS)), np.float32)
        self._attacks: list[Attack] = []
        self.now = 0

    def push(self, heard: Heard, attack: Attack | None) -> None:
        if self._filled == len(self._past):
            self._past[: KEPT - 1] = self._past[1 - KEPT :]
            self._filled = KEPT - 1
        self._past[self._filled] = heard.pitches
        self._filled += 1
        self._scene[:-1] = self._scene[1:]
        self._scene[-1] = heard.scene
        self.now += 1
        if attack is not None:
            self._attacks = [a for a in self._attacks if a.sample > (self.now - KEPT) * HOP] + [attack]

    @property
    def _pitches(self) -> Floats:
        """The last KEPT frames, the last of them now."""
        return self._past[self._filled - KEPT : self._filled]

    def hints(self, slurs: bool = False) -> list[Hint]:
        """Every onset head over its bar in this frame, surest first; with `slurs` over the lower bar of a slur."""
        (before, now), found = self._pitches[-2:], list[Hint]()
        if float(max(now[:, _EARLY : _LATE + 1].max(), before[:, _BAR].max())) < SLUR_BAR:
            return found  # as nearly always
        struck = float(self._scene[-3:, _ATTACK].max()) >= STRUCK
        for head, delay, bar in zip((_EARLY, _BAR, _LATE), ONSET_DELAYS, (self._early, BAR, LATE), strict=True):
            if delay == ONSET_DELAYS[0] and not struck:
                continue
            for row in np.flatnonzero(now[:, head] >= bar):
                found.append(Hint(LOWEST + int(row), self.now - delay - 0.5, delay, float(now[row, head])))
        if slurs:  # a lower one at its peak, when it is known how it began
            peaks = (before[:, _BAR] >= SLUR_BAR) & (before[:, _BAR] < BAR) & (before[:, _BAR] > now[:, _BAR])
            for row in np.flatnonzero(peaks):
                found.append(Hint(LOWEST + int(row), self.now - 7.5, ONSET_DELAYS[1], float(before[row, _BAR])))
        return sorted(found, key=lambda hint: -hint.sure)

    def held(self) -> list[Hint]:
        """Pitches that have sounded surely for a while since an onset that no head was sure of."""
        rows = np.flatnonzero(self._pitches[-HELD:, :, _SOUNDING].min(axis=0) >= HELD_SURE)
        found = list[Hint]()
        for row in rows:
            said = self._pitches[-HELD - 8 :, row, _LATE]
            at = int(said.argmax())
            if said[at] >= HELD_BAR:
                found.append(
                    Hint(
                        LOWEST + int(row),
                        self.now - len(said) + at + 1 - ONSET_DELAYS[2] - 0.5,
                        ONSET_DELAYS[2],
                        float(said[at]),
                    )
                )
        return found

    def onset_sure(self, midi: int, u: float, delay: int) -> float:
        """The most that the head of this delay has said of an onset there, up to now."""
        return self._most(midi, _EARLY + ONSET_DELAYS.index(delay), u + delay)

    def picked(self, midi: int, u: float) -> float:
        return self._most(midi, _PICKED, u + 6)

    def arrived(self, midi: int, u: float) -> float:
        return self._most(midi, _ARRIVED, u + 6)

    def arrivals(self) -> list[Hint]:
        """Ends of glides, at their peak."""
        before, here, after = self._pitches[-3:, :, _ARRIVED]
        if float(here.max()) < BAR:
            return []
        rows = np.flatnonzero((here >= BAR) & (here >= before) & (here > after))
        return [Hint(LOWEST + int(r), self.now - 1 - 6 - 0.5, 6, float(here[r])) for r in rows]

    def sounding(self, midi: float) -> float:
        """How surely this pitch sounded four frames ago; between two semitones the surer."""
        return self._around(midi, _SOUNDING)

    def moving(self, midi: float) -> float:
        return self._around(midi, _MOVING)

    def glide_began(self, one: float, other: float) -> float | None:
        """Where, in hops, the glide began that of late went on between two pitches; None where none did."""
        low, high = sorted((round(one) - LOWEST, round(other) - LOWEST))
        said = self._pitches[:, max(0, low) : high + 1, _MOVING].max(axis=1, initial=0.0)
        active = np.flatnonzero(said >= GLIDES)
        if len(active) == 0 or active[-1] < KEPT - 14:
            return None
        breaks = np.flatnonzero(np.diff(active) > PAUSE + 1)
        run = active[breaks[-1] + 1 if len(breaks) else 0 :]
        first = int(run[0])
        if len(run) < LEAST_GLIDE:
            return None
        return float(self.now - KEPT + first + 1 - SOUNDING_DELAY) - 0.5

    def left(self, midi: float) -> float:
        """The hop at which this pitch last stopped sounding; now, where it sounds still."""
        rows = [row for row in range(floor(midi) - LOWEST, ceil(midi) - LOWEST + 1) if abs(row + LOWEST - midi) <= 0.65]
        sounded = np.flatnonzero(self._pitches[:, rows, _SOUNDING].max(axis=1) >= 0.5)
        last = int(sounded[-1]) if len(sounded) else -1
        return float(self.now - KEPT + last + 1 - SOUNDING_DELAY) - LEFT_BIAS

    def is_stepped(self, one: float, other: float) -> bool:
        """Whether the way from one pitch to the other went over frets: at its end an onset was heard rather than the
        end of a glide, and nothing surely moved on the way."""
        low, high = sorted((round(one) - LOWEST, round(other) - LOWEST))
        row = round(other) - LOWEST
        if not 0 <= low <= high < PITCHES:
            return False
        late = self._pitches[-14:, row].max(axis=0)
        moved = float(self._pitches[-WAY:, low : high + 1, _MOVING].max())
        return bool(late[_BAR] > max(0.3, late[_ARRIVED])) and moved < SURELY_MOVES

    def dead(self) -> float | None:
        """A dead note at its peak: how surely."""
        before, here, after = self._scene[-3:, _DEAD].tolist()
        return here if here >= DEAD_BAR and here >= before and here > after else None

    def attack_near(self, u: float) -> Attack | None:
        """The attack that made an onset, if one was found."""
        at = u * HOP
        near = [a for a in self._attacks if abs(a.sample - at) < ATTACK_REACH]
        return min(near, key=lambda a: abs(a.sample - at), default=None)

    def centre(self, midi: int, u: float, delay: int) -> float:
        """Where the head of this delay puts the onset: its centre of mass around the peak."""
        head = _EARLY + ONSET_DELAYS.index(delay)
        frames = round(u + delay + 0.5) - self.now - 1 + np.arange(-3, 4)
        frames = frames[(frames < 0) & (frames >= -KEPT)]
        if len(frames) == 0:
            return u
        said = self._pitches[frames, midi - LOWEST, head].astype(np.float64)
        if said.sum() < 0.2:
            return u
        return float((said * (self.now + 1 + frames)).sum() / said.sum()) - delay - 0.5

    def _most(self, midi: int, head: int, at: float) -> float:
        top = KEPT - 1 + round(at + 0.5) - self.now
        part = self._pitches[max(0, top - 2) : max(0, min(KEPT, top + 3)), midi - LOWEST, head]
        return float(part.max()) if len(part) else 0.0

    def _around(self, midi: float, head: int) -> float:
        low = floor(midi) - LOWEST
        now, most = self._past[self._filled - 1, :, head], 0.0
        for row in (low, low + 1):
            if 0 <= row < PITCHES and abs(row + LOWEST - midi) <= 0.65:
                most = max(most, float(now[row]))
        return most
