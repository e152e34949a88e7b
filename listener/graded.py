"""What grading makes of a heard note, and of a whole chorus: values only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from listener.events import Note


class Grade(StrEnum):
    CHORD_TONE = "chord_tone"
    THIRD_APPROACH = "third_approach"
    OUTSIDE = "outside"


class Explained(StrEnum):
    """What an outside note was; it explains, the grade stays."""

    FLAT_THIRD_LEFT = "♭3 left"
    ENCLOSURE = "enclosure"
    CHROMATIC_APPROACH = "chromatic approach"
    SCALE_TONE = "scale tone"
    PASSING = "passing"
    PLAIN = "outside"


class Shade(StrEnum):
    """The third grade split in three, as screens and reports show it."""

    COLOUR = "colour"
    ON_THE_WAY = "on the way"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Graded:
    """A note with its place in the changes and its grade.

    `chorus`, `bar` and `beat` count from 1 (`beat` is a float) and tell where the note was played; None before the
    first count of the band. `chord` is the symbol of the chord it is graded in and `span` its index in the timeline;
    with `early` or `pushed` that is the chord after the change it stands before. `function` is the degree in that
    chord (R, ♭3, 3, 5, ♭7, 9 ...), `name` its spelling there. `grade` is None where none is due (pick-up, dead, N.C.).
    `third` tells a ♭3→3 that was played (resolved True or False) whichever grade the note carries, else None.
    `scored` is False for what is shown only, and `why_not` says why.
    `left` says where an unresolved ♭3 went: "R", "9", "4", "stays", or None.
    """

    note: Note
    chorus: int | None
    bar: int | None
    beat: float | None
    span: int | None
    chord: str | None
    function: str | None
    name: str | None
    grade: Grade | None
    explained: Explained | None = None
    shade: Shade | None = None
    resolved: bool | None = None
    third: bool | None = None
    left: str | None = None
    low_third: bool = False
    key_degree: str | None = None
    pushed: bool = False
    early: bool = False
    scored: bool = True
    why_not: str | None = None


@dataclass(frozen=True, slots=True)
class GradeOpened:
    id: int
    graded: Graded
    told_sample: int


@dataclass(frozen=True, slots=True)
class GradeRevised:
    id: int
    graded: Graded
    told_sample: int


@dataclass(frozen=True, slots=True)
class GradeFinal:
    """`graded` is what stands; it will not change."""

    id: int
    graded: Graded
    told_sample: int


@dataclass(frozen=True, slots=True)
class GradeWithdrawn:
    id: int
    told_sample: int


@dataclass(frozen=True, slots=True)
class ChorusFinal:
    """Every note of this chorus is final and the chorus is over."""

    chorus: int
    told_sample: int


GradeEvent = GradeOpened | GradeRevised | GradeFinal | GradeWithdrawn | ChorusFinal


class Verdict(StrEnum):
    NEAREST = "nearest"
    SMOOTH = "smooth"
    GUIDE_TONE = "guide tone"
    LEAP = "leap"


@dataclass(frozen=True, slots=True)
class Landing:
    """How the line came into the chord at one change.

    `chord` is the new chord, `degree` its root in the key as a roman numeral (I, IV, V, ♭VII). `note_id` is None and
    `open` True where nothing was played up to a bar. `verdicts` is empty for a landing outside the chord.
    `held` is "common tone held" or "suspended in" for a note held over the change. `grade` is that of the landing in
    the new chord.
    """

    chorus: int
    bar: int
    beat: float
    chord: str
    degree: str
    open: bool
    note_id: int | None = None
    function: str | None = None
    name: str | None = None
    motion_semitones: float | None = None
    verdicts: tuple[Verdict, ...] = ()
    delayed: bool = False
    early: bool = False
    pushed: bool = False
    held: str | None = None
    grade: Grade | None = None


@dataclass(frozen=True, slots=True)
class Hangover:
    """Notes after a change that fit only the chord before: `chord` is the old one, `bar` the bar of the change."""

    bar: int
    chord: str
    degree: str
    into: str
    into_degree: str
    notes: int


@dataclass(frozen=True, slots=True)
class Timing:
    """Onsets against the grid. `mean_ms` positive is behind; `spread_ms` is the standard deviation; both None under
    eight notes. `swing_ratio` with its 95 % interval is None under eight pairs."""

    notes: int
    mean_ms: float | None
    spread_ms: float | None
    swing_ratio: float | None = None
    swing_low: float | None = None
    swing_high: float | None = None
    pairs: int = 0


@dataclass(frozen=True, slots=True)
class ChorusMeasures:
    """One chorus measured. Shares are 0 to 1, or None where nothing was played to take a share of.

    `fit` has its standard error `fit_error`. `functions` counts by (chord symbol, function); `unused` lists chord
    tones never played over a chord that came up. `phrases` are (start beat in its bar, bar, length in beats).
    `lost_place_bars` is the shift in bars that fits the chart better, or None. `next_thing` is one line of words.
    `entry` is how the line came into a chorus whose first chord is no change; it is shown and not counted.
    """

    chorus: int
    partial: bool
    notes: int
    scored: int
    chord_tones: int
    third_approaches: int
    colour: int
    on_the_way: int
    outside: int
    fit: float | None
    fit_error: float | None
    thirds_played: int
    thirds_resolved: int
    thirds_left: tuple[tuple[str, int], ...]
    landings: tuple[Landing, ...]
    hangovers: tuple[Hangover, ...]
    root_share: float | None
    root_interval: tuple[float, float] | None
    root_habit: bool
    guide_share: float | None
    functions: tuple[tuple[str, str, int], ...]
    unused: tuple[tuple[str, str], ...]
    phrases: tuple[tuple[float, int, float], ...]
    silence_share: float
    dead_notes: int
    timing: Timing
    lost_place_bars: int | None
    next_thing: str
    entry: Landing | None = None
