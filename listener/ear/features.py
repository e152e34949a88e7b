"""What the neural ear sees of a hop of sound: three windows, one grid of pitches. The only definition there is.

Training takes the same tables from here as tensors, so that both see the same numbers. A long window (4096 samples,
asymmetric, its peak 35 ms back) resolves low strings, a middle one (1024, 12 ms back) follows fast lines, a short one
(256) places attacks. Log power lies on a grid of a third of a semitone; beside it the autocorrelation of the
compressed spectrum (power to the 0.3; Tolonen and Karjalainen, "A computationally efficient multipitch analysis
model", IEEE Trans. Speech and Audio Processing 8(6), 2000) is read at the lags of the same grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import log

import numpy as np
import numpy.typing as npt
from scipy import fft, sparse

Floats = npt.NDArray[np.float32]
Wide = npt.NDArray[np.float64]

RATE = 22050  # Hz
HOP = 128  # samples between frames: 5.8 ms
LOWEST = 36  # MIDI: four semitones under the low E
PITCHES = 53  # semitones from there, up to the 24th fret of the high E
STEPS = 3  # grid points per semitone

LONG, LONG_BACK = 4096, 772  # samples, and how far the window's peak lies back
MID, MID_BACK, MID_FFT = 1024, 265, 2048
STRETCH = LONG // MID_FFT
SHORT = 256

HARMONICS = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
POWER_FLOOR = 1e-9  # -90 dB re a full-scale sine
COMPRESSED_FLOOR, COMPRESSION = 1e-10, 0.3
ROLL_OFF_HZ = (3000.0, 6000.0)  # above it the compressed spectrum is mostly noise
SHORT_BANDS, BROAD_BANDS = 40, 24
BAND_HZ = (90.0, 10500.0)
GRID_LOW, GRID_HIGH = LOWEST - 12, LOWEST + PITCHES - 1 + 36  # MIDI: half and eight times every pitch
LAG_LOW, LAG_HIGH = LOWEST - 12, LOWEST + PITCHES - 1 + 12  # MIDI: an octave to either side
GRID = (GRID_HIGH - GRID_LOW) * STEPS + 3  # points, one more at either end
LAGS = (LAG_HIGH - LAG_LOW) * STEPS + 3
FLAT = 2 * GRID + 2 * LAGS  # values per frame on both grids
BANDS = SHORT_BANDS + BROAD_BANDS
LAG_SCALE = 3.0  # brings the autocorrelation, at most 1, to the spread of the other features


def asymmetric_window(length: int, back: int) -> Wide:
    """A raised cosine that rises slowly, peaks `back` samples before its end, and falls fast; its sum is 2, so that
    the power of a full-scale sine is 1."""
    rise = np.sin(0.5 * np.pi * (np.arange(length - back) + 0.5) / (length - back)) ** 2
    fall = np.cos(0.5 * np.pi * (np.arange(back) + 0.5) / back) ** 2
    window = np.concatenate([rise, fall])
    return np.asarray(2.0 * window / np.sum(window))


def grid_midi() -> Wide:
    """The pitches of the power grid, float MIDI."""
    return GRID_LOW + (np.arange(GRID) - 1) / STEPS


def lag_midi() -> Wide:
    """The pitches of the lag grid, float MIDI."""
    return LAG_LOW + (np.arange(LAGS) - 1) / STEPS


def pitch_matrix(size: int, midi: Wide, a4_hz: float) -> Wide:
    """Rows of triangles over the bins of an FFT of `size`: as wide as a grid step, never narrower than a bin, one high
    at the centre. At low pitches that is interpolation between bins, at high ones a sum over a band."""
    spacing = RATE / size
    bins = np.arange(size // 2 + 1) * spacing
    centre = a4_hz * 2.0 ** ((midi - 69.0) / 12.0)
    below = np.maximum(spacing, centre * (1.0 - 2.0 ** (-1.0 / (12 * STEPS))))
    above = np.maximum(spacing, centre * (2.0 ** (1.0 / (12 * STEPS)) - 1.0))
    away = bins[None, :] - centre[:, None]
    return np.asarray(np.maximum(0.0, 1.0 - np.where(away < 0, -away / below[:, None], away / above[:, None])))


def lag_matrix(size: int, midi: Wide, a4_hz: float) -> Wide:
    """Rows that read an autocorrelation of `size` // 2 + 1 lags at the period of each pitch, by a cubic through the
    four lags around it (Lagrange)."""
    lag = RATE / (a4_hz * 2.0 ** ((midi - 69.0) / 12.0))
    first = np.clip(np.floor(lag).astype(int) - 1, 0, size // 2 - 3)
    at = lag - first
    rows = np.zeros((len(midi), size // 2 + 1))
    for k in range(4):
        others = [j for j in range(4) if j != k]
        rows[np.arange(len(midi)), first + k] = np.prod([(at - j) / (k - j) for j in others], axis=0)
    return rows


def band_matrix(size: int, count: int) -> Wide:
    """Rows that sum the bins of `count` bands, evenly spaced in pitch but never narrower than a bin."""
    spacing = RATE / size
    low, high = BAND_HZ[0] / spacing, BAND_HZ[1] / spacing
    edges = [max(1.0, low)]
    for left in range(count, 0, -1):
        edges.append(max(edges[-1] + 1.0, edges[-1] * (high / edges[-1]) ** (1.0 / left)))
    rows = np.zeros((count, size // 2 + 1))
    for band, (start, end) in enumerate(pairwise(edges)):
        rows[band, round(start) : max(round(start) + 1, round(end))] = 1.0
    return rows


def roll_off(size: int) -> Wide:
    """Weight of each bin in the compressed spectrum: 1 up to the first corner, 0 from the second on."""
    hz = np.arange(size // 2 + 1) * RATE / size
    share = np.clip((hz - ROLL_OFF_HZ[0]) / (ROLL_OFF_HZ[1] - ROLL_OFF_HZ[0]), 0.0, 1.0)
    return 0.5 * (1.0 + np.cos(np.pi * share))


def pitch_index() -> npt.NDArray[np.int64]:
    """Which of a frame's FLAT values each pitch looks at, one row a pitch.

    Of both power grids the harmonics, each with its two neighbours; of both lag grids its own period with a semitone
    to either side, and the periods an octave below and above.
    """
    near = np.array([-1, 0, 1])
    own = STEPS * np.arange(PITCHES)[:, None]
    power = [1 + 12 * STEPS + own + round(12 * STEPS * np.log2(h)) + near for h in HARMONICS]
    here = 1 + 12 * STEPS + own
    lags = [here + np.arange(-3, 4), here - 12 * STEPS + near, here + 12 * STEPS + near]
    parts = [*power, *(GRID + p for p in power)]
    parts += [2 * GRID + lag for lag in lags] + [2 * GRID + LAGS + lag for lag in lags]
    return np.concatenate(parts, axis=1).astype(np.int64)


def log_power(power: Floats) -> Floats:
    """Decibels on a scale that suits a network: -40 dB re full scale is 1, one unit is 20 dB."""
    natural = np.log(power + np.float32(POWER_FLOOR))  # on many processors much faster than the common logarithm
    return np.asarray(natural * np.float32(0.5 / log(10.0)) + np.float32(3.0), np.float32)


@dataclass(frozen=True, slots=True)
class Sight:
    """One frame: `flat` holds both power grids and both lag grids, `bands` the short and the broad bands. Or several
    frames as rows."""

    flat: Floats
    bands: Floats


class Features:
    """The tables for one A4, and frames of features from the last LONG samples.

    Single-precision transforms take four rows in hardly more time than one. So both windows of two frames go together,
    the middle one stretched to LONG: every STRETCH-th bin then is a bin of MID_FFT.
    """

    def __init__(self, a4_hz: float = 440.0) -> None:
        windows = np.zeros((2, 1, LONG))
        windows[0] = asymmetric_window(LONG, LONG_BACK)
        windows[1, :, -MID:] = asymmetric_window(MID, MID_BACK)
        self._windows = windows.astype(np.float32)
        self._short = asymmetric_window(SHORT, SHORT // 2).astype(np.float32)
        rolls = np.stack([roll_off(LONG), _stretched(roll_off(MID_FFT))])[:, None]
        self._roll = rolls[..., : 1 + int(np.flatnonzero(rolls[0, 0])[-1])].astype(np.float32)
        grid, lags = grid_midi(), lag_midi()
        long_lags, mid_lags = lag_matrix(LONG, lags, a4_hz), lag_matrix(MID_FFT, lags, a4_hz)
        self._lags = 1 + int(np.flatnonzero(long_lags.any(axis=0))[-1])  # no later one is looked at
        # one product reads all, the logarithmic part first; its blocks stand as the parts are joined in `see`
        self._reads = _sparse([
            [None, None, band_matrix(SHORT, SHORT_BANDS), None, None],
            [None, _stretched(band_matrix(MID_FFT, BROAD_BANDS)), None, None, None],
            [pitch_matrix(LONG, grid, a4_hz), None, None, None, None],
            [None, _stretched(pitch_matrix(MID_FFT, grid, a4_hz)), None, None, None],
            [None, None, None, long_lags[:, : self._lags], None],
            [None, None, None, None, mid_lags[:, : self._lags]],
        ])  # fmt: skip

    def see(self, tapes: Floats, last: int | None = None) -> Sight:
        """`tapes`: frames as rows, of each the last LONG samples at RATE, float32, silence where the stream had not
        begun. As rows they come back: all of them, or the `last` few."""
        powers = _power(tapes * self._windows)  # windows x frames x bins
        lags = self._autocorrelations(powers)
        joined = np.concatenate([*powers, _power(tapes[:, -SHORT:] * self._short), *lags], axis=1)
        values = np.array([self._reads @ frame for frame in (joined if last is None else joined[-last:])])
        logs = BANDS + 2 * GRID
        values[:, :logs] = log_power(values[:, :logs])
        return Sight(values[:, BANDS:], values[:, :BANDS])

    def _autocorrelations(self, powers: Floats) -> Floats:
        """The first lags of the compressed spectra's autocorrelations, LAG_SCALE at lag 0."""
        compressed = np.log(powers[..., : self._roll.shape[-1]] + np.float32(COMPRESSED_FLOOR))
        compressed *= np.float32(COMPRESSION)
        np.exp(compressed, out=compressed)
        compressed *= self._roll
        lags = fft.dct(compressed, type=1, n=LONG // 2 + 1, overwrite_x=True)  # of an even spectrum: its transform
        return np.asarray(lags[..., : self._lags] * (np.float32(LAG_SCALE) / lags[..., :1]), np.float32)


@lru_cache(maxsize=1)
def silent_sight() -> Sight:
    """A frame of digital silence, which is the same against every A4."""
    seen = Features().see(np.zeros((1, LONG), np.float32))
    return Sight(seen.flat[0], seen.bands[0])


def _sparse(blocks: list[list[Wide | None]]) -> sparse.csr_matrix:
    return sparse.csr_matrix(
        sparse.bmat([[None if b is None else sparse.csr_matrix(b.astype(np.float32)) for b in row] for row in blocks])
    )


def _stretched(rows: Wide) -> Wide:
    """What is said of the bins of MID_FFT, said of those of LONG."""
    stretched = np.zeros((*rows.shape[:-1], LONG // 2 + 1))
    stretched[..., ::STRETCH] = rows
    return stretched


def _power(windowed: Floats) -> Floats:
    spectrum = fft.rfft(windowed)
    return np.asarray(spectrum.real**2 + spectrum.imag**2, np.float32)
