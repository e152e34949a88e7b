"""What the dashboard knows at one moment: values only, with nothing of how they look."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from listener.graded import Grade, Shade

BARS_PER_ROW = 4  # a page of the form has rows of four bars: the phrase of most forms


class Phase(StrEnum):
    WAITING = "waiting"
    COUNT_IN = "count-in"
    PLAYING = "playing"
    CLOSING = "closing"
    ENDED = "ended"


@dataclass(frozen=True, slots=True)
class PageChord:
    """A chord symbol and the beat of its bar, from 0, at which it comes."""

    beat: float
    symbol: str


@dataclass(frozen=True, slots=True)
class PageBar:
    """`beats` is None for a bar of as many beats as the first one."""

    chords: tuple[PageChord, ...]
    beats: int | None = None


@dataclass(frozen=True, slots=True)
class ShownNote:
    """A graded note as the screen tells it.

    `bar` and `beat` count from 1 and are None before the first count. `final` is False while the grade is open;
    `dead` is an attack without a pitch; `remarks` are the words beyond function and grade.
    """

    id: int
    chorus: int | None
    bar: int | None
    beat: float | None
    name: str | None
    function: str | None
    chord: str | None
    grade: Grade | None
    shade: Shade | None = None
    final: bool = False
    dead: bool = False
    scored: bool = True
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class InputLevel:
    """Peak of the input in dB re full scale (None before anything came in)."""

    peak_dbfs: float | None = None
    clipping: bool = False
    silent: bool = False


@dataclass(frozen=True, slots=True)
class DashboardState:
    """One moment of the sitting.

    `beat` counts from 1 within the bar and runs as a float; `bar` counts from 1 within the chorus. `bars` are the
    bars of the chorus that sounds, with those of the ending where it has one; `form_bars` counts the form alone.
    `chord_next` comes at `next_bar` and `next_beat`, in `beats_until` beats; None where no other chord comes.
    `beats_per_bar` are those of the first bar; `bars_until` is told where bars differ in length and the next chord
    comes a whole bar or more later. `count` is the beat of the count-in, else None.
    """

    phase: Phase = Phase.WAITING
    title: str = ""
    key: str = ""
    bars: tuple[PageBar, ...] = ()
    form_bars: int = 0
    beats_per_bar: int = 4
    chorus: int | None = None
    choruses: int | None = None
    bar: int | None = None
    beat: float | None = None
    count: int | None = None
    chord_now: str | None = None
    chord_next: str | None = None
    next_bar: int | None = None
    next_beat: float | None = None
    beats_until: float | None = None
    bars_until: int | None = None
    notes: tuple[ShownNote, ...] = ()
    level: InputLevel = field(default_factory=InputLevel)
    report: tuple[str, ...] = ()
    message: str = ""

    @property
    def has_one_meter(self) -> bool:
        """Whether all bars are as long as the first."""
        return all(bar.beats in (None, self.beats_per_bar) for bar in self.bars)

    def beats_of(self, bar: int) -> int:
        """Beats of a bar of the form, from 1; those of the first where there is none."""
        found = self.bars[bar - 1].beats if 0 < bar <= len(self.bars) else None
        return found or self.beats_per_bar
