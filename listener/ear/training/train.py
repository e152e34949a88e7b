"""Train the network for a given time.

    python3 -m listener.ear.training.train --task live --bank .bank --minutes 8.5 --out OUT [--resume OUT/checkpoint.pt]

Lines are rendered by processes of their own while the device trains; a run ends by the clock and leaves
checkpoint.pt (to go on from), the averaged weights (live.npz or review.npz) and log.txt. Every draw has a seed, but
which lines a step finds in the pool depends on how fast they were rendered.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path

import torch

from listener.ear.training.augment import Augmenter
from listener.ear.training.bank import RATE, load
from listener.ear.training.export import write_weights
from listener.ear.training.feeding import Feed, Pool
from listener.ear.training.lines import Studio
from listener.ear.training.marks import Marks
from listener.ear.training.model import Model
from listener.ear.training.sensing import Sensing
from listener.ear.training.targets import Targets, loss, onset_score
from listener.ear.training.tasks import TASKS, Task

WARM_UP = 200  # steps
AVERAGED = 0.995  # of the averaged weights stays at each step
WEIGHT_DECAY = 0.01
CLIP = 1.0
LEAD_S = 1.0
MOST_PLANS = 32


@dataclass(frozen=True, slots=True)
class Cut:
    """Frames of a line, and how many before them are played to the rooms and amplifiers too."""

    first: int
    frames: int
    lead: int


@dataclass(frozen=True, slots=True)
class Check:
    """Lines that the training never hears, to be listened to now and then."""

    clean: torch.Tensor
    hard: torch.Tensor
    marks: list[Marks]


class Trainer:
    """The model with all that a checkpoint keeps of it."""

    def __init__(self, task: Task, device: torch.device, seed: int) -> None:
        torch.manual_seed(seed)
        self.task, self.device, self.step = task, device, 0
        self.model = Model(task).to(device)
        self.sensing = Sensing(hop=task.hop).to(device)
        self._random = torch.Generator().manual_seed(seed)
        self.average = {k: v.detach().clone() for k, v in self.model.state_dict().items()}
        parameters = self.model.parameters()
        self.optimizer = torch.optim.AdamW(parameters, lr=1e-3, weight_decay=WEIGHT_DECAY, betas=(0.9, 0.98))

    def half(self) -> torch.autocast | nullcontext[None]:
        """Sixteen-bit arithmetic where there is a GPU."""
        return torch.autocast("cuda", torch.bfloat16) if self.device.type == "cuda" else nullcontext()

    def narrow(self, flat: torch.Tensor) -> torch.Tensor:
        """What the first layer would round to anyway, before it is spread over the pitches."""
        return flat.bfloat16() if self.device.type == "cuda" else flat

    def cut(self, samples: int, cut_s: float) -> Cut:
        """A stretch of lines of so many samples.

        A recurrent layer takes its time by the frame, however many lines there are: short cuts of many lines teach
        more in a minute than long ones of few."""
        hop = self.task.hop
        frames = min(samples, round(cut_s * RATE)) // hop
        first = int(torch.randint(0, samples // hop - frames + 1, (1,), generator=self._random))
        lead = round(LEAD_S * RATE) // hop
        # few lengths only: every new one costs the device the plan of another transform
        return Cut(first, frames, lead) if first >= lead else Cut(0, frames, 0)

    def learn(self, sound: torch.Tensor, marks: list[Marks], cut: Cut, rate: float) -> torch.Tensor:
        """One step on `sound`, that of the frames of the cut; the loss."""
        self.model.train()
        flat, bands = self.sensing(sound)
        targets = Targets(marks, cut.frames, self.device, self.task, cut.first)
        with self.half():
            logits, scene = self.model(self.narrow(flat), bands)
        value = loss(logits, scene, targets)
        for group in self.optimizer.param_groups:
            group["lr"] = rate * min(1.0, (self.step + 1) / WARM_UP)
        self.optimizer.zero_grad(set_to_none=True)
        value.backward()
        torch.nn.utils.clip_grad_norm_(self.model.parameters(), CLIP)
        self.optimizer.step()
        self.step += 1
        keep = min(AVERAGED, self.step / (self.step + 10.0))
        with torch.no_grad():
            for name, now in self.model.state_dict().items():
                self.average[name].lerp_(now, 1.0 - keep)
        return value.detach()

    @torch.no_grad()
    def score(self, sound: torch.Tensor, marks: list[Marks]) -> dict[str, float]:
        """F1 of the onset heads of the averaged weights, in per cent."""
        now = {k: v.clone() for k, v in self.model.state_dict().items()}
        self.model.load_state_dict(self.average)
        self.model.eval()
        counts = {index: [0, 0, 0] for index in self.task.scored}
        frames = sound.shape[-1] // self.task.hop
        for first in range(0, len(sound), 16):
            flat, bands = self.sensing(sound[first : first + 16, : frames * self.task.hop])
            with self.half():
                logits, _ = self.model(self.narrow(flat), bands)
            targets = Targets(marks[first : first + 16], frames, self.device, self.task)
            for index, total in counts.items():
                for i, more in enumerate(onset_score(logits, targets, index)):
                    total[i] += more
        self.model.load_state_dict(now)
        heads = self.task.heads
        return {heads[i].name: 200.0 * hits / max(1, told + true) for i, (hits, told, true) in counts.items()}

    def save(self, path: Path) -> None:
        """Write the checkpoint under another name first, so that a cut-off run leaves a whole one."""
        whole = {"model": self.model.state_dict(), "average": self.average, "step": self.step,
                 "optimizer": self.optimizer.state_dict()}  # fmt: skip
        torch.save(whole, path.with_suffix(".part"))
        os.replace(path.with_suffix(".part"), path)
        write_weights(self.average, path.with_name(f"{self.task.name}.npz"), steps=self.step)

    def resume(self, path: Path) -> None:
        """Go on from a checkpoint."""
        held = torch.load(path, map_location=self.device, weights_only=True)
        self.model.load_state_dict(held["model"])
        self.optimizer.load_state_dict(held["optimizer"])
        self.average, self.step = held["average"], int(held["step"])


def some_lines(bank: Path, held_out: list[str], count: int, device: torch.device) -> Check:
    """Lines on the guitars that are held out, as played and as the augmentation makes them: the same in every run."""
    guitars = [g for g in load(bank) if g.name in held_out]
    studio = Studio(guitars, 77, modal_share=0.0 if guitars else 1.0)
    lines = [studio.line() for _ in range(count)]
    bands = torch.stack([torch.from_numpy(studio.band()) for _ in range(count)]).to(device).float() / 32768.0
    clean = torch.stack([torch.from_numpy(line.sound) for line in lines]).to(device).float() / 32768.0
    return Check(0.5 * clean, Augmenter(device, 78)(clean, bands), [line.marks for line in lines])


def main() -> None:
    """Read the arguments, train until the time is over."""
    options = _arguments()
    began = time.monotonic()
    options.out.mkdir(parents=True, exist_ok=True)
    os.environ["OMP_NUM_THREADS"] = "1"
    feed = Feed(options.bank, options.without, options.seed, options.processes)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    with open(options.out / "log.txt", "a") as log:

        def say(text: str) -> None:
            line = f"{time.monotonic() - began:6.1f} s  {text}"
            print(line, flush=True)
            log.write(line + "\n")
            log.flush()

        try:
            _train(options, device, feed, began, say)
        finally:
            feed.stop()


def _train(
    options: argparse.Namespace, device: torch.device, feed: Feed, began: float, say: Callable[[str], None]
) -> None:
    if device.type == "cuda":
        torch.backends.cuda.cufft_plan_cache.max_size = MOST_PLANS  # plans keep memory
    trainer = Trainer(TASKS[options.task], device, options.seed)
    if options.resume:
        trainer.resume(options.resume)
    say(f"{sum(p.numel() for p in trainer.model.parameters())} parameters on {device}, from step {trainer.step}")
    check = some_lines(options.bank, options.without, options.check_lines, device)
    augmenter = Augmenter(device, options.seed * 100 + trainer.step)
    pool = Pool(options.pool, device, options.seed + trainer.step)
    while pool.held < min(options.first, options.pool):
        crate = feed.next(1.0)
        if crate is not None:
            pool.add(crate)
    say(f"{pool.held} lines to begin with")
    whole, start = 60.0 * options.minutes, time.monotonic() - began
    saved = checked = start
    first_step, total, count = trainer.step, torch.zeros((), device=device), 0
    while (clock := time.monotonic() - began) < whole - options.reserve_s:
        share = (clock - start) / max(1.0, whole - options.reserve_s - start)
        rate = options.rate * (options.last_rate / options.rate) ** share
        sound, band, marks = pool.draw(options.batch)
        try:
            cut, hop = trainer.cut(sound.shape[-1], options.cut_s), trainer.task.hop
            part = slice((cut.first - cut.lead) * hop, (cut.first + cut.frames) * hop)
            heard = augmenter(sound[:, part], band[:, part])[:, cut.lead * hop :]
            total += trainer.learn(heard, marks, cut, rate)
        except torch.OutOfMemoryError:
            options.batch //= 2
            if options.batch < 4:
                raise
            torch.cuda.empty_cache()
            say(f"too little memory: {options.batch} lines a step from now on")
            continue
        count += 1
        for _ in range(4):
            crate = feed.next(0.0)
            if crate is None:
                break
            pool.add(crate)
        if clock - checked > options.check_s or trainer.step == first_step + 10:
            mean = float(total) / count
            if mean != mean:
                raise RuntimeError(f"the loss is not a number at step {trainer.step}")
            scores = [f"{name} {' '.join(f'{v:.1f}' for v in trainer.score(sound_, check.marks).values())}"
                      for name, sound_ in (("clean", check.clean), ("hard", check.hard))]  # fmt: skip
            say(f"step {trainer.step} loss {mean:.4f} lines {pool.received} rate {rate:.1e}  {'  '.join(scores)}")
            checked, total, count = time.monotonic() - began, torch.zeros((), device=device), 0
        if clock - saved > options.save_s:
            trainer.save(options.out / "checkpoint.pt")
            saved = clock
    trainer.save(options.out / "checkpoint.pt")
    for name, sound_ in (("clean", check.clean), ("hard", check.hard)):
        say(f"{name}: " + ", ".join(f"{k} {v:.2f}" for k, v in trainer.score(sound_, check.marks).items()))
    if device.type == "cuda":
        say(f"most memory {torch.cuda.max_memory_allocated() / 2**30:.1f} GiB, {trainer.step} steps")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--bank", type=Path, required=True, help="folder of the bank")
    parser.add_argument("--out", type=Path, required=True, help="folder for checkpoint, weights and log")
    parser.add_argument("--minutes", type=float, default=8.5, help="of the wall clock, everything included")
    parser.add_argument("--resume", type=Path, help="checkpoint to go on from")
    parser.add_argument("--without", action="append", default=None, help="guitar to hold out (default npm-acoustic)")
    parser.add_argument("--seed", type=int, default=1, help="another one when going on: the lines are drawn from it")
    parser.add_argument("--task", choices=TASKS, default="live", help="which network")
    parser.add_argument("--batch", type=int, default=128, help="lines a step")
    parser.add_argument("--cut-s", type=float, default=4.0, help="seconds of each line in a step")
    parser.add_argument("--rate", type=float, default=2e-3, help="learning rate at the start")
    parser.add_argument("--last-rate", type=float, default=8e-4, help="learning rate at the end")
    parser.add_argument("--processes", type=int, default=max(1, (os.cpu_count() or 2) - 2), help="that render lines")
    parser.add_argument("--pool", type=int, default=12_000, help="lines held on the device")
    parser.add_argument("--first", type=int, default=1024, help="lines before the first step")
    parser.add_argument("--check-lines", type=int, default=64)
    parser.add_argument("--check-s", type=float, default=45.0)
    parser.add_argument("--save-s", type=float, default=120.0)
    parser.add_argument("--reserve-s", type=float, default=12.0, help="kept for the last checkpoint and check")
    options = parser.parse_args()
    if options.without is None:
        options.without = ["npm-acoustic"]
    return options


if __name__ == "__main__":
    main()
