"""Still pages of the form: which rows of four bars are on the page, and when the page turns."""

from __future__ import annotations

from dataclasses import dataclass

from listener.dashboard.state import BARS_PER_ROW


@dataclass(frozen=True, slots=True)
class PageRow:
    """A row of the form in its place: `row` counts from 0, `chorus_ahead` is 1 where it belongs to the next chorus."""

    row: int
    chorus_ahead: int = 0


def rows_of(bars: int) -> int:
    """How many rows of four `bars` take."""
    return -(-bars // BARS_PER_ROW)


def page_rows(rows: int, places: int, current: int, *, more: bool) -> tuple[PageRow | None, ...]:
    """What stands in each of `places` rows on the screen while row `current` of `rows` is played.

    A row never moves while it is on the page. The page turns ahead of time: as soon as its last row is reached, the
    rows above it, already played, show the page that follows, so the eye goes to the top of the screen and finds it
    there. `more` says that another chorus follows the last row. A form that fits is never turned.
    """
    if rows <= 0 or places <= 0:
        return (None,) * max(places, 0)
    if rows <= places:
        return tuple(PageRow(place) if place < rows else None for place in range(places))
    current = min(max(current, 0), rows - 1)
    page, place_now = divmod(current, places)
    last_of_page = min((page + 1) * places, rows) - 1
    shown: list[PageRow | None] = []
    for place in range(places):
        row = page * places + place
        if current == last_of_page and place < place_now:
            following = row + places
            if following < rows:
                shown.append(PageRow(following))
            elif page * places + places >= rows and more:
                shown.append(PageRow(place, chorus_ahead=1))
            else:
                shown.append(None)
        else:
            shown.append(PageRow(row) if row < rows else None)
    return tuple(shown)
