"""The live ear: a small trained network says what begins and sounds, and pitch is measured where it says so."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from functools import lru_cache
from importlib import resources

import numpy as np

from listener.ear.decoder import Decoder
from listener.ear.features import HOP, LONG, Features, Sight
from listener.ear.frames import Signal, stretches
from listener.ear.moment import Moment, Sensing
from listener.ear.network import Network
from listener.ear.stream import Stream, tuning_of
from listener.errors import ListenerError
from listener.events import Block, EarEvent

WEIGHTS = "ear.npz"


@lru_cache(maxsize=1)
def trained() -> Network:
    """The network with the weights that lie beside this module. Raises ListenerError where there are none."""
    place = resources.files("listener.ear") / WEIGHTS
    if not place.is_file():
        raise ListenerError("the neural ear has no weights: install the package again, or take the review ear")
    with resources.as_file(place) as path, np.load(path) as arrays:
        return Network({name: arrays[name] for name in arrays.files if not name.startswith("about.")})


class _Engine:
    """Hops in, events out, in the ear's own samples."""

    def __init__(self, network: Network, a4_hz: float, early: bool) -> None:
        self._network = network
        self._features = Features(a4_hz)
        self._memory = network.silence()
        self._tape = np.zeros(LONG + HOP, np.float32)
        self._coming: deque[Signal] = deque()
        self._moments: deque[Moment] = deque()  # of hops that are to be heard next
        self._sensing = Sensing()
        self._decoder = Decoder(tuning_of(a4_hz), early)

    def foresee(self, hops: Sequence[Signal]) -> None:
        """These will be pushed next."""
        self._coming.extend(hops)

    def push(self, hop: Signal) -> list[EarEvent]:
        """A hop that was foreseen. All that does not depend on what is decided is worked out for two hops at a time,
        where there are two: so what it takes is still at hand in the processor for the second."""
        if not self._moments:
            pair = [self._coming.popleft() for _ in range(min(2, len(self._coming)))]
            heard = [self._network.step(sight, self._memory) for sight in self._look(pair)]
            self._moments.extend(self._sensing.push(pair, heard))
        return self._decoder.push(self._moments.popleft())

    def _look(self, hops: Sequence[Signal]) -> list[Sight]:
        """Of one hop or two. Two cost little more than one; and always two are looked at, if need be one for the second
        time, so that the way in which the stream is cut does not touch a bit of the result."""
        new = np.concatenate(hops)
        self._tape = np.concatenate([self._tape[len(new) :], new], dtype=np.float32)
        seen = self._features.see(stretches(self._tape, LONG, HOP), last=len(hops))
        return [Sight(flat, bands) for flat, bands in zip(seen.flat, seen.bands, strict=True)]

    def finish(self, end: int) -> list[EarEvent]:
        return self._decoder.finish(end)


class NeuralEar:
    """`rate` in Hz, 8000 to 192000; `a4_hz` is the player's A4; `network` the trained one where none is given; an
    `early` ear tells a note as soon as the first head does, and takes more of them back.

    Plain state: an ear can be pickled or copied in the middle of a stream and goes on the same.
    """

    def __init__(self, rate: int, a4_hz: float = 440.0, network: Network | None = None, early: bool = False) -> None:
        tuning_of(a4_hz)  # refused before any table is made
        self._early = early
        engine = _Engine(network or trained(), a4_hz, early)
        self._stream = Stream(rate, engine, engine.foresee)

    @property
    def version(self) -> str:
        return "live/2 early" if self._early else "live/2"

    def push(self, block: Block) -> list[EarEvent]:
        """Hear one block that continues the one before. Raises ValueError where it does not."""
        return self._stream.push(block)

    def finish(self) -> list[EarEvent]:
        """The stream ends: the rest is heard, what is known becomes final, the watermark passes the end."""
        return self._stream.finish()
