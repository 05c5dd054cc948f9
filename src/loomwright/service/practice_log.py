"""Where practice is kept: the store of the data folder, which also takes in the file of before."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomwright.jobs.practice_log import PracticeLog, PracticeRow
from loomwright.practice import Entry, FileProgress

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["StoreProgress"]


class StoreProgress:
    """The record of practice in the store of a data folder; nothing in it is ever changed."""

    def __init__(self, folder: Path, file_folder: Path) -> None:
        """Keep the folder; a log file of an older version is taken in once, ids and all."""
        self._log = PracticeLog(folder)
        self._file = FileProgress(file_folder)
        self._taken_in = False

    def close(self) -> None:
        """Let go of the store."""
        self._log.close()

    def append(self, who: str, exercise: str, what: str, body: Mapping[str, Any], key: str
               ) -> Entry:
        """Add an entry; the same key again gives the entry that is there. Raises ConflictError."""
        self._take_in()
        return _entry(self._log.append((who, exercise, what), body, key))

    def entries(self, who: str | None = None, exercise: str | None = None) -> tuple[Entry, ...]:
        """Return the entries in order, of one person or exercise. Raises ConflictError."""
        self._take_in()
        return tuple(_entry(one) for one in self._log.rows(who, exercise))

    def _take_in(self) -> None:
        if self._taken_in:
            return
        rows = [PracticeRow(one.id, one.at, one.who, one.exercise, one.what, one.body, one.key,
                            before) for one, before in self._file.chain()]
        if rows:
            self._log.take_in(rows)
        self._taken_in = True


def _entry(row: PracticeRow) -> Entry:
    return Entry(row.id, row.at, row.who, row.exercise, row.what, row.body, row.key)
