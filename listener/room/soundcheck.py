"""The check before the first count-in: level, noise floor, the pitch of the low E, and whether the output is heard.

Pure: blocks in, findings out. The pitch is the autocorrelation's: the normalised square difference of McLeod and
Wyvill, "A smarter way to find pitch", ICMC 2005, which is sure about one sounding string and costs next to nothing.
"""

from __future__ import annotations

import math
import statistics
from collections import deque
from dataclasses import dataclass

import numpy as np

from listener.events import Block, Samples
from listener.level import LOWEST_DB, SILENT_PEAK, decibels
from progressions.pitch import hz_to_midi

LOW_E_MIDI = 40
NOTHING_S = 4.0  # silence for this long is worth a question
SEMITONE_WITHIN_CENTS = 40.0

_FRAME_S = 0.05
_WINDOW_S = 0.2
_KEPT_S = 20.0
_LOUD_OVER_NOISE_DB = 15.0
_LEAST_LOUD_DB = -55.0
_LOWEST_HZ = 55.0
_HIGHEST_HZ = 400.0
_CLEAR = 0.85  # below it the string is not sounding alone, or not at all
_STEADY_WINDOWS = 5
_STEADY_CENTS = 15.0


@dataclass(frozen=True, slots=True)
class LowString:
    """A steady pitch that was heard: `semitones` from the E2 of standard tuning, and `cents` from there."""

    hz: float
    semitones: int
    cents: float

    @property
    def is_low_e(self) -> bool:
        return self.semitones == 0

    @property
    def may_be_tuned_off(self) -> bool:
        """Near a whole semitone or two beside E: to be asked ("tuned down a semitone?"), never to be guessed."""
        return self.semitones in (-2, -1, 1) and abs(self.cents) <= SEMITONE_WITHIN_CENTS


@dataclass(frozen=True, slots=True)
class Findings:
    """What the check knows by now. Levels are dBFS; `level_db` is the loudest 50 ms, `noise_db` the quietest tenth.

    `silent_s` and `all_zero_s` tell how long nothing has come: under -66 dBFS, or not one sample other than 0.
    """

    seconds: float
    peak_db: float
    level_db: float
    noise_db: float
    silent_s: float
    all_zero_s: float
    low_string: LowString | None

    @property
    def hears_nothing(self) -> bool:
        """Four seconds of silence: look at the other inputs, the cable, the volume, the permission."""
        return self.silent_s >= NOTHING_S

    @property
    def is_too_loud(self) -> bool:
        return self.peak_db > -1.0

    @property
    def is_too_quiet(self) -> bool:
        """Nothing has peaked over -40 dBFS: soft notes would drown in the noise of the input."""
        return self.peak_db < -40.0


class SoundCheck:
    """Push blocks while the player plays the low E; `findings` may be asked at any time."""

    def __init__(self, rate: int, a4_hz: float = 440.0) -> None:
        self._rate = rate
        self._a4_hz = a4_hz
        self._frame = round(_FRAME_S * rate)
        self._window: Samples = np.zeros(0, dtype=np.float32)
        self._pending: Samples = np.zeros(0, dtype=np.float32)
        self._levels: deque[float] = deque(maxlen=round(_KEPT_S / _FRAME_S))
        self._pitches: deque[float] = deque(maxlen=_STEADY_WINDOWS)
        self._low_string: LowString | None = None
        self._peak = 0.0
        self._frames = 0
        self._silent_frames = 0
        self._zero_frames = 0

    def push(self, block: Block) -> None:
        """Take in a block of any length; frames that the device lost tell nothing and are left out."""
        samples = np.concatenate([self._pending, block.samples[block.gap :]])
        whole = len(samples) // self._frame * self._frame
        for start in range(0, whole, self._frame):
            self._take(samples[start : start + self._frame])
        self._pending = samples[whole:]

    def findings(self) -> Findings:
        levels = sorted(self._levels)
        return Findings(
            seconds=self._frames * _FRAME_S,
            peak_db=decibels(self._peak),
            level_db=levels[-1] if levels else LOWEST_DB,
            noise_db=levels[len(levels) // 10] if levels else LOWEST_DB,
            silent_s=self._silent_frames * _FRAME_S,
            all_zero_s=self._zero_frames * _FRAME_S,
            low_string=self._low_string,
        )

    def _take(self, frame: Samples) -> None:
        peak = float(np.abs(frame).max())
        self._frames += 1
        self._peak = max(self._peak, peak)
        self._silent_frames = 0 if peak >= SILENT_PEAK else self._silent_frames + 1
        self._zero_frames = 0 if peak > 0.0 else self._zero_frames + 1
        level_db = decibels(math.sqrt(float(np.mean(np.square(frame, dtype=np.float64)))))
        self._levels.append(level_db)
        self._window = np.concatenate([self._window, frame])[-round(_WINDOW_S * self._rate) :]
        noise_db = sorted(self._levels)[len(self._levels) // 10]
        if level_db < max(_LEAST_LOUD_DB, min(noise_db + _LOUD_OVER_NOISE_DB, -20.0)):
            self._pitches.clear()
        elif (hz := pitch_of(self._window, self._rate)) is not None:
            self._pitches.append(float(hz_to_midi(hz, self._a4_hz)))
            self._settle()

    def _settle(self) -> None:
        """Believe a pitch that five windows in a row agree on; the low E, once heard, is not replaced by another."""
        if len(self._pitches) < _STEADY_WINDOWS:
            return
        midi = statistics.median(self._pitches)
        if max(abs(pitch - midi) for pitch in self._pitches) > _STEADY_CENTS / 100:
            return
        off = midi - LOW_E_MIDI
        heard = LowString(self._a4_hz * 2.0 ** ((midi - 69) / 12), round(off), 100.0 * (off - round(off)))
        if self._low_string is None or heard.is_low_e or not self._low_string.is_low_e:
            self._low_string = heard


def pitch_of(samples: Samples, rate: int) -> float | None:
    """The pitch in Hz of one sounding string from 55 to 400 Hz; None where no clear one sounds.

    `samples` should hold four periods or more.
    """
    longest, shortest = math.ceil(rate / _LOWEST_HZ), math.floor(rate / _HIGHEST_HZ)
    frames = len(samples)
    if frames < 2 * longest:
        return None
    centred = samples.astype(np.float64) - float(samples.mean())
    spectrum = np.fft.rfft(centred, 2 * frames)
    correlation = np.fft.irfft(np.square(np.abs(spectrum)))[: longest + 2]
    power = np.concatenate([[0.0], np.cumsum(np.square(centred))])
    lags = np.arange(longest + 2)
    both = power[frames - lags] + power[frames] - power[lags]
    if both[0] <= 0.0:
        return None
    clarity = 2.0 * correlation / np.maximum(both, 1e-12)
    inner = clarity[shortest : longest + 1]
    rises = inner >= clarity[shortest - 1 : longest]
    falls = inner > clarity[shortest + 1 : longest + 2]
    peaks = np.flatnonzero(rises & falls) + shortest
    if not len(peaks) or clarity[peaks].max() < _CLEAR:
        return None
    lag = int(peaks[clarity[peaks] >= 0.93 * clarity[peaks].max()][0])
    before, at, after = (float(value) for value in clarity[lag - 1 : lag + 2])
    return rate / (lag + 0.5 * (before - after) / (before - 2.0 * at + after))
