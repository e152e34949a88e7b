"""A streaming resampler to the ear's own rate whose state is plain and whose delay is known.

A windowed-sinc low-pass (Kaiser window) in polyphase form (Crochiere and Rabiner, "Multirate Digital Signal
Processing", 1983, ch. 3). Output sample m lies exactly at input position m * rate_in / rate_out: the filter's delay
is waited for, not left in the signal.
"""

from __future__ import annotations

from math import ceil, gcd

import numpy as np
import numpy.typing as npt

from listener.ear.frames import Signal, stretches

LOBES = 12  # zero crossings of the sinc on either side: 80 dB with this Kaiser window, half a millisecond of delay


def low_pass(cutoff: float, window: Signal) -> Signal:
    """A windowed-sinc filter that lets through what lies below `cutoff`, a share of half the rate; constants stay."""
    at = np.arange(len(window)) - 0.5 * (len(window) - 1)
    taps = np.sinc(cutoff * at) * window
    return np.asarray(taps / taps.sum())


class Resampler:
    """Gives output samples in groups of `group`, always computed in the same shape, so that the way in which the
    input is cut into blocks does not touch a bit of the result."""

    def __init__(self, rate_in: int, rate_out: int, group: int) -> None:
        common = gcd(rate_in, rate_out)
        self.up, self.down = rate_out // common, rate_in // common
        self.group = group
        self._places = np.arange(group)
        stretch = max(self.up, self.down)
        length = 2 * LOBES * stretch + 1
        prototype = low_pass(0.90 / stretch, np.kaiser(length, 8.0)) * self.up
        self.taps = ceil(length / self.up) + 1
        self.reach = ceil(LOBES * stretch / self.up)  # input samples after an output's own place that it needs
        self._bank = self._phases(prototype)
        self._held: Signal = np.zeros(self.reach + self.taps)  # input not yet used up, with silence before the stream
        self._held_from = -(self.reach + self.taps)
        self._next = 0  # index of the next output sample

    def _phases(self, prototype: Signal) -> Signal:
        """One row of taps per fractional place of an output between two input samples."""
        half = len(prototype) // 2
        bank = np.zeros((self.up, 2 * self.reach + 2))
        for phase in range(self.up):
            for k in range(2 * self.reach + 2):
                at = (self.reach - k) * self.up + phase + half
                if 0 <= at < len(prototype):
                    bank[phase, k] = prototype[at]
        return bank

    def input_end(self, count: int) -> int:
        """How many input samples must have come before the first `count` output samples are known."""
        return (count - 1) * self.down // self.up + self.reach + 2

    def push(self, samples: npt.NDArray[np.floating]) -> list[Signal]:
        """All groups that these samples complete."""
        self._held = np.concatenate([self._held, np.asarray(samples, np.float64)])
        groups = []
        while self._held_from + len(self._held) >= self.input_end(self._next + self.group):
            groups.append(self._group())
            self._next += self.group
        done = self._next * self.down // self.up - self.reach - 1 - self._held_from
        if done > 0:
            self._held = self._held[done:].copy()
            self._held_from += done
        return groups

    def _group(self) -> Signal:
        """The next output samples."""
        rows = stretches(self._held, self._bank.shape[1])
        before = self.reach + self._held_from  # of an output's own place its row begins so much before
        if self.up == 1:
            own = rows[self._next * self.down - before :: self.down][: self.group]
            return np.asarray(np.ascontiguousarray(own) @ self._bank[0])
        first, phase = np.divmod((self._next + self._places) * self.down, self.up)
        return np.asarray(np.einsum("ij,ij->i", rows[first - before], self._bank[phase]))
