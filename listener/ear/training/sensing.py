"""The features as tensors: whole lines at once, from the same tables that the ear uses at run time."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import torch

from listener.ear import features as f


class Sensing(torch.nn.Module):
    """Sound (lines x samples) to `flat` (lines x frames x FLAT) and `bands` (lines x frames x BANDS), float32."""

    def __init__(self, a4_hz: float = 440.0, hop: int = f.HOP) -> None:
        super().__init__()
        self._hop = hop
        self._table("long", f.asymmetric_window(f.LONG, f.LONG_BACK))
        self._table("mid", f.asymmetric_window(f.MID, f.MID_BACK))
        self._table("short", f.asymmetric_window(f.SHORT, f.SHORT // 2))
        self._table("long_grid", f.pitch_matrix(f.LONG, f.grid_midi(), a4_hz).T)
        self._table("mid_grid", f.pitch_matrix(f.MID_FFT, f.grid_midi(), a4_hz).T)
        self._table("long_lags", f.lag_matrix(f.LONG, f.lag_midi(), a4_hz).T)
        self._table("mid_lags", f.lag_matrix(f.MID_FFT, f.lag_midi(), a4_hz).T)
        self._table("long_roll", f.roll_off(f.LONG))
        self._table("mid_roll", f.roll_off(f.MID_FFT))
        self._table("short_bands", f.band_matrix(f.SHORT, f.SHORT_BANDS).T)
        self._table("broad_bands", f.band_matrix(f.MID_FFT, f.BROAD_BANDS).T)

    def _table(self, name: str, values: npt.NDArray[np.float64]) -> None:
        self.register_buffer(name, torch.tensor(values.astype(np.float32)), persistent=False)

    @torch.no_grad()
    def forward(self, sound: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """Frame t holds what is heard up to sample (t + 1) * hop. Whole hops only."""
        tape = torch.nn.functional.pad(sound, (f.LONG - self._hop, 0))
        frames = tape.unfold(-1, f.LONG, self._hop)
        parts, bands = [], []
        for chunk in frames.split(512, dim=1):  # bounds the memory that the spectra take
            long = _power(chunk * self.long, f.LONG)
            mid = _power(chunk[..., -f.MID :] * self.mid, f.MID_FFT)
            short = _power(chunk[..., -f.SHORT :] * self.short, f.SHORT)
            parts.append(torch.cat([
                _log_power(long @ self.long_grid), _log_power(mid @ self.mid_grid),
                _autocorrelation(long, self.long_roll) @ self.long_lags,
                _autocorrelation(mid, self.mid_roll) @ self.mid_lags], dim=-1))  # fmt: skip
            bands.append(torch.cat([_log_power(short @ self.short_bands), _log_power(mid @ self.broad_bands)], dim=-1))
        return torch.cat(parts, dim=1), torch.cat(bands, dim=1)


def _power(windowed: torch.Tensor, size: int) -> torch.Tensor:
    spectrum = torch.fft.rfft(windowed, size)
    return spectrum.real**2 + spectrum.imag**2


def _log_power(power: torch.Tensor) -> torch.Tensor:
    return 0.5 * torch.log10(power + f.POWER_FLOOR) + 3.0


def _autocorrelation(power: torch.Tensor, roll: torch.Tensor) -> torch.Tensor:
    lags = torch.fft.irfft((power + f.COMPRESSED_FLOOR) ** f.COMPRESSION * roll)
    return lags[..., : power.shape[-1]] * (f.LAG_SCALE / lags[..., :1])
