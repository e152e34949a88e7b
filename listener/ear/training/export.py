"""From a checkpoint to the weights that the ear reads: names and half-precision numbers, nothing else."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import numpy.typing as npt
import torch


def weights_of(state: Mapping[str, torch.Tensor]) -> dict[str, npt.NDArray[np.float16]]:
    """The parameters by name. Raises ValueError where one does not fit half precision."""
    weights = {name: value.detach().float().cpu().numpy().astype(np.float16) for name, value in state.items()}
    for name, value in weights.items():
        if not np.isfinite(value).all():
            raise ValueError(f"parameter {name} holds numbers beyond half precision")
    return weights


def write_weights(state: Mapping[str, torch.Tensor], path: Path, **facts: object) -> int:
    """Write the weights and some facts about the training; the file's size in bytes."""
    arrays = {f"about.{key}": np.array(str(value)) for key, value in facts.items()}
    np.savez_compressed(path, **weights_of(state), **arrays)  # type: ignore[arg-type]
    return path.stat().st_size


def main() -> None:
    """Checkpoint in, weights out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("checkpoint", type=Path)
    parser.add_argument("weights", type=Path)
    options = parser.parse_args()
    held = torch.load(options.checkpoint, map_location="cpu", weights_only=True)
    size = write_weights(held["average"], options.weights, steps=held["step"])
    print(f"{size / 2**20:.2f} MiB in {options.weights}")


if __name__ == "__main__":
    main()
