"""The order in which written bars are played: repeats, and their first, second and further endings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from progressions.bars import Bar, BarFault

MOST_TIMES = 16
LONGEST_PLAYED_BARS = 1024


@dataclass(slots=True)
class _Passage:
    """What may still be repeated: from `first` on, with the endings met so far as (numbers, first bar)."""

    first: int
    opened: bool
    endings: list[tuple[tuple[int, ...], int]] = field(default_factory=list)

    @property
    def next_number(self) -> int:
        """The lowest number that no ending has yet."""
        taken = {number for numbers, _ in self.endings for number in numbers}
        return next(number for number in range(1, len(taken) + 2) if number not in taken)


def playing_order(bars: Sequence[Bar]) -> tuple[int, ...]:
    """Indices of the bars in the order in which they are played once through the chart.

    A :| goes back to the last |:, the first one of a chart to its beginning where no |: stands. Each ending but the
    last goes back by a :| of its own. Raises BarFault where signs do not fit together.
    """
    order: list[int] = []
    passage = _Passage(0, opened=True)
    for at, bar in enumerate(bars):
        if bar.opens_repeat and at != passage.first:
            _play(order, passage, at, bars)
            passage = _Passage(at, opened=True)
        passage.opened = passage.opened or bar.opens_repeat
        if bar.endings:
            _begin_ending(passage, bar.endings, at, bars)
        elif passage.endings and bars[at - 1].times:
            number = passage.next_number
            raise BarFault(at, "no ending after the :| of one", f"ending {number} there, as in :|{number}")
        if bar.times and not passage.endings:
            if not passage.opened:
                raise BarFault(at, ":| without a |:", "|: before the first bar of the repeat")
            if not 2 <= bar.times <= MOST_TIMES:
                raise BarFault(at, f"played {bar.times} times", f"2 to {MOST_TIMES} times")
            order += list(range(passage.first, at + 1)) * bar.times
            passage = _Passage(at + 1, opened=False)
        elif bar.times not in (0, 2):
            expected = "a plain :|, as the endings tell how often it is played"
            raise BarFault(at, f"x{bar.times} after an ending", expected)
        if len(order) > LONGEST_PLAYED_BARS:
            raise BarFault(at, "too long with its repeats", f"at most {LONGEST_PLAYED_BARS} bars once through")
    if passage.endings and bars[-1].times:
        raise BarFault(len(bars) - 1, ":| after the last ending", "the next ending, or | after the last one")
    _play(order, passage, len(bars), bars)
    return tuple(order)


def _begin_ending(passage: _Passage, numbers: tuple[int, ...], at: int, bars: Sequence[Bar]) -> None:
    first = passage.next_number
    if not passage.opened or at == passage.first:
        raise BarFault(at, f"ending {_told(numbers)} without a repeat", "|: and at least one bar before the endings")
    taken = {number for others, _ in passage.endings for number in others}
    if numbers[0] != first or list(numbers) != sorted({*numbers} - taken) or numbers[-1] > MOST_TIMES:
        raise BarFault(at, f"ending {_told(numbers)}", f"ending {first}, and at most {MOST_TIMES} of them")
    if passage.endings and not bars[at - 1].times:
        raise BarFault(at - 1, f"no :| before ending {first}", ":| where the ending before goes back")
    passage.endings.append((numbers, at))


def _play(order: list[int], passage: _Passage, end: int, bars: Sequence[Bar]) -> None:
    """Add what is played of a passage that goes on up to `end`: each pass with its ending, or its bars once."""
    if not passage.endings:
        if passage.opened and passage.first < end and bars[passage.first].opens_repeat:
            raise BarFault(passage.first, "|: without its :|", ":| where the repeat ends")
        order += range(passage.first, end)
        return
    numbers, last = passage.endings[-1]
    passes = passage.next_number - 1
    if passes < 2 or numbers != (passes,) or any(other[-1] > passes for other, _ in passage.endings):
        raise BarFault(last, f"ending {_told(numbers)} as the last one", f":| after it, and ending {passes + 1}")
    body = range(passage.first, passage.endings[0][1])
    bounds = [*passage.endings, ((), end)]
    ending_of = {number: range(first, after) for (numbers, first), (_, after) in pairwise(bounds) for number in numbers}
    for number in range(1, passes + 1):
        order += body
        order += ending_of[number]


def _told(numbers: tuple[int, ...]) -> str:
    return ",".join(map(str, numbers))
