"""The record of practice: appended line by line, each line named by its own content."""

from __future__ import annotations

import hashlib
import json
import os
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

from loomwright.errors import ConflictError

__all__ = ["Entry", "FileProgress", "ProgressLog"]

FILE = "log.jsonl"


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened. `what`: start, reading or end; `key` names one submission."""

    id: str
    at: str
    who: str
    exercise: str
    what: str
    body: Mapping[str, Any]
    key: str


class ProgressLog(Protocol):
    """Where practice is kept; nothing is ever changed or removed in it."""

    def append(self, who: str, exercise: str, what: str, body: Mapping[str, Any], key: str
               ) -> Entry:
        """Add an entry; the same key again gives the entry that is there."""

    def entries(self, who: str | None = None, exercise: str | None = None) -> tuple[Entry, ...]:
        """Return the entries in order, of one person or exercise where named."""


class FileProgress:
    """A log in one file of JSON lines. Each line carries the digest of itself and of the line
    before it, so that a line changed or cut out shows.
    """

    def __init__(self, folder: Path) -> None:
        """Keep the folder; it is made with the first entry."""
        self._path = folder / FILE
        self._lock = threading.Lock()

    def append(self, who: str, exercise: str, what: str, body: Mapping[str, Any], key: str
               ) -> Entry:
        """Add an entry; the same key again gives the entry that is there.

        Raises
            ConflictError: the file was changed by hand
        """
        with self._lock:
            known = [one for one, _ in self.chain()]
            for entry in known:
                if key and entry.key == key:
                    return entry
            at = datetime.now(UTC).isoformat(timespec="seconds")
            row = {"at": at, "who": who, "exercise": exercise, "what": what, "body": dict(body),
                   "key": key, "before": known[-1].id if known else ""}
            name = _digest(row)
            line = json.dumps({"id": name, **row}, ensure_ascii=False) + "\n"
            self._path.parent.mkdir(parents=True, exist_ok=True)
            with self._path.open("a", encoding="utf-8") as file:
                file.write("\n" + line if self._cut_off() else line)
                file.flush()
                os.fsync(file.fileno())
            return Entry(name, at, who, exercise, what, dict(body), key)

    def entries(self, who: str | None = None, exercise: str | None = None) -> tuple[Entry, ...]:
        """Return the entries in order, of one person or exercise where named.

        Raises
            ConflictError: the file was changed by hand
        """
        return tuple(one for one, _ in self.chain()
                     if who in (None, one.who) and exercise in (None, one.exercise))

    def _cut_off(self) -> bool:
        """Return whether the file's last line has no end."""
        text = self._path.read_bytes()
        return bool(text) and not text.endswith(b"\n")

    def chain(self) -> list[tuple[Entry, str]]:
        """Return the entries, each with the id of the one it names before it.

        Raises
            ConflictError: the file was changed by hand
        """
        if not self._path.exists():
            return []
        found: list[tuple[Entry, str]] = []
        known = {""}  # two programs may append at once: both name the same line before them
        text = self._path.read_text(encoding="utf-8")
        for number, line in enumerate(text.splitlines(), 1):
            row = _row(line)
            if row is None:
                continue  # cut off by a power cut; if it had counted, the next line would name it
            name = row.pop("id", "")
            if name != _digest(row) or row["before"] not in known:
                raise ConflictError(f"Line {number} of {self._path} was changed.",
                                    next_step="Bring it back from a backup.")
            known.add(name)
            entry = Entry(name, row["at"], row["who"], row["exercise"], row["what"], row["body"],
                          row["key"])
            found.append((entry, row["before"]))
        return found


def _row(line: str) -> dict[str, Any] | None:
    try:
        row = json.loads(line)
    except json.JSONDecodeError:
        return None
    return row if isinstance(row, dict) else None


def _digest(row: Mapping[str, Any]) -> str:
    """Return the digest of an entry's content."""
    text = json.dumps(row, ensure_ascii=False, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()
