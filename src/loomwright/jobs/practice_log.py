"""The log of practice in the store: rows that are only added, each named by its own content."""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomwright.errors import ConflictError
from loomwright.jobs.database import begin_writing
from loomwright.jobs.schema import practice

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection, Engine

__all__ = ["PracticeLog", "PracticeRow"]


@dataclass(frozen=True, slots=True)
class PracticeRow:
    """One row: what happened, the key of its submission, and the id of the row before it."""

    id: str
    at: str
    who: str
    exercise: str
    what: str
    body: Mapping[str, Any]
    key: str
    before: str


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


class PracticeLog:
    """The rows of one data folder. Each carries the digest of itself and of the row before it, so
    that a row changed behind the program's back shows.
    """

    def __init__(self, folder: Path, clock: Callable[[], str] = _now) -> None:
        """Keep the folder; its store is opened with the first row, or when there is one."""
        self._folder, self._clock = folder, clock
        self._engine: Engine | None = None
        self._lock = threading.Lock()

    def close(self) -> None:
        """Let go of the file."""
        if self._engine is not None:
            self._engine.dispose()

    def append(self, row: tuple[str, str, str], body: Mapping[str, Any], key: str) -> PracticeRow:
        """Add a row of (who, exercise, what); the same key again gives the row that is there.

        Raises
            ConflictError: another program keeps the store locked
        """
        who, exercise, what = row
        with self._opened().connect() as connection:
            begin_writing(connection)
            known = key and connection.execute(
                practice.select().where(practice.c.key == key)).mappings().first()
            if known:
                connection.rollback()
                return _row(known)
            before = connection.execute(
                practice.select().order_by(practice.c.number.desc()).limit(1)).mappings().first()
            added = PracticeRow("", self._clock(), who, exercise, what, dict(body), key,
                                before["id"] if before else "")
            added = replace(added, id=_digest(_named(added)))
            _insert(connection, added)
            connection.commit()
            return added

    def take_in(self, rows: Iterable[PracticeRow]) -> int:
        """Add rows as they stand, ids and times too, and return how many were not there yet."""
        count = 0
        with self._opened().connect() as connection:
            begin_writing(connection)
            known = set(connection.execute(practice.select().with_only_columns(practice.c.id))
                        .scalars())
            for row in rows:
                if row.id not in known:
                    _insert(connection, row)
                    known.add(row.id)
                    count += 1
            connection.commit()
        return count

    def rows(self, who: str | None = None, exercise: str | None = None) -> tuple[PracticeRow, ...]:
        """Return the rows in order, of one person or exercise where named.

        Raises
            ConflictError: a row was changed, or one is missing, behind the program's back
        """
        from loomwright.jobs.database import FILE

        if self._engine is None and not (self._folder / FILE).is_file():
            return ()
        wanted = practice.select().order_by(practice.c.number)
        for column, value in ((practice.c.who, who), (practice.c.exercise, exercise)):
            if value is not None:
                wanted = wanted.where(column == value)
        with self._opened().connect() as connection:
            found = [_row(one) for one in connection.execute(wanted).mappings()]
        known = {""}
        for row in found:
            broken = (who, exercise) == (None, None) and row.before not in known
            if row.id != _digest(_named(row)) or broken:
                raise ConflictError(f"The practice of {row.who} at {row.at} was changed.",
                                    next_step="Bring it back from a backup.")
            known.add(row.id)
        return tuple(found)

    def _opened(self) -> Engine:
        from loomwright.jobs.database import open_database

        with self._lock:
            if self._engine is None:
                self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
                self._engine = open_database(self._folder)
            return self._engine


def _insert(connection: Connection, row: PracticeRow) -> None:
    body = json.dumps(dict(row.body), ensure_ascii=False, sort_keys=True)
    connection.execute(practice.insert().values(**{**_named(row), "id": row.id, "body": body}))


def _row(row: Any) -> PracticeRow:
    return PracticeRow(row["id"], row["at"], row["who"], row["exercise"], row["what"],
                       json.loads(row["body"]), row["key"], row["before"])


def _named(row: PracticeRow) -> dict[str, Any]:
    """Return what a row's id is made of."""
    return {"at": row.at, "who": row.who, "exercise": row.exercise, "what": row.what,
            "body": dict(row.body), "key": row.key, "before": row.before}


def _digest(named: Mapping[str, Any]) -> str:
    text = json.dumps(named, ensure_ascii=False, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()
