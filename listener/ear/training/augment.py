"""What happens to a guitar between its strings and the ear, fresh at every step: amplifiers, rooms, bands, noise."""

from __future__ import annotations

from dataclasses import dataclass

import torch

from listener.ear.features import RATE

OVERSAMPLED = 4
NODES = 9  # of an equaliser's curve, from 60 Hz upwards
FIR = 1024
TAIL_S = 1.2


@dataclass(frozen=True, slots=True)
class Recipe:
    """How often and how much."""

    driven: float = 0.5
    most_drive: float = 80.0
    twice: float = 0.35  # of the driven ones go through a second stage
    squeezed: float = 0.2
    reverbed: float = 0.5
    with_band: float = 0.6
    band_db: tuple[float, float] = (-26.0, -2.0)
    noise_db: tuple[float, float] = (-72.0, -22.0)  # re the guitar
    hum_share: float = 0.4
    level_db: tuple[float, float] = (-37.0, -1.0)
    clipped: float = 0.03


class Augmenter:
    """Sounds (lines x samples, peak below 1) in, sounds of the same shape out. Draws from its own generator."""

    def __init__(self, device: torch.device, seed: int, recipe: Recipe = Recipe()) -> None:
        self._device, self._recipe = device, recipe
        self._draw = torch.Generator(device=device)
        self._draw.manual_seed(seed)

    @torch.no_grad()
    def __call__(self, guitar: torch.Tensor, band: torch.Tensor) -> torch.Tensor:
        """`band` holds as many lines as `guitar`; those that are not wanted are left out."""
        recipe, lines = self._recipe, len(guitar)
        level = _rms(guitar)
        early = self._noise(guitar) * self._decibels(lines, (-80.0, -34.0)) * level * self._some(lines, 0.5)
        sound = self._coloured(guitar + early, 9.0)
        sound = self._driven(sound)
        sound = torch.where(self._some(lines, recipe.squeezed).bool(), self._squeezed(sound), sound)
        sound = self._coloured(sound, 9.0)
        sound = torch.where(self._some(lines, recipe.reverbed).bool(), self._reverbed(sound, (0.08, 0.7)), sound)
        sound = sound / _rms(sound)
        heard = self._reverbed(self._coloured(band, 9.0), (0.1, 0.8))
        heard = heard / _rms(heard) * self._decibels(lines, recipe.band_db)
        sound = sound + heard * self._some(lines, recipe.with_band)
        sound = sound + self._noise(sound) * self._decibels(lines, recipe.noise_db)
        sound = sound + self._hum(sound) * self._decibels(lines, (-60.0, -25.0)) * self._some(lines, recipe.hum_share)
        sound = sound / sound.abs().amax(-1, keepdim=True).clamp_min(1e-6) * self._decibels(lines, recipe.level_db)
        over = torch.where(self._some(lines, recipe.clipped).bool(), self._uniform(lines, 4.0, 60.0), 1.0)
        return (sound * over).clamp(-1.0, 1.0)

    def _uniform(self, lines: int, low: float, high: float) -> torch.Tensor:
        return low + (high - low) * torch.rand((lines, 1), device=self._device, generator=self._draw)

    def _some(self, lines: int, share: float) -> torch.Tensor:
        return (torch.rand((lines, 1), device=self._device, generator=self._draw) < share).float()

    def _decibels(self, lines: int, span: tuple[float, float]) -> torch.Tensor:
        return 10.0 ** (self._uniform(lines, *span) / 20.0)

    def _normal(self, *shape: int) -> torch.Tensor:
        return torch.randn(shape, device=self._device, generator=self._draw)

    def _coloured(self, sound: torch.Tensor, spread_db: float) -> torch.Tensor:
        """A smooth random curve, a low-pass and a high-pass, all of minimum phase so that no attack comes early."""
        lines = len(sound)
        hz = torch.linspace(0.0, RATE / 2, FIR + 1, device=self._device).clamp_min(5.0)
        place = (torch.log2(hz / 60.0) / 7.3 * (NODES - 1)).clamp(0.0, NODES - 1.001)
        curve = torch.cat([self._normal(lines, NODES) * self._uniform(lines, 0.0, spread_db)], dim=1)
        low = place.floor().long()
        share = 0.5 - 0.5 * torch.cos(torch.pi * (place - low))
        gain_db = curve[:, low] * (1 - share) + curve[:, low + 1] * share
        cut = torch.exp2(self._uniform(lines, 10.8, 14.2))  # 1.8 kHz, or none at all
        floor = torch.exp2(self._uniform(lines, 4.0, 7.6))  # 16 to 190 Hz
        order = 2.0 * torch.ceil(2.0 * torch.rand((lines, 1), device=self._device, generator=self._draw))
        gain_db = gain_db - 10.0 * torch.log10(1.0 + (hz / cut) ** (2 * order))
        gain_db = gain_db - 10.0 * torch.log10(1.0 + (floor / hz) ** 4)
        return _convolved(sound, _minimum_phase(gain_db))

    def _driven(self, sound: torch.Tensor) -> torch.Tensor:
        """tanh at four times the rate, with a bias for even harmonics, on some lines."""
        recipe, lines = self._recipe, len(sound)
        chosen = self._some(lines, recipe.driven).squeeze(1).bool()
        if not bool(chosen.any()):
            return sound
        some = sound[chosen] / sound[chosen].abs().amax(-1, keepdim=True).clamp_min(1e-6)
        gain = recipe.most_drive ** self._uniform(len(some), 0.0, 1.0)
        bias = self._uniform(len(some), -0.3, 0.3)
        length = some.shape[-1]
        spectrum = torch.fft.rfft(some)
        fine = torch.fft.irfft(spectrum, length * OVERSAMPLED) * OVERSAMPLED
        bent = torch.fft.rfft(torch.tanh(gain * fine + bias) - torch.tanh(bias))
        bent[:, : round(40.0 * length / RATE)] = 0.0  # stages are joined by a capacitor
        again = self._some(len(some), recipe.twice) * self._uniform(len(some), 1.0, 8.0)
        first = torch.fft.irfft(bent, length * OVERSAMPLED)
        bent = torch.where(again > 0, torch.fft.rfft(torch.tanh(again * first)), bent)
        out = sound.clone()
        out[chosen] = torch.fft.irfft(bent[:, : spectrum.shape[-1]], length) / OVERSAMPLED
        return out

    def _squeezed(self, sound: torch.Tensor) -> torch.Tensor:
        """A compressor: the level's swings are shrunk, attacks poke out for some milliseconds."""
        lines = len(sound)
        step = 64
        power = torch.nn.functional.avg_pool1d(sound[:, None] ** 2, step)[:, 0]
        reach = 40
        decay = torch.exp(-torch.arange(reach, device=self._device) * step / RATE / self._uniform(lines, 0.005, 0.05))
        kernel = (decay / decay.sum(1, keepdim=True)).flip(1)[:, None]
        padded = torch.nn.functional.pad(power, (reach - 1, 0))[None]
        smooth = torch.nn.functional.conv1d(padded, kernel, groups=lines)[0]
        floor = power.mean(1, keepdim=True) * 1e-3 + 1e-12
        gain = (smooth + floor) ** (-0.5 * self._uniform(lines, 0.3, 0.85))
        gain = torch.nn.functional.interpolate(gain[:, None], size=sound.shape[-1], mode="linear")[:, 0]
        return sound * gain / gain.amax(1, keepdim=True)

    def _reverbed(self, sound: torch.Tensor, wet: tuple[float, float]) -> torch.Tensor:
        """A tail of noise that dies away, darker or brighter, a few milliseconds after the direct sound."""
        lines, length = len(sound), round(TAIL_S * RATE)
        at = torch.arange(length, device=self._device) / RATE
        rt60 = torch.exp(self._uniform(lines, -1.9, 0.2))  # 0.15 to 1.2 s
        tail = self._normal(lines, length) * torch.exp(-6.9 * at / rt60)
        tail = tail * (at > self._uniform(lines, 0.001, 0.02))
        dark = self._uniform(lines, 0.0, 0.85)
        tail = (1 - dark) * tail + dark * torch.roll(tail, 1, -1)
        tail = tail / tail.square().sum(-1, keepdim=True).sqrt().clamp_min(1e-9) * self._uniform(lines, *wet)
        tail[:, 0] = 1.0
        return _convolved(sound, tail)

    def _noise(self, like: torch.Tensor) -> torch.Tensor:
        """Noise between white and brown, of level 1."""
        spectrum = torch.fft.rfft(self._normal(*like.shape))
        at = torch.arange(1, spectrum.shape[-1] + 1, device=self._device, dtype=torch.float32)
        spectrum = spectrum * at ** -self._uniform(len(like), 0.0, 0.8)
        noise = torch.fft.irfft(spectrum, like.shape[-1])
        return noise / _rms(noise)

    def _hum(self, like: torch.Tensor) -> torch.Tensor:
        """The mains and its harmonics, of level 1."""
        at = torch.arange(like.shape[-1], device=self._device) / RATE
        mains = 50.0 + 10.0 * self._some(len(like), 0.5)
        out = torch.zeros_like(like)
        for k in (1, 2, 3, 5, 7):
            out += self._uniform(len(like), 0.0, 1.0) / k * torch.sin(2 * torch.pi * mains * k * at + k)
        return out / _rms(out)


def _rms(sound: torch.Tensor) -> torch.Tensor:
    return sound.square().mean(-1, keepdim=True).sqrt().clamp_min(1e-6)


def _convolved(sound: torch.Tensor, kernel: torch.Tensor) -> torch.Tensor:
    size = 1 << (sound.shape[-1] + kernel.shape[-1] - 2).bit_length()
    product = torch.fft.rfft(sound, size) * torch.fft.rfft(kernel, size)
    return torch.fft.irfft(product, size)[..., : sound.shape[-1]]


def _minimum_phase(gain_db: torch.Tensor) -> torch.Tensor:
    """The impulse response of minimum phase with this gain, by folding the cepstrum (Oppenheim and Schafer,
    "Discrete-Time Signal Processing", section 13.5)."""
    size = 2 * (gain_db.shape[-1] - 1)
    cepstrum = torch.fft.irfft(gain_db.clamp_min(-90.0) * (2.302585 / 20.0), size)
    fold = torch.zeros(size, device=gain_db.device)
    fold[0] = fold[size // 2] = 1.0
    fold[1 : size // 2] = 2.0
    return torch.fft.irfft(torch.exp(torch.fft.rfft(cepstrum * fold)), size)
