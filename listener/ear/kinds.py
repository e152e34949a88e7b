"""The ears there are, by name, and how one is made."""

from __future__ import annotations

from listener.events import Ear

LIVE, EARLY, REVIEW = "live", "early", "review"
EARS = (LIVE, EARLY, REVIEW)
HEARS_LIVE = (LIVE, EARLY)  # the others want the whole recording first


def make_ear(name: str, rate: int, a4_hz: float) -> Ear:
    """An ear for a stream of `rate` Hz. `live` tells each note as it sounds; `early` tells it some ms sooner and takes
    more of them back; `review` tells nothing until the recording has ended, and then more rightly than the others.

    Raises ValueError for another name, a rate outside 8000 to 192000 Hz or an A4 outside 300 to 600 Hz.
    """
    if name in HEARS_LIVE:
        from listener.ear.neural import NeuralEar

        return NeuralEar(rate, a4_hz, early=name == EARLY)
    if name == REVIEW:
        from listener.ear.review import ReviewEar

        return ReviewEar(rate, a4_hz)
    raise ValueError(f"ear {name!r}: expected one of {', '.join(EARS)}")
