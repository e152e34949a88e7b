"""The ears there are, by name, and how one is made."""

from __future__ import annotations

from listener.events import Ear

NEURAL, CLASSICAL = "neural", "classical"
EARS = (NEURAL, CLASSICAL)


def make_ear(name: str, rate: int, a4_hz: float) -> Ear:
    """An ear for a stream of `rate` Hz. The neural one hears more; the classical one takes a third of the processor.

    Raises ValueError for another name, a rate outside 8000 to 192000 Hz or an A4 outside 300 to 600 Hz.
    """
    if name == NEURAL:
        from listener.ear.neural import NeuralEar

        return NeuralEar(rate, a4_hz)
    if name == CLASSICAL:
        from listener.ear.classical import ClassicalEar

        return ClassicalEar(rate, a4_hz)
    raise ValueError(f"ear {name!r}: expected one of {', '.join(EARS)}")
