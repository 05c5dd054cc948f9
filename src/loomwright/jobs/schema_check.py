"""What a store from elsewhere may consist of: tables, indexes and triggers of this program only.

SQLite runs a trigger or view of a file with whatever it does; in a store that somebody hands us
one could change what is written later, or make a plain count last for ever.
"""

from __future__ import annotations

import contextlib
import re
import sqlite3
from pathlib import Path
from tempfile import TemporaryDirectory

from loomwright.jobs.folder import STORE

__all__ = ["foreign_object"]

# Parts of a table that compute: this program's tables have none.
_COMPUTES = re.compile(r"\b(generated|check|collate)\b|\bas\s*\(|\bdefault\s*\(", re.IGNORECASE)
_TABLES = frozenset({"alembic_version", "sqlite_sequence"})
_Row = tuple[str, str, str | None]


def foreign_object(store: Path) -> str:
    """Return the first thing in a store that this program does not make, '' where there is none.

    Only the list of what the store consists of is read. Raises sqlite3.Error where it cannot be.
    """
    ours = _own_objects()
    for kind, name, text in _objects(store):
        if not _known(ours, kind, name, text):
            return f"{kind} {name[:60]!r}"
    return ""


def _known(ours: frozenset[_Row], kind: str, name: str, text: str | None) -> bool:
    if kind == "table":  # an older version's has fewer columns
        named = name in _TABLES or any(one[:2] == (kind, name) for one in ours)
        return named and re.match(r"CREATE TABLE\b", text or "") is not None \
            and not _COMPUTES.search(text or "")
    if kind == "index" and text is None:  # SQLite's own, of a key
        return True
    return (kind, name, text) in ours


def _own_objects() -> frozenset[_Row]:
    from loomwright.jobs.database import open_database

    with TemporaryDirectory(prefix="loomwright-") as folder:
        open_database(Path(folder)).dispose()
        return frozenset(_objects(Path(folder) / STORE))


def _objects(store: Path) -> list[_Row]:
    with contextlib.closing(sqlite3.connect(store)) as opened:
        rows = opened.execute("SELECT type, name, sql FROM sqlite_master").fetchall()
    return [(str(kind), str(name), None if text is None else " ".join(str(text).split()))
            for kind, name, text in rows]
