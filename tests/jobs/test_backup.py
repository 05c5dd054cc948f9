"""A backup made while people write holds one moment, and comes back whole or not at all."""

from __future__ import annotations

import json
import os
import threading
import zipfile
from pathlib import Path

import pytest

from loomwright.errors import UsageError
from loomwright.jobs.backup import make_backup, restore_backup
from loomwright.jobs.records import Complaint, NewEvent, NewJob, Vehicle
from loomwright.jobs.store import JobStore

CIRCUIT = "loomwright: 1\ntitle: Lamp\n"


def reading(number: int) -> NewEvent:
    body = {"state": "on", "quantity": "voltage", "at": "H1.1", "value": f"{number} mV"}
    return NewEvent("reading", body, f"read-key-{number}", "Isla")


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    (folder / "practice").mkdir(parents=True)
    (folder / "practice" / "log.jsonl").write_bytes(b'{"who": 1}\n{"half": ')
    (folder / "demo").mkdir()
    (folder / "demo" / "jobs.sqlite").write_bytes(b"of the demonstration")
    store = JobStore(folder)
    store.add_job(NewJob("Skerry Point", Vehicle("Truck 7"), "lamp", Complaint("dark"), CIRCUIT),
                  "job-key-1")
    store.close()
    return folder


def test_a_backup_during_writes_holds_one_moment_of_the_store(data: Path, tmp_path: Path) -> None:
    store, stop = JobStore(data), threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            store.add_event(1, reading(number))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        while len(store.events(1)) < 5:
            pass
        kept = [make_backup(data, tmp_path / f"{count}.zip") for count in range(3)]
    finally:
        stop.set()
        writer.join()
    written = store.events(1)
    lengths = []
    for one in kept:
        folder = tmp_path / one.path.stem
        assert restore_backup(one.path, folder).jobs == 1
        found = JobStore(folder).events(1)
        assert found == written[: len(found)]
        lengths.append(len(found))
    assert 5 <= lengths[0] < lengths[2] <= len(written)


def test_a_backup_holds_whole_lines_and_nothing_of_the_demonstration(
    data: Path, tmp_path: Path
) -> None:
    kept = make_backup(data, data / "kept.zip")  # in the folder itself: not into itself
    make_backup(data, data / "kept.zip")
    assert kept.path.stat().st_mode & 0o077 == 0 or os.name == "nt"
    with zipfile.ZipFile(kept.path) as archive:
        assert sorted(archive.namelist()) == ["jobs.sqlite", "manifest.json", "practice/log.jsonl"]
        assert archive.read("practice/log.jsonl") == b'{"who": 1}\n'
    assert not list(data.glob("*.part"))


def test_a_folder_in_use_is_refused_or_set_aside_whole(data: Path, tmp_path: Path) -> None:
    kept = make_backup(data, tmp_path / "kept.zip")
    with pytest.raises(UsageError, match="not empty"):
        restore_backup(kept.path, data)
    JobStore(data).add_event(1, reading(1))
    found = restore_backup(kept.path, data, force=True)
    assert JobStore(data).events(1) == ()
    assert found.set_aside is not None
    assert len(JobStore(found.set_aside).events(1)) == 1


def rewritten(path: Path, change: dict[str, bytes], drop: str = "") -> Path:
    """Write the archive again with some members changed, added or left out."""
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist() if name != drop}
    other = path.with_name("other.zip")
    with zipfile.ZipFile(other, "w") as archive:
        for name, content in {**members, **change}.items():
            archive.writestr(name, content)
    return other


def renamed(path: Path, name: str) -> Path:
    """Write the archive again with the practice log under another name, list and all."""
    with zipfile.ZipFile(path) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        content = archive.read("practice/log.jsonl")
    next(one for one in manifest["files"] if one["name"].startswith("practice"))["name"] = name
    change = {"manifest.json": json.dumps(manifest).encode(), name: content}
    return rewritten(path, change, drop="practice/log.jsonl")


@pytest.mark.parametrize("name", [
    "../escaped", "/etc/escaped", "practice/../../escaped", "C:/escaped", "a\\..\\..\\escaped",
    "practice//escaped", "./escaped", "aux.txt", "escaped.", "practice/\nescaped", ".hidden",
    "trailing "])
def test_a_name_that_leads_elsewhere_is_refused(data: Path, tmp_path: Path, name: str) -> None:
    other = renamed(make_backup(data, tmp_path / "kept.zip").path, name)
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(UsageError, match="changed or damaged"):
        restore_backup(other, tmp_path / "new")
    assert sorted(tmp_path.rglob("*")) == before


def test_a_changed_archive_is_refused_and_touches_nothing(data: Path, tmp_path: Path) -> None:
    path = make_backup(data, tmp_path / "kept.zip").path
    with zipfile.ZipFile(path) as archive:
        store = archive.read("jobs.sqlite")
    cases = [
        rewritten(path, {"jobs.sqlite": store.replace(b"Skerry", b"Skarry")}),
        rewritten(path, {"jobs.sqlite": store + b"more"}),
        rewritten(path, {"extra.txt": b"one more"}),
        rewritten(path, {}, drop="practice/log.jsonl"),
    ]
    for other in cases:
        with pytest.raises(UsageError, match="changed or damaged"):
            restore_backup(other, data, force=True)
    assert JobStore(data).job(1).customer == "Skerry Point"
    assert not list(tmp_path.glob("*before*"))


@pytest.mark.parametrize("content", [b"", b"no archive at all", b"PK\x03\x04 cut off"])
def test_what_is_no_backup_is_said_to_be_none(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "file.zip"
    file.write_bytes(content)
    with pytest.raises(UsageError, match="no backup of Loomwright"):
        restore_backup(file, tmp_path / "new")
    with pytest.raises(UsageError, match="no file"):
        restore_backup(tmp_path / "missing.zip", tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_another_program_s_archive_and_another_format_are_refused(tmp_path: Path) -> None:
    file = tmp_path / "file.zip"
    for manifest, words in (("[]", "no backup"), ('{"files": []}', "no backup"),
                            ('{"loomwright_backup": 99}', "another version")):
        with zipfile.ZipFile(file, "w") as archive:
            archive.writestr("manifest.json", manifest)
        with pytest.raises(UsageError, match=words):
            restore_backup(file, tmp_path / "new")


def test_a_folder_without_jobs_has_nothing_to_back_up(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no jobs"):
        make_backup(tmp_path, tmp_path / "kept.zip")
    assert list(tmp_path.iterdir()) == []
