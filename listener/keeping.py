"""Keeping the take while one plays: what the disk refuses ends the keeping, never the playing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from listener.document import Shown, graded_note
from listener.errors import StorageError
from listener.events import Block
from listener.hearing import Hearing
from listener.take import TakeWriter


@dataclass(slots=True)
class Keeper:
    """Writes sound and final notes of a sitting into the take that `make` opens; None where none is wanted.

    A fault of the disk is kept in `fault` and told once through `say`; later calls do nothing.
    """

    make: Callable[[], TakeWriter] | None
    say: Callable[[str], None]
    fault: StorageError | None = None
    take: TakeWriter | None = None
    _told: int = 0

    @property
    def folder(self) -> Path | None:
        return None if self.take is None else self.take.folder

    def open(self, description: Mapping[str, Any]) -> None:
        """Make the take and write down how it is played."""
        if self.make is not None:
            make = self.make
            self._try(lambda: self._open(make, description))

    def write(self, block: Block, hearing: Hearing) -> None:
        """Keep a block, and the notes that have become final."""
        if self.take is not None:
            take = self.take
            self._try(lambda: take.write(block))
            self.write_notes(hearing)

    def write_notes(self, hearing: Hearing) -> None:
        """Keep the notes that have become final since the last call."""
        if self.take is not None:
            take = self.take
            self._try(lambda: self._append(take, hearing))

    def close(self) -> None:
        """Finish the take."""
        if self.take is not None:
            take = self.take
            self._try(lambda: take.close(), even_after_a_fault=True)

    def _open(self, make: Callable[[], TakeWriter], description: Mapping[str, Any]) -> None:
        self.take = make()
        self.take.describe(description)

    def _append(self, take: TakeWriter, hearing: Hearing) -> None:
        for graded in hearing.finals[self._told :]:
            self._told += 1
            key = graded.note.id
            shown = Shown(hearing.first_shown.get(key), hearing.final_at.get(key))
            take.append(graded_note(graded, shown, hearing.rate))

    def _try(self, step: Callable[[], object], even_after_a_fault: bool = False) -> None:
        if self.fault is not None and not even_after_a_fault:
            return
        try:
            step()
        except StorageError as fault:
            if self.fault is None:
                self.fault = fault
                self.say(str(fault))
