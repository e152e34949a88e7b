"""Lines while they are wanted: processes that render them, and a pool on the device that is filled and renewed."""

from __future__ import annotations

import multiprocessing as mp
import queue
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch

from listener.ear.training.bank import load
from listener.ear.training.lines import SAMPLES, Line, Pcm, Studio
from listener.ear.training.marks import Marks

CRATE = 8  # lines that travel together, with one band
WAITING = 64  # crates rendered ahead before the processes pause


@dataclass(frozen=True, slots=True)
class Crate:
    """Some lines and a band."""

    lines: tuple[Line, ...]
    band: Pcm


class Feed:
    """Rendering processes. To be started before the device is touched: they are forked."""

    def __init__(self, bank: Path, without: Sequence[str], seed: int, processes: int) -> None:
        context = mp.get_context("fork")
        self._crates: mp.Queue[Crate] = context.Queue(WAITING)
        self._processes = [
            context.Process(target=_render, args=(bank, list(without), seed * 1000 + i, self._crates), daemon=True)
            for i in range(processes)
        ]
        for process in self._processes:
            process.start()

    def next(self, timeout_s: float) -> Crate | None:
        """A crate, or None where none comes in time. Raises RuntimeError once a process has died."""
        try:
            return self._crates.get(timeout=timeout_s) if timeout_s > 0 else self._crates.get_nowait()
        except queue.Empty:
            ended = [p.exitcode for p in self._processes if p.exitcode is not None]
            if ended:
                raise RuntimeError(f"a rendering process ended with exit code {ended[0]}") from None
            return None

    def stop(self) -> None:
        """End the processes."""
        for process in self._processes:
            process.terminate()
        for process in self._processes:
            process.join(5.0)


def _render(bank: Path, without: list[str], seed: int, crates: mp.Queue[Crate]) -> None:
    torch.set_num_threads(1)
    studio = Studio(load(bank, without), seed)
    while True:
        crates.put(Crate(tuple(studio.line() for _ in range(CRATE)), studio.band()))


class Pool:
    """The last lines and bands that came, on the device."""

    def __init__(self, lines: int, device: torch.device, seed: int) -> None:
        self._sounds = torch.zeros((lines, SAMPLES), dtype=torch.int16, device=device)
        self._bands = torch.zeros((max(8, lines // CRATE), SAMPLES), dtype=torch.int16, device=device)
        self._marks: list[Marks] = [np.zeros((0, 4), np.float32)] * lines
        self._rng = np.random.default_rng(seed)
        self.received = 0
        self._bands_received = 0

    @property
    def held(self) -> int:
        """How many lines can be drawn."""
        return min(self.received, len(self._marks))

    def add(self, crate: Crate) -> None:
        """The oldest make place."""
        for line in crate.lines:
            place = self.received % len(self._marks)
            self._sounds[place] = torch.from_numpy(line.sound)
            self._marks[place] = line.marks
            self.received += 1
        self._bands[self._bands_received % len(self._bands)] = torch.from_numpy(crate.band)
        self._bands_received += 1

    def draw(self, count: int) -> tuple[torch.Tensor, torch.Tensor, list[Marks]]:
        """Sounds and bands as floats below 1, and the marks of the sounds."""
        places = self._rng.integers(0, self.held, count)
        bands = self._rng.integers(0, min(self._bands_received, len(self._bands)), count)
        device = self._sounds.device
        sounds = self._sounds[torch.tensor(places, device=device)].float() / 32768.0
        behind = self._bands[torch.tensor(bands, device=device)].float() / 32768.0
        turn = int(self._rng.integers(0, SAMPLES))
        return sounds, torch.roll(behind, turn, -1), [self._marks[i] for i in places]
