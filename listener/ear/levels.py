"""How loud it is: the noise floor while nothing is played, and the level of the recent notes."""

from __future__ import annotations

from listener.ear.frames import HOP, RATE

QUIETEST_DB = -62.0
ABOVE_FLOOR_DB = 10.0
UNDER_NOTES_DB = 38.0  # fainter than this under the recent notes is no note
DIGITAL_SILENCE_DB = -100.0  # of a source that sends zeros: says nothing about its noise
FLOOR_START_DB, FLOOR_MOST_DB, FLOOR_RISE_DB_S = -60.0, -35.0, 6.0
NOTES_FALL_DB_S = 3.0
RECENT = 21  # hops: 0.12 s


class Levels:
    """Pushed once a hop, in dB re full scale."""

    def __init__(self) -> None:
        self.floor_db = FLOOR_START_DB
        self.loud_db = FLOOR_START_DB  # of the recent notes, falling slowly
        self._recent: list[float] = []

    def push(self, level_db: float, resting: bool) -> None:
        """`resting` while no note sounds and none is awaited: then the floor may rise to what is heard."""
        self._recent = [*self._recent[1 - RECENT :], level_db]
        if DIGITAL_SILENCE_DB < level_db < self.floor_db:
            self.floor_db += 0.3 * (level_db - self.floor_db)
        elif resting:
            self.floor_db = min(self.floor_db + FLOOR_RISE_DB_S * HOP / RATE, FLOOR_MOST_DB)
        self.loud_db = max(self.loud_db - NOTES_FALL_DB_S * HOP / RATE, FLOOR_START_DB)

    def meet(self, peak_db: float) -> None:
        """A note of this level was opened."""
        self.loud_db = max(self.loud_db, peak_db)

    def audible(self, level_db: float) -> bool:
        return level_db > max(QUIETEST_DB, self.floor_db + ABOVE_FLOOR_DB, self.loud_db - UNDER_NOTES_DB)

    def rise_db(self) -> float:
        """By how much the level rose within the last moment; 0 until there was one."""
        return self._recent[-1] - min(self._recent) if len(self._recent) == RECENT else 0.0
