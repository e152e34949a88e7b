"""Lines of one gesture each, over the changes of a song: what an ear hears well and badly stands apart.

Every function writes into a line. The pitches follow the chords and the times the swung eighths, as a player's would;
nothing else is meant by them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from bench.line import Line
from bench.song import Slot, Song, step
from guitar import Move, Vibrato

FRET_S = 0.025  # a slide's time from fret to fret: each fret passed is shorter than any note
BEND_STANDS_S = 0.120  # a start that stood for longer is a note of its own

Gesture = Callable[[Line, Song, np.random.Generator], None]


def human(rng: np.random.Generator) -> float:
    """How far from the grid a hand strikes, in seconds."""
    return float(np.clip(rng.normal(0.004, 0.007), -0.015, 0.02))


def hammer(at_s: float, midi: float, rng: np.random.Generator) -> Move:
    return Move(at_s, float(midi), float(rng.uniform(0.005, 0.010)))


def slide(at_s: float, here: float, midi: float) -> Move:
    return Move(at_s, float(midi), FRET_S * max(1, abs(midi - here)), "frets" if abs(midi - here) > 1 else "smooth")


def arpeggio(line: Line, song: Song, rng: np.random.Generator) -> None:
    midi = 57
    for slot in song.slots:
        midi = step(rng, slot.chord, midi, 45, 79)
        if rng.random() < 0.9:
            line.pick(slot.start_s + human(rng), slot.length_s * rng.uniform(0.6, 1.0), midi)


def hammers(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Two to four notes from one stroke, by hammering on and pulling off."""
    midi, free_s = 60, 0.0
    for slot in song.slots:
        if slot.start_s < free_s:
            continue
        midi = step(rng, slot.scale, midi, 48, 76)
        hold = float(rng.uniform(0.08, 0.20))
        moves, here = [], midi
        for count in range(1, int(rng.integers(2, 5))):
            here = midi + int(rng.choice([1, 2, 2, 3, 4])) if here == midi else midi
            moves.append(hammer(count * hold * rng.uniform(0.95, 1.05), here, rng))
        length = (len(moves) + 1) * hold
        line.pick(slot.start_s + human(rng), length, midi, moves, ["hammer"] * len(moves))
        free_s = slot.start_s + length


def slides(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Out of a note that stood, begun with the pick from a fret or two away, or no slide at all."""
    midi = 60
    for first, second in song.beats:
        onset, room = first.start_s + human(rng), 0.97 * (first.length_s + second.length_s)
        midi = step(rng, first.chord, midi, 46, 75)
        form = rng.random()
        start = midi + int(rng.choice([-3, -2, -1, 1, 2, 3]))
        if form < 0.5:
            line.pick(onset, room, start, [slide(float(rng.uniform(0.07, 0.18)), start, midi)], ["slide"])
        elif form < 0.75:
            start = midi + int(rng.choice([-2, -1, 1, 2]))
            begun = Move(float(rng.uniform(0.008, 0.020)), float(midi), 0.018 * abs(midi - start), "frets")
            line.pick(onset, room, start, [begun], kind="slide", settled=float(midi))
        else:
            line.pick(onset, first.length_s, midi)


def bends(line: Line, song: Song, rng: np.random.Generator) -> None:
    """At once, at once and back, out of a note that stood, and let down from above."""
    midi = 67
    for first, second in song.beats:
        onset, room = first.start_s + human(rng), 0.97 * (first.length_s + second.length_s)
        midi = step(rng, first.chord, midi, 57, 79)
        start, up = midi - int(rng.choice([1, 2, 2])), float(rng.uniform(0.08, 0.22))
        bent = Move(float(rng.uniform(0.015, 0.080)), float(midi), up)
        form = rng.random()
        if form < 0.45:
            line.pick(onset, room, start, [bent], kind="bend", settled=float(midi))
        elif form < 0.60:
            back = Move(bent.end_s + float(rng.uniform(0.12, 0.25)), float(start), float(rng.uniform(0.08, 0.15)))
            line.pick(onset, room, start, [bent, back], ["release"], kind="bend", settled=float(midi))
        elif form < 0.72:
            stood = Move(float(rng.uniform(BEND_STANDS_S + 0.06, 0.30)), float(midi), up)
            line.pick(onset, room, start, [stood], ["bend"])
        elif form < 0.85:
            let = Move(float(rng.uniform(BEND_STANDS_S + 0.04, 0.25)), float(start), float(rng.uniform(0.08, 0.15)))
            line.pick(onset, room, midi, [let], ["release"])
        else:
            line.pick(onset, 0.9 * room, midi)


def curls(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Flat thirds that rise 35 to 65 cents: soon, so that they stand above, or late, so that they stood below."""
    midi = 63
    for first, second in song.beats:
        onset, room = first.start_s + human(rng), 0.97 * (first.length_s + second.length_s)
        if rng.random() < 0.3:
            line.pick(onset, 0.9 * room, step(rng, first.chord, midi, 55, 77))
            continue
        midi = step(rng, frozenset({(first.root + 3) % 12}), midi, 55, 79, least=0)
        rise = float(rng.uniform(0.35, 0.65))
        if rng.random() < 0.5:
            move, settled = (
                Move(float(rng.uniform(0.03, 0.06)), midi + rise, float(rng.uniform(0.06, 0.10))),
                midi + rise,
            )
        else:
            move, settled = Move(0.62 * room, midi + rise, 0.12 * room), float(midi)
        line.pick(onset, room, midi, [move], kind="curl", settled=settled)


def vibratos(line: Line, song: Song, rng: np.random.Generator) -> None:
    midi = 64
    for first, second in song.beats:
        midi = step(rng, first.chord, midi, 50, 79)
        room, depth = first.length_s + second.length_s, float(rng.uniform(20, 45))
        if rng.random() < 0.65:
            shake = Vibrato(float(rng.uniform(4.5, 6.5)), depth, float(rng.uniform(0.08, 0.15)))
            settled = midi + depth / 200  # the median of a raised cosine is half its height
            line.pick(first.start_s + human(rng), 0.95 * room, midi, kind="vibrato", settled=settled, vibrato=shake)
        else:
            line.pick(first.start_s + human(rng), 0.9 * first.length_s, midi)


def repeats(line: Line, song: Song, rng: np.random.Generator) -> None:
    """The same pitch again, 6 to 11 times a second."""
    midi, free_s = 60, 0.0
    for slot in song.slots:
        if slot.start_s < free_s:
            continue
        midi = step(rng, slot.scale, midi, 46, 77)
        every, share = 1 / float(rng.uniform(6, 11)), float(rng.choice([0.65, 0.95]))
        count = int(rng.integers(3, 8))
        for k in range(count):
            line.pick(slot.start_s + k * every + float(rng.normal(0, 0.003)), share * every, midi)
        free_s = slot.start_s + count * every


def staccato(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Short notes with silence between, some of them of the same pitch."""
    midi = 60
    for slot in song.slots:
        midi = midi if rng.random() < 0.25 else step(rng, slot.scale, midi, 46, 77)
        if rng.random() < 0.85:
            line.pick(slot.start_s + human(rng), float(rng.uniform(0.045, 0.110)), midi)


def ringing(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Broken chords whose notes go on sounding on their strings under the next one or two."""
    midi = 55
    for slot in song.slots:
        midi = step(rng, slot.chord, midi, 45, 74, least=2)
        line.pick(slot.start_s + human(rng), slot.length_s * rng.uniform(1.5, 2.5), midi, rings=True)


def doubles(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Double stops in thirds, fourths and sixths between single notes."""
    midi = 58
    for slot in song.slots:
        if rng.random() < 0.25:
            continue
        midi = step(rng, slot.chord, midi, 48, 70)
        onset, length = slot.start_s + human(rng), 0.9 * slot.length_s
        line.pick(onset, length, midi)
        if rng.random() < 0.7:
            line.pick(onset + float(rng.uniform(0, 0.008)), length, midi + int(rng.choice([3, 4, 5, 8, 9])))


def low(line: Line, song: Song, rng: np.random.Generator) -> None:
    """The lowest string and the one above."""
    midi = 45
    for slot in song.slots:
        midi = step(rng, slot.scale, midi, 40, 53)
        if rng.random() < 0.9:
            line.pick(slot.start_s + human(rng), slot.length_s * rng.uniform(0.6, 1.0), midi)


def dead(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Muted strokes between the notes of a line."""
    midi = 57
    for slot in song.slots:
        if rng.random() < 0.33:
            line.mute(slot.start_s + human(rng))
        else:
            midi = step(rng, slot.chord, midi, 45, 76)
            line.pick(slot.start_s + human(rng), slot.length_s * rng.uniform(0.4, 0.9), midi)


def runs(line: Line, song: Song, rng: np.random.Generator) -> None:
    """Scales in sixteenths, picked but for a hammer here and there, with a rest of a beat between them."""
    midi, up = 60, True
    for first, _ in song.beats:
        if rng.random() < 0.12:
            up = not up
            continue
        for onset, slot, length in _sixteenths(first, song.beat_s):
            target = step(rng, slot.scale, midi + (2 if up else -2), 50, 79, 2, 0)
            midi = target if target != midi else midi + (1 if up else -1)
            up = midi < 66 if not 53 <= midi <= 76 else up
            line.pick(onset + float(rng.normal(0, 0.003)), 0.97 * length, midi)


def _sixteenths(first: Slot, beat_s: float) -> Iterator[tuple[float, Slot, float]]:
    for k in range(4):
        yield first.start_s + k * beat_s / 4, first, beat_s / 4


# each with the range of its tempo in beats a minute
GESTURES: dict[str, tuple[Gesture, float, float]] = {
    "arpeggio": (arpeggio, 80, 180),
    "hammer": (hammers, 80, 140),
    "slide": (slides, 70, 120),
    "bend": (bends, 60, 100),
    "curl": (curls, 60, 100),
    "vibrato": (vibratos, 70, 110),
    "repeat": (repeats, 80, 140),
    "staccato": (staccato, 90, 170),
    "ring": (ringing, 80, 150),
    "double": (doubles, 80, 140),
    "low": (low, 80, 180),
    "dead": (dead, 90, 170),
    "fast": (runs, 125, 170),
}
