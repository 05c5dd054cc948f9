"""An archive that somebody made to do harm: refused with its reason, and nothing is touched."""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from loomwright.errors import UsageError
from loomwright.jobs.backup import make_backup, restore_backup
from loomwright.jobs.database import FILE, open_database
from loomwright.jobs.records import Complaint, NewJob, Vehicle
from loomwright.jobs.schema_check import foreign_object
from loomwright.jobs.store import JobStore
from tests.jobs.old_store import store_at

Manifest = dict[str, Any]


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    (tmp_path / "data").mkdir()
    store = JobStore(tmp_path / "data")
    store.add_job(NewJob("Skerry Point", Vehicle("Truck 7"), "lamp", Complaint("dark"),
                         "loomwright: 1\ntitle: Lamp\n"), "job-key-1")
    store.close()
    return make_backup(tmp_path / "data", tmp_path / "kept.zip").path


def rebuilt(kept: Path, store: bytes | None = None, extra: dict[str, bytes] | None = None,
            change: Callable[[Manifest], None] = lambda _: None) -> Path:
    """Write an archive whose list of files and hashes are right, whatever is in it."""
    with zipfile.ZipFile(kept) as archive:
        members = {FILE: archive.read(FILE) if store is None else store, **(extra or {})}
    manifest: Manifest = {"loomwright_backup": 1, "made_at": "", "files": [
        {"name": name, "sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}
        for name, data in members.items()]}
    change(manifest)
    other = kept.with_name("other.zip")
    with zipfile.ZipFile(other, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("manifest.json", json.dumps(manifest))
        for name, data in members.items():
            archive.writestr(name, data)
    return other


def store_after(kept: Path, script: str) -> bytes:
    """Return the store of a backup after somebody's SQL."""
    file = kept.with_name("hostile.sqlite")
    with zipfile.ZipFile(kept) as archive:
        file.write_bytes(archive.read(FILE))
    with contextlib.closing(sqlite3.connect(file)) as opened:
        opened.executescript(script)
    return file.read_bytes()


@pytest.mark.parametrize("script", [
    "CREATE TRIGGER quiet AFTER UPDATE ON sessions BEGIN INSERT INTO people (name_key, name) "
    "VALUES ('x', 'x'); END",
    "CREATE TRIGGER change AFTER INSERT ON events BEGIN DELETE FROM circuits; END",
    "CREATE VIEW more AS SELECT * FROM jobs",
    "PRAGMA foreign_keys=OFF; DROP TABLE jobs; CREATE VIEW jobs AS WITH RECURSIVE n(id) AS "
    "(SELECT 1 UNION ALL SELECT id + 1 FROM n) SELECT id FROM n",
    "CREATE TABLE other (x)",
    "CREATE VIRTUAL TABLE found USING fts5(text)",
    "DROP TABLE practice; CREATE TABLE practice (x, y GENERATED ALWAYS AS (hex(zeroblob(1e9))))",
    "CREATE INDEX slow ON jobs (hex(zeroblob(length(key) * 1000)))",
    "DROP TRIGGER access_log_refuse_update; CREATE TRIGGER access_log_refuse_update BEFORE UPDATE "
    "ON access_log BEGIN SELECT 1; END",
])
def test_a_store_with_what_is_not_ours_is_refused_at_once(
    kept: Path, tmp_path: Path, script: str
) -> None:
    other = rebuilt(kept, store_after(kept, script))
    begin = time.monotonic()
    with pytest.raises(UsageError, match="which this program does not make"):
        restore_backup(other, tmp_path / "new")
    assert time.monotonic() - begin < 20  # s; one of them would count for ever
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("version", ["9999", "0000", "head", "", "0001; DROP"])
def test_a_store_of_a_version_that_there_is_not_is_refused(
    kept: Path, tmp_path: Path, version: str
) -> None:
    store = store_after(kept, f"UPDATE alembic_version SET version_num = '{version}'")
    with pytest.raises(UsageError, match="newer|no store of jobs"):
        restore_backup(rebuilt(kept, store), tmp_path / "new")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("name", ["jobs.sqlite-wal", "jobs.sqlite-journal", "jobs.sqlite-shm"])
def test_what_sqlite_would_play_into_the_store_is_refused(
    kept: Path, tmp_path: Path, name: str
) -> None:
    with pytest.raises(UsageError, match="no file that a backup holds"):
        restore_backup(rebuilt(kept, extra={name: b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" * 64}),
                       tmp_path / "new")


@pytest.mark.parametrize("size", [float("inf"), float("nan"), 10**30, "many", None, -1, [1]])
def test_sizes_that_are_none_are_refused(kept: Path, tmp_path: Path, size: Any) -> None:
    def change(manifest: Manifest) -> None:
        manifest["files"][0]["size"] = size

    with pytest.raises(UsageError, match="changed or damaged|needs"):
        restore_backup(rebuilt(kept, change=change), tmp_path / "new")


def test_a_bomb_is_written_no_further_than_it_said(kept: Path, tmp_path: Path) -> None:
    bomb = b"\0" * 200_000_000  # 200 kB in the archive

    def change(manifest: Manifest) -> None:
        manifest["files"][1]["size"] = 10

    with pytest.raises(UsageError, match="is not what was backed up"):
        restore_backup(rebuilt(kept, extra={"practice/a.jsonl": bomb}, change=change),
                       tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_a_link_in_an_archive_becomes_a_plain_file(kept: Path, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("secret", encoding="utf-8")
    target = str(tmp_path / "secret").encode()
    other = rebuilt(kept, extra={"practice/link": target})
    with zipfile.ZipFile(other) as archive:
        members = {one: archive.read(one) for one in archive.namelist()}
    with zipfile.ZipFile(other, "w") as archive:
        for name, data in members.items():
            info = zipfile.ZipInfo(name)
            info.external_attr = (0o120777 if name.endswith("link") else 0o100644) << 16
            archive.writestr(info, data)
    restore_backup(other, tmp_path / "new")
    restored = tmp_path / "new" / "practice" / "link"
    assert not restored.is_symlink()
    assert restored.read_bytes() == target


@pytest.mark.parametrize("revision", ["0001", "0002", "0003", "0004", "0005"])
def test_stores_of_every_version_are_ours(tmp_path: Path, revision: str) -> None:
    store_at(tmp_path, revision)
    assert foreign_object(tmp_path / FILE) == ""
    open_database(tmp_path).dispose()
    assert foreign_object(tmp_path / FILE) == ""
