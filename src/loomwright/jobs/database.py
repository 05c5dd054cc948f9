"""The store's database file: opened, set and migrated."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.folder import STORE, private_opener, tighten
from loomwright.jobs.schema import HEAD

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection, Engine

__all__ = ["begin_writing", "open_database"]

FILE = STORE
_VERSIONS = frozenset(f"{number:04d}" for number in range(1, int(HEAD) + 1))
BUSY_S = 10.0  # how long one writer waits for another


def open_database(folder: Path) -> Engine:
    """Return the database of a data folder, made or migrated where that is needed.

    Write-ahead log; each commit reaches the disk before it is acknowledged (synchronous FULL).
    The file is its owner's alone, and so are those that SQLite makes beside it.
    Raises UsageError where the file is no database or newer than this program.
    """
    from sqlalchemy import create_engine, event
    from sqlalchemy.exc import DatabaseError

    _own(folder / FILE)
    engine = create_engine(f"sqlite:///{folder / FILE}", connect_args={"timeout": BUSY_S})
    event.listen(engine, "connect", _set)
    try:
        with engine.connect() as connection:
            version = _version(connection)
        if version is not None and version > HEAD:
            raise UsageError(
                f"The jobs in '{folder}' were written by a newer Loomwright (store {version}).",
                next_step="Use that version, or another folder with --data.")
        if version is not None and version not in _VERSIONS:
            raise UsageError(f"'{folder / FILE}' is no store of jobs that this program made.",
                             next_step="Restore a backup, or name another folder with --data.")
        if version != HEAD:
            _migrate(engine)
    except DatabaseError as error:
        raise UsageError(f"'{folder / FILE}' cannot be read as a store of jobs.",
                         next_step="Restore a backup, or name another folder with --data."
                         ) from error
    return engine


def _own(file: Path) -> None:
    """Make a store's file before SQLite does, for its owner alone; tighten one that is there."""
    with contextlib.suppress(OSError):  # what cannot be opened is told when SQLite tries
        os.close(private_opener(str(file), os.O_CREAT | os.O_RDWR))
    for name in (FILE, f"{FILE}-wal", f"{FILE}-shm", "photos"):
        tighten(file.with_name(name))


def begin_writing(connection: Connection) -> None:
    """Take the write lock first, so that two writers queue and never collide.

    Raises ConflictError when another program keeps the file locked for too long.
    """
    from sqlalchemy.exc import OperationalError

    try:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    except OperationalError as error:
        if "locked" not in str(error.orig):
            raise
        raise ConflictError(
            "Another program keeps the jobs locked; nothing was saved.",
            next_step="Send it again. If that does not help, stop the other program.",
        ) from error


def _set(connection: sqlite3.Connection, _record: object) -> None:
    for line in ("trusted_schema=OFF", "journal_mode=WAL", "synchronous=FULL",
                 "foreign_keys=ON"):
        connection.execute(f"PRAGMA {line}")


def _version(connection: Connection) -> str | None:
    from sqlalchemy import inspect, text

    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def _migrate(engine: Engine) -> None:
    from alembic import command
    from alembic.config import Config

    from loomwright.jobs.index import rebuild_index

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.set_main_option("path_separator", "os")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        rebuild_index(connection)
