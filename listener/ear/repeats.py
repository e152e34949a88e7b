"""How the last sound repeats itself: square differences of hops that came together."""

from __future__ import annotations

from collections.abc import Sequence

from listener.ear.f0 import REACH, square_differences
from listener.ear.frames import LONGEST_LAG, Signal

LEAST_SPAN = 200  # samples after an attack before a pitch is measured: 9 ms
SPANS = 2


class Repeats:
    """Of one hop or two, each over SPANS spans. Most hops need none; but who asks for one nearly always asks for the
    others as well, and all cost little more than one: so all are made when one is first asked for."""

    def __init__(self) -> None:
        self._frames: list[Signal] = []
        self._made: list[Signal] = []

    def add(self, sound: Signal, spans: Sequence[int]) -> int:
        """Takes in a hop, `sound` its last samples. Returns its number, by which to ask for it."""
        self._frames += [sound[-max(span, LEAST_SPAN) :] for span in spans]
        return len(self._frames) // SPANS - 1

    def difference(self, hop: int, span: int) -> Signal:
        """The normalised square difference of hop number `hop` over the first or second of its spans, by lag."""
        if not self._made:
            longest = [min(LONGEST_LAG, int(REACH * len(frame))) + 1 for frame in self._frames]
            self._made = square_differences(self._frames, longest)
        return self._made[hop * SPANS + span]
