"""A data folder as one archive, made while the program is in use, and put back whole.

The archive is a ZIP file: `manifest.json` with the size and SHA-256 of every file, then the files.
Databases are copied through SQLite's own backup interface, so that the copy is one consistent
moment however many people write meanwhile. The hashes show damage and careless changes; they do
not say who made the archive.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from loomwright.errors import UsageError, system_words
from loomwright.jobs.access_store import AccessStore
from loomwright.jobs.archive import (
    FORMAT,
    MANIFEST,
    SKIPPED,
    Member,
    checked_members,
    harmless,
    unpack,
)
from loomwright.jobs.database import FILE, open_database
from loomwright.jobs.schema_check import foreign_object

__all__ = ["Kept", "make_backup", "restore_backup"]

DEMO = "demo"  # the demonstration depot's own folder stands inside the user's


@dataclass(frozen=True, slots=True)
class Kept:
    """What was backed up or put back: where, how many files and bytes, and what was set aside."""

    path: Path
    files: int
    size: int
    jobs: int
    set_aside: Path | None = None


def make_backup(folder: Path, file: Path) -> Kept:
    """Write the data folder into one archive and return what it holds.

    The archive appears under its name only when it is whole; readable by its owner alone.
    Raises UsageError where there is no store, or the archive cannot be written.
    """
    if not (folder / FILE).is_file():
        raise UsageError(f"There are no jobs in '{folder}'.",
                         next_step="Name the folder of the jobs with --data.")
    part = file.with_name(f"{file.name}.{os.getpid()}.part")
    try:
        with tempfile.TemporaryDirectory(prefix="loomwright-") as name:
            copy = Path(name)
            _copy_all(folder, copy, leave_out={file.resolve(), part.resolve()})
            jobs = _checked_jobs(copy / FILE)
            members = _pack(copy, part)
        part.replace(file)
    except (OSError, sqlite3.Error) as error:
        raise UsageError(f"The backup '{file}' cannot be written: {system_words(error)}.",
                         next_step="Choose another place, with enough room.") from error
    finally:
        part.unlink(missing_ok=True)
    return Kept(file, len(members), file.stat().st_size, jobs)


def restore_backup(file: Path, folder: Path, *, force: bool = False) -> Kept:
    """Put an archive's files into a data folder and return what was put there.

    Everything is checked beside the folder before anything in it is touched. A folder that is not
    empty is refused without `force`; with it, the old folder is renamed, never removed.
    Raises UsageError where the archive is not ours, is damaged, or the folder is not empty.
    """
    folder = folder.absolute()
    occupied = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    if occupied and not force:
        raise UsageError(f"'{folder}' is not empty.",
                         next_step="Name a new folder with --data, or add --force: the old "
                                   "folder is then renamed and kept.")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{folder.name}-", dir=folder.parent) as name:
            fresh = Path(name) / "data"
            fresh.mkdir(mode=0o700)
            members = checked_members(file, shutil.disk_usage(folder.parent).free)
            unpack(file, members, fresh)
            jobs = _usable(file, fresh)
            set_aside = _set_aside(folder) if occupied else None
            fresh.replace(folder)
    except OSError as error:
        raise UsageError(f"'{file}' cannot be restored to '{folder}': {system_words(error)}.",
                         next_step="Choose a folder that can be written to.") from error
    return Kept(folder, len(members), sum(one.size for one in members), jobs, set_aside)


def _files(folder: Path) -> Iterator[Path]:
    """Yield the files worth keeping, in order; links are not followed out of the folder.

    What the program itself writes always has a harmless name; a stray file may not.
    """
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        if inside.parts[0] == DEMO or path.name.endswith(SKIPPED):
            continue
        if not harmless(inside.as_posix()):
            continue
        if path.is_file() and not path.is_symlink():
            yield path


def _copy_all(folder: Path, copy: Path, leave_out: set[Path]) -> None:
    for path in _files(folder):
        if path.resolve() in leave_out:
            continue
        target = copy / path.relative_to(folder)
        target.parent.mkdir(parents=True, exist_ok=True)
        if path.suffix == ".sqlite":
            _copy_database(path, target)
        elif path.suffix == ".jsonl":  # a line may be half written at this moment
            whole = path.read_bytes()
            target.write_bytes(whole[: whole.rfind(b"\n") + 1])
        else:
            shutil.copyfile(path, target)


def _copy_database(path: Path, target: Path) -> None:
    """Copy a database in use; all pages in one step, so that writers cannot make it start anew."""
    with (contextlib.closing(sqlite3.connect(path, timeout=10)) as source,
          contextlib.closing(sqlite3.connect(target)) as copy):
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it


def _checked_jobs(path: Path) -> int:
    """Return the number of jobs in a copied store after checking its pages."""
    with contextlib.closing(sqlite3.connect(path)) as store:
        said = store.execute("PRAGMA integrity_check").fetchone()[0]
        if said != "ok":
            raise UsageError(f"The store of jobs is damaged: {said}.",
                             next_step="Restore an earlier backup.")
        return int(store.execute("SELECT count(*) FROM jobs").fetchone()[0])


def _pack(copy: Path, part: Path) -> tuple[Member, ...]:
    members = tuple(_member(copy, path) for path in _files(copy))
    manifest = {"loomwright_backup": FORMAT,
                "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
                "files": [asdict(one) for one in members]}
    with (os.fdopen(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as raw,
          zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as archive):
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1, ensure_ascii=False))
        for one in members:
            archive.write(copy / one.name, one.name)
    with part.open("rb") as written:
        os.fsync(written.fileno())
    return members


def _member(copy: Path, path: Path) -> Member:
    with path.open("rb") as opened:
        digest = hashlib.file_digest(opened, "sha256").hexdigest()
    return Member(path.relative_to(copy).as_posix(), digest, path.stat().st_size)


def _usable(file: Path, fresh: Path) -> int:
    """Return the number of jobs after opening the store as the program does, and migrating it.

    Sessions, pairings and tokens of the archive end: some may have been ended since it was made.
    """
    try:
        foreign = foreign_object(fresh / FILE)
        if foreign:
            raise UsageError(f"The store in '{file}' has a {foreign}, which this program does not "
                             "make.", next_step="Use another backup.")
        jobs = _checked_jobs(fresh / FILE)
    except sqlite3.Error as error:
        raise UsageError(f"The store in '{file}' cannot be read: {error}.",
                         next_step="Use another backup.") from error
    open_database(fresh).dispose()
    access = AccessStore(fresh)
    access.end_all("", "backup put back: sessions, pairings and tokens ended")
    access.close()
    return jobs


def _set_aside(folder: Path) -> Path:
    stamp = datetime.now().astimezone().strftime("%Y%m%d-%H%M%S")
    for count in range(1000):
        kept = folder.with_name(f"{folder.name}.before-{stamp}" + (f"-{count}" if count else ""))
        if not kept.exists():
            return folder.rename(kept)
    raise UsageError(f"'{folder}' cannot be set aside.", next_step="Move it away by hand.")
