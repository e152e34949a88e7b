"""What is going to be played: changes, time, reference and rules, decided before the first note."""

from __future__ import annotations

from dataclasses import dataclass, replace

from listener.rules import Rules
from progressions.chart import Chart
from progressions.timeline import Timeline, check_tempi, time_map_of

DEFAULT_TEMPO_BPM = 80.0
DEFAULT_SWING = 2.0
CLOSING_BARS = 4  # the closing chord sounds until the player stops, and no longer than this


@dataclass(frozen=True, slots=True)
class Plan:
    """`swing` is the ratio of the first to the second eighth; `a4_hz` the player's reference."""

    chart: Chart
    tempo_bpm: float
    swing: float
    choruses: int
    a4_hz: float
    rules: Rules

    def __post_init__(self) -> None:
        """Raises ProgressionsError where a section would leave the range of tempi: told before the first note."""
        check_tempi(self.chart, self.tempo_bpm)

    def timeline(self, rate: int, first_sample: int) -> Timeline:
        """The changes unrolled over samples, beat 1 of the first chorus at `first_sample`."""
        time_map = time_map_of(self.chart, self.choruses, rate, self.tempo_bpm, first_sample)
        # a charted push comes on the off-beat that this sitting swings
        chart = replace(self.chart, swing=self.swing)
        return Timeline(chart, self.choruses, time_map, closing_bars=CLOSING_BARS)
