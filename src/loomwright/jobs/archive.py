"""Reading an archive that somebody hands us: nothing in it is believed before it was checked."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loomwright.errors import UsageError
from loomwright.jobs.folder import private_opener

__all__ = ["FORMAT", "MANIFEST", "SKIPPED", "Member", "checked_members", "harmless", "unpack"]

FORMAT = 1
MANIFEST = "manifest.json"
STORE = "jobs.sqlite"
MAX_MANIFEST = 20_000_000  # bytes; some 100,000 files
BLOCK = 1 << 20
# What SQLite and a broken-off copy leave: SQLite would play one of them into the store.
SKIPPED = ("-wal", "-shm", "-journal", ".lock", ".part")
# Names that mean the same place on every platform: no root, no drive, no step upwards, no device.
PART = re.compile(r"\w[\w .,()+@=~\-]*")
DEVICE = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Member:
    """A file of an archive: its name inside, its SHA-256 and its bytes."""

    name: str
    sha256: str
    size: int


def checked_members(file: Path, room: int) -> tuple[Member, ...]:
    """Return what an archive says it holds, once that is ours, whole and harmless.

    Parameters
        file: the archive
        room: bytes that may be written at most
    Raises
        UsageError: no backup of this program, changed since, or with names that lead elsewhere
    """
    try:
        with zipfile.ZipFile(file) as archive:
            names = archive.namelist()
            manifest = _manifest(file, archive)
    except FileNotFoundError as error:
        raise UsageError(f"There is no file '{file}'.", next_step="Check its name.") from error
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError) as error:
        raise _foreign(file) from error
    members = _members(file, manifest)
    wanted = [MANIFEST, *(one.name for one in members)]
    if sorted(names) != sorted(wanted):
        odd = sorted({*names} ^ {*wanted}) or ["a name twice"]
        raise _changed(file, f"its list of files does not match what it holds ({odd[0]!r})")
    if STORE not in wanted:
        raise _changed(file, "it holds no store of jobs")
    total = sum(one.size for one in members)
    if total > room:
        raise UsageError(f"'{file}' needs {total / 1e6:.0f} MB; there is room for "
                         f"{room / 1e6:.0f} MB.", next_step="Make room, or restore elsewhere.")
    return members


def unpack(file: Path, members: tuple[Member, ...], folder: Path) -> None:
    """Write checked members into an empty folder, each compared with its hash as it is written.

    Raises UsageError where a file is not what the manifest says.
    """
    with zipfile.ZipFile(file) as archive:
        for one in members:
            target = folder / one.name
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            try:
                digest = _copy(archive, one, target)
            except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError) as error:
                raise _changed(file, f"'{one.name}' cannot be read") from error
            if digest != one.sha256:
                raise _changed(file, f"'{one.name}' is not what was backed up")


def _copy(archive: zipfile.ZipFile, one: Member, target: Path) -> str:
    """Write at most the bytes announced, and return their hash ('' where there are more)."""
    seen, left = hashlib.sha256(), one.size
    with archive.open(one.name) as source, open(
            target, "xb", opener=private_opener) as opened:
        while block := source.read(min(BLOCK, left + 1)):
            left -= len(block)
            if left < 0:
                return ""
            seen.update(block)
            opened.write(block)
    return seen.hexdigest()


def _manifest(file: Path, archive: zipfile.ZipFile) -> dict[str, Any]:
    try:
        with archive.open(MANIFEST) as opened:
            found = json.loads(opened.read(MAX_MANIFEST))
    except (KeyError, ValueError, RecursionError) as error:
        raise _foreign(file) from error
    version = found.get("loomwright_backup") if isinstance(found, dict) else None
    if not isinstance(version, int):
        raise _foreign(file)
    if version != FORMAT:
        raise UsageError(f"'{file}' was made by another version of Loomwright "
                         f"(backup {version}, this one reads {FORMAT}).",
                         next_step="Restore it with that version.")
    return dict(found)


def _members(file: Path, manifest: dict[str, Any]) -> tuple[Member, ...]:
    listed = manifest.get("files")
    try:
        members = tuple(Member(str(one["name"]), str(one["sha256"]), int(one["size"]))
                        for one in listed or ())
    except (TypeError, KeyError, ValueError, AttributeError, OverflowError) as error:
        raise _changed(file, "its list of files cannot be read") from error
    for one in members:
        if not harmless(one.name):
            raise _changed(file, f"'{one.name}' is no name of a file inside a data folder")
        if one.name.endswith(SKIPPED):
            raise _changed(file, f"'{one.name}' is no file that a backup holds")
        if one.size < 0:
            raise _changed(file, f"'{one.name}' has no size")
    return members


def harmless(name: str) -> bool:
    """Return whether a name leads to a file inside a folder, on every platform."""
    parts = name.split("/")
    return all(PART.fullmatch(part) and not DEVICE.fullmatch(part)
               and not part.endswith((" ", ".")) for part in parts)


def _foreign(file: Path) -> UsageError:
    return UsageError(f"'{file}' is no backup of Loomwright.",
                      next_step="Name a file written by 'loomwright backup'.")


def _changed(file: Path, what: str) -> UsageError:
    return UsageError(f"'{file}' was changed or damaged: {what}.",
                      next_step="Nothing was restored. Use another copy of this backup.")
