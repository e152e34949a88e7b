"""The filling side of the output: asks the band for samples ahead of time, and keeps the player's ears safe.

All output passes this one place: it fades in, starts quiet after a device was opened, and never exceeds a ceiling.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from listener.events import Samples
from listener.room.rings import PlayRing

Render = Callable[[int, int], Samples]  # (first position, frames) -> mono float32 samples

CEILING = 0.71  # -3 dBFS
KNEE = 0.5  # below it nothing is touched: the band alone stays under it
QUIET_START_DB = -20.0
QUIET_START_S = 3.0
FADE_S = 0.02
MARGIN_S = 0.05  # what is this close to being played is left as it is


def limited(samples: Samples) -> Samples:
    """Samples with everything beyond the knee bent under the ceiling; sample by sample, so blocks do not matter."""
    size = np.abs(samples)
    if not len(samples) or size.max() <= KNEE:
        return samples
    room = CEILING - KNEE
    bent = np.copysign(KNEE + room * np.tanh((size - KNEE) / room), samples)
    result: Samples = np.where(size <= KNEE, samples, bent).astype(np.float32)
    return result


def quiet_start(since: int, frames: int, rate: int) -> Samples:
    """Gain of `frames` frames from `since` frames after the first sound: from -20 dB up to 0 within three seconds."""
    share = np.clip((since + np.arange(frames)) / (QUIET_START_S * rate), 0.0, 1.0)
    gain: Samples = (10.0 ** (QUIET_START_DB * (1.0 - share) / 20.0)).astype(np.float32)
    return gain


class Player:
    """Keeps a play ring filled `ahead_s` ahead from whatever renders now. `pump` is to be called again and again.

    A position is a sample index of the band's time: the renderer is asked for the same index that the grader sees.
    """

    def __init__(self, ring: PlayRing, rate: int, ahead_s: float) -> None:
        self.rate = rate
        self._ring = ring
        self._ahead = round(ahead_s * rate)
        self._render: Render | None = None
        self._starts_quiet = True
        self._first_sound: int | None = None

    @property
    def position(self) -> int:
        """The index of the sample that is handed to the device next."""
        return self._ring.position

    @property
    def soonest(self) -> int:
        """The first index at which something new can still be made to sound."""
        return self._ring.position + round(MARGIN_S * self.rate)

    @property
    def starved(self) -> int:
        """Frames of silence that were played because nothing had been filled in."""
        return self._ring.starved

    def play(self, render: Render | None, *, quiet_start: bool = True) -> None:
        """Change over to another renderer (None: silence) as soon as can be, by a short crossfade.

        `quiet_start` may be False only for what is quiet of itself, such as the click of the sound check; the band
        that follows then starts quiet all the same.
        """
        self._render = render
        self._starts_quiet = quiet_start
        start = self.soonest
        if self._ring.filled > start:
            fade = min(round(FADE_S * self.rate), self._ring.filled - start)
            before = self._ring.peek(start, fade)
            rise = np.linspace(0.0, 1.0, fade, dtype=np.float32)
            self._ring.fill(start, before * (1.0 - rise) + self._made(start, fade) * rise)
        self.pump()

    def pump(self) -> None:
        """Fill the ring up to `ahead_s` beyond what is being played."""
        position = self._ring.position
        start = max(self._ring.filled, position)
        frames = position + self._ahead - start
        if frames > 0:
            self._ring.fill(start, self._made(start, frames))

    def follow_gaps(self, lost: int) -> None:
        """The device stood still for `lost` frames in all: be ahead by as many, and the band keeps its clock."""
        self._ring.shift = lost

    def _made(self, start: int, frames: int) -> Samples:
        """Samples from the renderer, quiet at first and limited."""
        if self._render is None:
            return np.zeros(frames, dtype=np.float32)
        samples = self._render(start, frames)
        if not self._starts_quiet:
            return limited(samples)
        if self._first_sound is None:
            sounding = np.flatnonzero(samples)
            if not len(sounding):
                return samples
            self._first_sound = start + int(sounding[0])
        since = start - self._first_sound
        if since < QUIET_START_S * self.rate:
            samples = samples * quiet_start(since, frames, self.rate)
        return limited(samples)
