"""The one way in: live sound, a file and an array are the same path from the first block on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from listener.events import Block


class Source(Protocol):
    """Blocks of consecutive mono samples at `rate` Hz; each block starts where the one before ended.

    A block's `start_sample` is in the band's time: the source has taken its latency off, so the first block of a
    source with latency starts below 0.
    """

    @property
    def rate(self) -> int:
        """Samples per second."""

    def blocks(self) -> Iterator[Block]:
        """The blocks from the first sample to the last."""
