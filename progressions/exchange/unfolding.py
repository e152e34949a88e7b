"""The order in which the measures of a score are played: repeats, endings, and the jumps D.C., D.S., Coda and Fine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from progressions.errors import ProgressionsError

MOST_MEASURES = 1024
MOST_TIMES = 16


@dataclass(frozen=True, slots=True)
class Signs:
    """What stands at one measure. `times` is how often a passage that ends here is played, 0 where none ends.

    `ending` are the numbers of a bracket that begins here; `ending_ends` whether one ends here. `jumps_to` is the
    label of the segno to go back to, "" for the beginning, None for no jump.
    """

    opens: bool = False
    times: int = 0
    ending: tuple[int, ...] = ()
    ending_ends: bool = False
    segno: str | None = None
    coda: str | None = None
    jumps_to: str | None = None
    to_coda: str | None = None
    fine: bool = False


@dataclass(frozen=True, slots=True)
class _Ending:
    """A bracket from `first` to `last`; `passes` is how often its passage is played, `is_last` whether none follows."""

    numbers: tuple[int, ...]
    first: int
    last: int
    passes: int
    is_last: bool
    is_alone: bool

    def is_taken(self, time: int, jumped: bool) -> bool:
        return (self.is_last and not self.is_alone) if jumped else time in self.numbers


def playing_order(signs: Sequence[Signs]) -> tuple[int, ...]:
    """Indices of the measures as they are played. After a D.C. or D.S. only the last endings are, and nothing again.

    Raises ProgressionsError for signs that lead nowhere, and for more than 1024 measures.
    """
    endings = _endings(signs)
    order: list[int] = []
    jumps_done: set[int] = set()
    at, start, time, jumped = 0, 0, 1, False
    while at < len(signs):
        here, ending = signs[at], endings.get(at)
        if here.opens and at != start:
            start, time = at, 1
        if ending is not None and at == ending.first and not ending.is_taken(time, jumped):
            at = ending.last + 1
            if ending.is_last:
                start, time = at, 1
            continue
        order.append(at)
        if len(order) > MOST_MEASURES:
            raise ProgressionsError(f"more than {MOST_MEASURES} measures once through")
        passes = here.times if ending is None else ending.passes
        if here.times and not jumped and time < passes:
            at, time = start, time + 1
            continue
        if here.times or (ending is not None and at == ending.last):
            start, time = at + 1, 1
        if jumped and here.fine:
            break
        if jumped and here.to_coda is not None:
            at = start = _place_of("coda", here.to_coda, signs)
            time, jumped = 1, False
        elif here.jumps_to is not None and at not in jumps_done:
            jumps_done.add(at)
            at = start = 0 if here.jumps_to == "" else _place_of("segno", here.jumps_to, signs)
            time, jumped = 1, True
        else:
            at += 1
    return tuple(order)


def _place_of(sign: str, label: str, signs: Sequence[Signs]) -> int:
    """The measure with that segno or coda; a lone sign is found by any label."""
    found = [at for at, here in enumerate(signs) if getattr(here, sign) is not None]
    labelled = [at for at in found if getattr(signs[at], sign) == label]
    if labelled or len(found) == 1:
        return (labelled or found)[0]
    raise ProgressionsError(f"{'D.S.' if sign == 'segno' else 'to coda'} {label[:20]!r}, but no such {sign}")


def _endings(signs: Sequence[Signs]) -> dict[int, _Ending]:
    """Every measure under a bracket -> its ending. Brackets that touch belong to one passage."""
    groups: list[list[tuple[tuple[int, ...], int, int]]] = []
    for first, here in enumerate(signs):
        if not here.ending:
            continue
        last = first
        while not (signs[last].ending_ends or signs[last].times or last + 1 == len(signs) or signs[last + 1].ending):
            last += 1
        if groups and groups[-1][-1][2] == first - 1:
            groups[-1].append((here.ending, first, last))
        else:
            groups.append([(here.ending, first, last)])
    endings = {}
    for group in groups:
        alone = len(group) == 1
        # An ending alone is left out when its passage is played for the last time.
        passes = max(group[-1][0]) + alone
        for numbers, first, last in group:
            ending = _Ending(numbers, first, last, passes, first == group[-1][1], alone)
            endings.update(dict.fromkeys(range(first, last + 1), ending))
    return endings
