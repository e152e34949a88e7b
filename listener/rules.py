"""The rule profile: every constant of placing and grading, kept with the take.

The values are common practice as the trade teaches it; where one was counted or published, the comment says so.
Times that end in `_s` are seconds, those in `_beats` are beats.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Rules:
    """Constants of placing and grading; `colour_is_chord_tone` is the one musical choice a player may set."""

    name: str = "common-practice/1"
    colour_is_chord_tone: bool = False
    early_hands_s: float = 0.060
    early_hands_beats: float = 1 / 6
    push_beats: float = 0.5
    after_change_beats: float = 0.25  # no other onset until here after the change: the note stood for the downbeat
    approach_beats: float = 1.0  # a third approach resolves, and a chromatic approach arrives, within this
    enclosure_beats: float = 1.5
    double_stop_s: float = 0.025
    third_low_cents: float = 250.0  # ♭3 region over a chord with a major third
    third_high_cents: float = 350.0  # from here it is the 3 (blues thirds centre on 319: Cutting, EMR 13, 2018)
    low_third_cents: float = 375.0  # below this the 3 is marked low
    rise_low_cents: float = 50.0
    rise_high_cents: float = 150.0
    curl_low_cents: float = 25.0
    curl_high_cents: float = 70.0
    ghost_confidence: float = 0.35
    ghost_below_db: float = 18.0
    ghost_window: int = 8
    delayed_beats: float = 1.0
    hangover_bars: float = 1.0

    @property
    def profile(self) -> str:
        """The name as documents carry it, with the player's choice where it differs from the default."""
        return self.name + (" colour=chord_tone" if self.colour_is_chord_tone else "")

    def scaled(self, factor: float) -> Rules:
        """The same rules with every duration constant in seconds multiplied by `factor`."""
        return replace(self, early_hands_s=self.early_hands_s * factor, double_stop_s=self.double_stop_s * factor)
