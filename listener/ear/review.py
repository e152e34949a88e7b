"""The review ear: it hears a recording to its end before it tells anything, and so knows what came after each note."""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

import numpy as np
import numpy.typing as npt

from listener.ear.ahead import AheadNetwork
from listener.ear.assembly import assemble
from listener.ear.frames import Signal
from listener.ear.gleaning import Evidence
from listener.ear.stream import Stream, tuning_of
from listener.ear.telling import Teller
from listener.ear.tracing import Tracer
from listener.errors import ListenerError
from listener.events import Block, EarEvent, Final, Opened, Watermark

WEIGHTS = "review.npz"


@lru_cache(maxsize=1)
def trained() -> dict[str, npt.NDArray[np.floating]]:
    """The weights that lie beside this module. Raises ListenerError where there are none."""
    place = resources.files("listener.ear") / WEIGHTS
    if not place.is_file():
        raise ListenerError("the review ear has no weights: install the package again, or take the live ear")
    with resources.as_file(place) as path, np.load(path) as arrays:
        return {name: arrays[name] for name in arrays.files if not name.startswith("about.")}


class _Engine:
    """Keeps the sound, and hears it at the end."""

    def __init__(self, network: AheadNetwork, a4_hz: float) -> None:
        self._network, self._tuning = network, tuning_of(a4_hz)
        self._hops: list[Signal] = []

    def push(self, hop: Signal) -> list[EarEvent]:
        self._hops.append(hop.astype(np.float32))
        return []

    def finish(self, end: int) -> list[EarEvent]:
        sound = np.concatenate([*self._hops, np.zeros(1, np.float32)])
        evidence = Evidence(self._network.hear(sound), sound.astype(np.float64))
        teller = Teller(evidence, Tracer(sound.astype(np.float64)), self._tuning)
        events: list[EarEvent] = []
        for note in teller.notes(assemble(evidence)):
            events += [Opened(note.id, note, end), Final(note.id, end)]
        return [*events, Watermark(end + 1)]


class ReviewEar:
    """`rate` in Hz, 8000 to 192000; `a4_hz` is the player's A4; `network` the trained one where none is given."""

    def __init__(self, rate: int, a4_hz: float = 440.0, network: AheadNetwork | None = None) -> None:
        tuning_of(a4_hz)  # refused before any table is made
        self._stream = Stream(rate, _Engine(network or AheadNetwork(trained(), a4_hz), a4_hz))

    @property
    def version(self) -> str:
        return "review/1"

    def push(self, block: Block) -> list[EarEvent]:
        """Take in one block that continues the one before; nothing is told yet. Raises ValueError where it does not."""
        return self._stream.push(block)

    def finish(self) -> list[EarEvent]:
        """The recording ends: every note, and the watermark past the end."""
        return self._stream.finish()
