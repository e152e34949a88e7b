"""Guitars that never were: plucked strings as sums of decaying partials, each guitar with a body of its own.

A stiff string's partials lie at k f0 sqrt(1 + B k^2) (Fletcher and Rossing, "The Physics of Musical Instruments",
1998, section 2.18); where it is plucked and where the pickup sits take partials away (section 9.5 there); high
partials die first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from listener.ear.training.bank import RATE, Guitar, Single

SECONDS = 1.8
SPACING = 4  # semitones between the notes made
MOST_PARTIALS = 36
SILENT = 1e-3
BODY_RMS = 0.1


@dataclass(frozen=True, slots=True)
class Body:
    """What the notes of one guitar share."""

    pick: float  # where along the string, as a share of its length
    pickup: float  # 0: a soundboard or a microphone, which hears every partial
    stiffness: float  # B of a string that sounds E4; lower strings have less
    slope: float  # partial k is weaker by k to this power
    sustain_s: float  # time constant of the fundamental of E2
    damping: float  # how much sooner high partials die
    fundamental: float  # its share of what the formula gives: some pickups and rooms all but lose it
    resonances: npt.NDArray[np.float64]  # rows of Hz, quality, gain
    pick_noise: float


def some_body(rng: np.random.Generator) -> Body:
    """A guitar drawn at random, from a soft jazz box to a bright steel-string."""
    count = int(rng.integers(1, 6))
    resonances = np.column_stack([np.exp(rng.uniform(np.log(90), np.log(4500), count)),
                                  rng.uniform(1.0, 6.0, count), rng.uniform(0.3, 3.0, count)])  # fmt: skip
    return Body(
        pick=rng.uniform(0.06, 0.42),
        pickup=0.0 if rng.random() < 0.35 else rng.uniform(0.05, 0.3),
        stiffness=10 ** rng.uniform(-5.0, -3.6),
        slope=rng.uniform(0.3, 1.5),
        sustain_s=10 ** rng.uniform(-0.6, 0.5),
        damping=10 ** rng.uniform(-2.6, -0.9),
        fundamental=rng.uniform(0.03, 0.3) if rng.random() < 0.3 else rng.uniform(0.6, 1.2),
        resonances=resonances,
        pick_noise=10 ** rng.uniform(-2.2, -0.7),
    )


def pluck(body: Body, midi: float, rng: np.random.Generator) -> Single:
    """One note of this guitar."""
    f0 = 440.0 * 2.0 ** ((midi - 69.0) / 12.0)
    at = np.arange(round(SECONDS * RATE), dtype=np.float32) / RATE
    sound = np.zeros(len(at), np.float32)
    stiffness = body.stiffness * (f0 / 330.0) ** 1.2
    for k in range(1, MOST_PARTIALS + 1):
        hz = k * f0 * np.sqrt(1 + stiffness * k * k)
        if hz > 0.46 * RATE:
            break
        level = np.abs(np.sin(np.pi * k * body.pick)) * k**-body.slope * (body.fundamental if k == 1 else 1.0)
        level *= np.abs(np.sin(np.pi * k * body.pickup)) if body.pickup else 1.0
        level *= 1.0 + float(np.sum(body.resonances[:, 2] / np.sqrt(
            1 + (body.resonances[:, 1] * (hz / body.resonances[:, 0] - body.resonances[:, 0] / hz)) ** 2)))  # fmt: skip
        tau = body.sustain_s * (82.0 / f0) ** 0.5 / (1 + body.damping * (hz / 82.0) ** 1.1) * rng.uniform(0.8, 1.25)
        if level < 1e-4:
            continue
        reach = min(len(at), int(RATE * tau * 2.2 * np.log(level / (0.1 * SILENT) + 1.0)) + 64)
        t = at[:reach]
        decay = 0.75 * np.exp(-t / np.float32(tau)) + 0.25 * np.exp(-t / np.float32(2.2 * tau))
        wave = np.sin(np.float32(2 * np.pi * hz) * t + np.float32(rng.uniform(0, 2 * np.pi)))
        sound[:reach] += np.float32(level) * decay * wave
    rise = round(10 ** rng.uniform(-3.6, -2.5) * RATE) + 1
    sound[:rise] *= 0.5 * (1 - np.cos(np.pi * np.arange(rise, dtype=np.float32) / rise))
    scrape = round(rng.uniform(0.002, 0.008) * RATE)
    noise = np.diff(rng.standard_normal(scrape + 1)) * np.hanning(scrape)
    sound[:scrape] += (body.pick_noise * np.abs(sound[:400]).max() * noise).astype(np.float32)
    sound *= BODY_RMS / (float(np.sqrt(np.mean(sound[440:5500] ** 2))) + 1e-9)
    early = np.abs(sound[: round(0.06 * RATE)])
    attack = int(np.argmax(early > 0.1 * early.max()))
    lead = np.zeros(66, np.float32)
    return Single(np.concatenate([lead, sound]), len(lead) + attack, midi)


def some_guitar(rng: np.random.Generator) -> Guitar:
    """A guitar with notes every few semitones from the low E to the 24th fret."""
    body = some_body(rng)
    return Guitar("modal", tuple(pluck(body, midi, rng) for midi in range(40, 90, SPACING)))
