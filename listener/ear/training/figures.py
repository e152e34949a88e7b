"""What a hand plays: short figures of plucks, drawn at random in the style of one player.

Each figure takes the hand, advances its clock and gives what sounded. Times in seconds, pitches in MIDI.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from listener.ear.training.strings import Move, Pluck, Vibrato

LOW, HIGH = 40, 86
SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 3, 5, 6, 7, 10), (0, 2, 3, 5, 7, 9, 10), (0, 4, 7, 10), (0, 3, 7, 10),
          (0, 2, 4, 7, 9), (0, 1, 4, 5, 7, 8, 10), tuple(range(12)))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Dead:
    """A muted stroke."""

    onset_s: float


Action = Pluck | Dead


@dataclass(frozen=True, slots=True)
class Style:
    """How one player plays one line."""

    scale: tuple[int, ...]
    root: int
    low: int
    high: int
    pace_s: float  # from note to note
    loose_s: float  # spread of the timing
    level_spread_db: float
    soft_share: float
    ring_share: float
    staccato_share: float
    damp_s: float


class Hand:
    """Where the player is: the clock and the pitch last played."""

    def __init__(self, style: Style, rng: np.random.Generator, start_s: float) -> None:
        self.style, self.rng, self.clock = style, rng, start_s
        self.midi = int(rng.integers(style.low, style.high + 1))

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def walk(self, reach: int = 7, low: int | None = None, high: int | None = None) -> int:
        """The next pitch: of the scale, within reach, not the same."""
        low, high = max(LOW, low or self.style.low), min(HIGH, high or self.style.high)
        near = [m for m in range(max(low, self.midi - reach), min(high, self.midi + reach) + 1)
                if (m - self.style.root) % 12 in self.style.scale and m != self.midi]  # fmt: skip
        self.midi = int(self.rng.choice(near)) if near else int(self.rng.integers(low, high + 1))
        return self.midi

    def pluck(self, onset_s: float, duration_s: float, midi: float, **more: object) -> Pluck:
        """A pluck in this player's style."""
        style, rng = self.style, self.rng
        level = float(np.clip(rng.normal(-4, style.level_spread_db), -16, 0))
        soft = float(rng.uniform(0.006, 0.022)) if self.chance(style.soft_share) else 0.0
        damp = style.damp_s * float(rng.uniform(0.6, 1.6))
        onset = max(0.02, onset_s + float(rng.normal(0, style.loose_s)))
        return replace(Pluck(onset, max(0.03, duration_s), midi, (), None, level, damp, soft), **more)  # type: ignore[arg-type]

    def gate(self, step_s: float) -> float:
        """How long a note sounds that the next follows after `step_s`."""
        draw = self.rng.random()
        if draw < self.style.staccato_share:
            return step_s * float(self.rng.uniform(0.3, 0.65))
        if draw < self.style.staccato_share + self.style.ring_share:
            return step_s + float(self.rng.uniform(0.03, 0.5))
        return step_s * float(self.rng.uniform(0.85, 1.0)) + 0.002


def line(hand: Hand, reach: int = 7) -> list[Action]:
    """Picked notes at an even pace: scales, arpeggios, leaps, by reach."""
    out: list[Action] = []
    for _ in range(int(hand.rng.integers(3, 9))):
        step = hand.style.pace_s * float(hand.rng.choice([1, 1, 1, 2, 0.5], p=[0.4, 0.2, 0.2, 0.12, 0.08]))
        step = max(step, 0.07)
        out.append(hand.pluck(hand.clock, hand.gate(step), hand.walk(reach)))
        hand.clock += step
    return out


def leaps(hand: Hand) -> list[Action]:
    """Wide intervals, octaves among them."""
    out: list[Action] = []
    for _ in range(int(hand.rng.integers(2, 6))):
        if hand.chance(0.5):
            way = 12 if hand.midi + 12 <= HIGH and (hand.midi < 56 or hand.chance(0.5)) else -12
            hand.midi = int(np.clip(hand.midi + way, LOW, HIGH))
        else:
            hand.walk(19, LOW, HIGH)
        out.append(hand.pluck(hand.clock, hand.gate(hand.style.pace_s), hand.midi))
        hand.clock += hand.style.pace_s
    return out


def low_line(hand: Hand) -> list[Action]:
    """A riff on the low strings."""
    out: list[Action] = []
    hand.midi = int(hand.rng.integers(LOW, 53))
    for _ in range(int(hand.rng.integers(3, 8))):
        out.append(hand.pluck(hand.clock, hand.gate(hand.style.pace_s), hand.walk(7, LOW, 54)))
        hand.clock += hand.style.pace_s
    return out


def run(hand: Hand) -> list[Action]:
    """A fast run."""
    out: list[Action] = []
    step = float(hand.rng.uniform(0.065, 0.12))
    for _ in range(int(hand.rng.integers(4, 13))):
        out.append(hand.pluck(hand.clock, step * float(hand.rng.uniform(0.85, 1.1)), hand.walk(4)))
        hand.clock += step
    hand.clock += step
    return out


def repeats(hand: Hand) -> list[Action]:
    """One pitch again and again, 4 to 13 a second, some staccato."""
    rate, share = float(hand.rng.uniform(4, 13)), float(hand.rng.choice([0.5, 0.7, 0.95, 1.0]))
    midi, out = hand.walk(), list[Action]()
    for _ in range(int(hand.rng.integers(2, 9))):
        out.append(hand.pluck(hand.clock, share / rate + 0.002, midi))
        hand.clock += 1 / rate
    hand.clock += 0.5 * hand.style.pace_s
    return out


def double_stops(hand: Hand) -> list[Action]:
    """Two strings at once."""
    out: list[Action] = []
    for _ in range(int(hand.rng.integers(1, 5))):
        step = hand.style.pace_s * float(hand.rng.choice([1, 2]))
        low, gate = hand.walk(7, LOW + 2, 74), hand.gate(step)
        other = low + int(hand.rng.choice([3, 4, 5, 6, 7, 8, 9, 12, 10, 15, 16]))
        out.append(hand.pluck(hand.clock, gate, low))
        out.append(hand.pluck(hand.clock + float(hand.rng.uniform(0, 0.012)), gate, min(HIGH, other)))
        hand.clock += step
    return out


def chord(hand: Hand) -> list[Action]:
    """A strum of three to six strings, upwards or downwards."""
    intervals = hand.rng.permutation([0, 4, 7, 10, 12, 16, 19, 3, 15, 24])[: int(hand.rng.integers(3, 7))]
    base, spread = int(hand.rng.integers(LOW, 62)), float(hand.rng.uniform(0.0, 0.022))
    step = hand.style.pace_s * float(hand.rng.uniform(1, 3))
    order = np.sort(intervals)[:: 1 if hand.chance(0.75) else -1]
    notes = [hand.pluck(hand.clock + i * spread, step - i * spread, base + int(n)) for i, n in enumerate(order)]
    level = float(hand.rng.uniform(-9, -3))
    hand.clock += step + (0.1 if hand.chance(0.5) else 0.0)
    return [replace(n, level_db=level + float(hand.rng.normal(0, 1.5)), soft_s=0.0) for n in notes if n.midi <= HIGH]


def ringing(hand: Hand) -> list[Action]:
    """An arpeggio whose strings sound on under the next ones."""
    out: list[Action] = []
    for _ in range(int(hand.rng.integers(3, 8))):
        out.append(hand.pluck(hand.clock, hand.style.pace_s * float(hand.rng.uniform(1.4, 4.0)), hand.walk(9)))
        hand.clock += hand.style.pace_s
    return out


def held_under(hand: Hand) -> list[Action]:
    """One string is held while a line goes on over it, or a bass note under it."""
    out: list[Action] = []
    held, count, step = hand.walk(7, LOW, 70), int(hand.rng.integers(2, 6)), hand.style.pace_s
    loud = float(hand.rng.uniform(-12, 0))
    out.append(hand.pluck(hand.clock, step * (count + 0.6), held, level_db=loud))
    low, high = (held + 3, min(HIGH, held + 19)) if hand.chance(0.8) else (LOW, max(LOW + 2, held - 3))
    first = 0 if hand.chance(0.6) else 1  # struck together with the held string, or after it
    for i in range(first, count):
        out.append(hand.pluck(hand.clock + i * step, hand.gate(step), hand.walk(12, low, high)))
    hand.clock += count * step
    return out


def slurs(hand: Hand) -> list[Action]:
    """Hammer-ons, pull-offs and trills: steps without an attack."""
    first = hand.walk(7, LOW, HIGH - 5)
    other = first + int(hand.rng.choice([1, 2, 3, 4])) * (1 if hand.chance(0.6) else -1)
    held = hand.style.pace_s * float(hand.rng.uniform(0.6, 1.3))
    if hand.chance(0.4):
        held = float(hand.rng.uniform(0.055, 0.13))
    glide, moves, clock, here = float(hand.rng.uniform(0.004, 0.014)), list[Move](), held, first
    for k in range(int(hand.rng.choice([1, 1, 1, 2, 2, 3, 6]))):
        target = other if here == first else first
        if k and hand.chance(0.25):
            target = here + int(hand.rng.choice([-2, -1, 1, 2]))
        moves.append(Move(clock - glide, float(np.clip(target, LOW, HIGH)), glide, step=True))
        here, clock = target, clock + held * float(hand.rng.uniform(0.85, 1.15))
    total = clock + hand.style.pace_s * float(hand.rng.uniform(0, 0.7))
    out: list[Action] = [hand.pluck(hand.clock, total, first, moves=tuple(moves))]
    hand.midi = int(np.clip(here, LOW, HIGH))
    hand.clock += total
    return out


def slide(hand: Hand) -> list[Action]:
    """From fret to fret, up or down, sometimes on and back."""
    target = hand.walk(7, LOW + 3, HIGH - 4)
    moves, here, held = list[Move](), float(target), 0.0
    start = target + int(hand.rng.choice([-5, -4, -3, -2, -2, -1, -1, 1, 2, 3, 4]))
    clock = float(hand.rng.uniform(0.0, 0.2)) if hand.chance(0.7) else hand.style.pace_s
    here = float(start)
    ways = [target] if hand.chance(0.8) else [target, start]
    for end in ways:
        frets = int(abs(end - here))
        dwell = float(hand.rng.uniform(0.05, 0.16)) / frets
        jump = min(0.010, 0.6 * dwell)
        for k in range(frets):
            fret = here + np.sign(end - here) * (k + 1)
            moves.append(Move(clock, float(fret), jump, step=True))
            clock += dwell
        here = float(end)
        held = hand.style.pace_s * float(hand.rng.uniform(0.6, 2.0))
        clock += held
    out: list[Action] = [hand.pluck(hand.clock, clock, start, moves=tuple(moves), vibrato=_vibrato(hand, clock, 0.2))]
    hand.clock += clock
    return out


def bend(hand: Hand) -> list[Action]:
    """A bend, held, released, or a pre-bend that is let down; some with vibrato at the top."""
    rng = hand.rng
    target = hand.walk(7, 50, HIGH)
    size = float(rng.choice([1.0, 2.0, 3.0, 1.5, 0.8], p=[0.35, 0.43, 0.07, 0.05, 0.1]) + rng.normal(0, 0.06))
    start, haste = target - size, float(np.exp(rng.normal(0, 0.25)))
    glide = float(rng.uniform(0.06, 0.3)) if hand.chance(0.85) else float(rng.uniform(0.3, 0.7))
    held = float(rng.uniform(0.0, 0.12)) if hand.chance(0.85) else float(rng.uniform(0.12, 0.4))
    top = hand.style.pace_s * float(rng.uniform(0.5, 2.5)) + 0.08
    form = rng.random()
    moves, clock = [Move(held, float(target), glide, False, haste)], held + glide + top
    if form < 0.3:
        back = float(rng.uniform(0.06, 0.3))
        moves.append(Move(clock, start, back, False, float(np.exp(rng.normal(0, 0.25)))))
        clock += back + hand.style.pace_s * float(rng.uniform(0.2, 1.5))
        if hand.chance(0.2):
            moves.append(Move(clock, float(target), glide, False, haste))
            clock += glide + 0.15
    elif form < 0.5:
        stood = float(rng.uniform(0.06, 0.4))
        moves, clock, start = [Move(stood, start, glide, False, haste)], stood + glide + top, float(target)
    more = _vibrato(hand, held + glide + top, 0.3, held + glide)
    out: list[Action] = [hand.pluck(hand.clock, clock, start, moves=tuple(moves), vibrato=more)]
    hand.clock += clock + (0.0 if hand.chance(0.6) else 0.5 * hand.style.pace_s)
    hand.midi = round(target)
    return out


def curl(hand: Hand) -> list[Action]:
    """A small rise inside a note, a quarter to a whole semitone."""
    midi, size = hand.walk(7, 45, HIGH - 1), float(hand.rng.uniform(0.2, 1.0))
    held, glide = float(hand.rng.uniform(0.02, 0.25)), float(hand.rng.uniform(0.08, 0.4))
    length = held + glide + hand.style.pace_s * float(hand.rng.uniform(0.2, 1.2))
    out: list[Action] = [hand.pluck(hand.clock, length, midi, moves=(Move(held, midi + size, glide, False),))]
    hand.clock += length
    return out


def sustained(hand: Hand) -> list[Action]:
    """A long note, mostly with vibrato."""
    length = float(hand.rng.uniform(0.5, 1.9))
    out: list[Action] = [hand.pluck(hand.clock, length, hand.walk(), vibrato=_vibrato(hand, length, 0.75))]
    hand.clock += length
    return out


def dead(hand: Hand) -> list[Action]:
    """Muted strokes, alone or among notes."""
    out: list[Action] = []
    for _ in range(int(hand.rng.integers(1, 6))):
        step = max(0.08, hand.style.pace_s * float(hand.rng.choice([0.5, 1])))
        muted = hand.chance(0.65)
        out.append(Dead(hand.clock) if muted else hand.pluck(hand.clock, 0.9 * step, hand.walk()))
        hand.clock += step
    return out


def rest(hand: Hand) -> list[Action]:
    """Nothing for a while."""
    hand.clock += float(hand.rng.uniform(0.2, 1.3))
    return []


def _vibrato(hand: Hand, until_s: float, share: float, from_s: float = 0.0) -> Vibrato | None:
    if until_s - from_s < 0.35 or not hand.chance(share):
        return None
    rising = hand.chance(0.6)
    depth = float(hand.rng.uniform(0.1, 0.7)) * (1.0 if rising else 0.6)
    return Vibrato(float(hand.rng.uniform(3.5, 7.5)), depth, from_s + float(hand.rng.uniform(0.08, 0.3)), rising)


FIGURES: dict[Callable[[Hand], list[Action]], float] = {
    line: 2.6, leaps: 1.0, low_line: 0.8, run: 1.2, repeats: 1.2, double_stops: 2.4, held_under: 1.2, chord: 0.9,
    ringing: 2.0, slurs: 2.6, slide: 1.5, bend: 2.2, curl: 0.8, sustained: 0.8, dead: 1.4, rest: 1.2,
}  # fmt: skip


def some_style(rng: np.random.Generator) -> Style:
    """A player drawn at random."""
    low = int(rng.integers(LOW, 60))
    return Style(
        scale=SCALES[int(rng.integers(len(SCALES)))],
        root=int(rng.integers(12)),
        low=low,
        high=min(HIGH, low + int(rng.integers(14, 36))),
        pace_s=float(np.exp(rng.uniform(np.log(0.11), np.log(0.45)))),
        loose_s=float(rng.uniform(0.001, 0.012)),
        level_spread_db=float(rng.uniform(1.0, 4.5)),
        soft_share=float(rng.uniform(0, 0.4)),
        ring_share=float(rng.choice([0.0, 0.1, 0.2, 0.5])),
        staccato_share=float(rng.choice([0.0, 0.1, 0.3, 0.7], p=[0.4, 0.3, 0.2, 0.1])),
        damp_s=float(np.exp(rng.uniform(np.log(0.006), np.log(0.06)))),
    )


def perform(rng: np.random.Generator, seconds: float) -> list[Action]:
    """A whole line of figures; some lines dwell on two or three of them."""
    hand = Hand(some_style(rng), rng, float(rng.uniform(0.05, 0.5)))
    names, weights = list(FIGURES), np.array(list(FIGURES.values()))
    if rng.random() < 0.4:
        weights = weights * rng.permutation([8.0, 8.0] + [0.2] * (len(weights) - 2))
    weights /= weights.sum()
    out: list[Action] = []
    while hand.clock < seconds - 0.1:
        out += names[int(rng.choice(len(names), p=weights))](hand)
    return out
