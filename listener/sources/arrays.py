"""Sound that is in memory already, as a source."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from listener.errors import InputFileError
from listener.events import Block

BLOCK_FRAMES = 1024


class ArraySource:
    """A one-dimensional array of samples at `rate` Hz.

    `latency_samples` is taken off every block's index. Raises InputFileError for another shape, a rate that is not
    positive, or samples that are no finite numbers.
    """

    def __init__(
        self, samples: npt.ArrayLike, rate: int, *, latency_samples: int = 0, block: int = BLOCK_FRAMES
    ) -> None:
        self.samples = np.ascontiguousarray(samples, dtype=np.float32)
        if self.samples.ndim != 1:
            raise InputFileError(f"samples of shape {self.samples.shape}: one channel in one dimension was expected")
        if rate <= 0 or block <= 0:
            raise InputFileError(f"rate {rate} and block {block}: both have to be above 0")
        if not np.isfinite(self.samples).all():
            first = int(np.argmin(np.isfinite(self.samples)))
            raise InputFileError(f"the samples hold no number at {first / rate:.3f} s")
        self.rate = rate
        self.latency_samples = latency_samples
        self._block = block

    def blocks(self) -> Iterator[Block]:
        for start in range(0, len(self.samples), self._block):
            yield Block(start - self.latency_samples, self.samples[start : start + self._block])
