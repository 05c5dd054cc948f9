"""The store only ever adds: keys count once, nothing is changed, a killed writer harms nothing."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from loomwright.errors import ConflictError, NotFoundError, UsageError
from loomwright.jobs import store as stores
from loomwright.jobs.history import replay
from loomwright.jobs.records import Complaint, Job, NewEvent, NewJob, Vehicle
from loomwright.jobs.store import JobStore, circuit_hash

CIRCUIT = "loomwright: 1\ntitle: Lamp\n"


def new_job(text: str = CIRCUIT) -> NewJob:
    return NewJob("Skerry Point", Vehicle("Truck 7", "SP 07"), "tailgate lock",
                  Complaint("stays open", "always"), text, by="Isla")


def reading(value: str, key: str) -> NewEvent:
    return NewEvent("reading", {"state": "locking", "quantity": "voltage", "at": "Y1.1",
                                "to": "", "value": value, "instrument": "meter"}, key, "Isla")


@pytest.fixture
def store(tmp_path: Path) -> JobStore:
    return JobStore(tmp_path)


@pytest.fixture
def job(store: JobStore) -> Job:
    return store.add_job(new_job(), "job-key-1")


def test_a_job_comes_back_as_it_was_given(store: JobStore, job: Job) -> None:
    assert store.job(job.id) == job
    assert job.circuit == circuit_hash(CIRCUIT)
    assert store.circuit_text(job.circuit) == CIRCUIT


def test_two_jobs_share_one_circuit_text(store: JobStore, job: Job, tmp_path: Path) -> None:
    other = store.add_job(new_job(), "job-key-2")
    assert other.id != job.id
    with sqlite3.connect(tmp_path / "jobs.sqlite") as raw:
        assert raw.execute("SELECT count(*) FROM circuits").fetchone() == (1,)
    raw.close()


def test_a_key_sent_again_with_another_job_is_refused(store: JobStore, job: Job) -> None:
    with pytest.raises(ConflictError, match=f"job {job.id}"):
        store.add_job(new_job(CIRCUIT + "# another\n"), "job-key-1")
    assert len(store.jobs()) == 1


def test_the_same_key_twice_is_one_job_and_one_reading(store: JobStore, job: Job) -> None:
    assert store.add_job(new_job(), "job-key-1") == job
    first = store.add_event(job.id, reading("0.1 V", "read-key-1"))
    again = store.add_event(job.id, reading("0.1 V", "read-key-1"))
    assert again == first
    assert len(store.events(job.id)) == 1


def test_a_key_used_for_another_value_is_refused(store: JobStore, job: Job) -> None:
    store.add_event(job.id, reading("0.1 V", "read-key-1"))
    with pytest.raises(ConflictError, match="already sent"):
        store.add_event(job.id, reading("24 V", "read-key-1"))
    with pytest.raises(UsageError, match="8 to 80"):
        store.add_event(job.id, reading("24 V", "short"))


@pytest.mark.parametrize("table", ["events", "jobs", "circuits"])
@pytest.mark.parametrize("statement", ["UPDATE {} SET {} = 'x'", "DELETE FROM {} WHERE {} <> ''"])
def test_the_database_itself_refuses_change(
    store: JobStore, job: Job, tmp_path: Path, table: str, statement: str
) -> None:
    store.add_event(job.id, reading("0.1 V", "read-key-1"))
    column = {"events": "body", "jobs": "complaint", "circuits": "text"}[table]
    raw = sqlite3.connect(tmp_path / "jobs.sqlite")
    with pytest.raises(sqlite3.IntegrityError, match="never changed or removed"):
        raw.execute(statement.format(table, column))
    raw.close()


def test_undo_is_one_more_event(store: JobStore, job: Job) -> None:
    first = store.add_event(job.id, reading("0.1 V", "read-key-1"))
    store.add_event(job.id, NewEvent("withdraw", {"number": str(first.number)}, "undo-key-1"))
    history = replay(store.events(job.id))
    assert history.readings == ()
    assert [one.value for one in history.withdrawn] == ["0.1 V"]
    assert len(store.events(job.id)) == 2


def test_a_stale_page_is_told(store: JobStore, job: Job) -> None:
    store.add_event(job.id, reading("0.1 V", "read-key-1"))
    with pytest.raises(ConflictError, match="Somebody added"):
        store.add_event(job.id, NewEvent("finish", {}, "finish-key"), expected_last=0)
    assert store.add_event(job.id, NewEvent("finish", {}, "finish-key"), 1).number == 2


def test_an_unknown_job_is_not_found(store: JobStore) -> None:
    with pytest.raises(NotFoundError):
        store.job(99)
    with pytest.raises(NotFoundError):
        store.add_event(99, reading("1 V", "read-key-1"))


def test_writers_at_the_same_time_all_get_their_number(store: JobStore, job: Job) -> None:
    def write(who: int) -> None:
        for count in range(5):
            store.add_event(job.id, reading(f"{count} V", f"writer-{who}-{count}"))

    threads = [threading.Thread(target=write, args=(who,)) for who in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [one.number for one in store.events(job.id)] == list(range(1, 21))


def test_a_folder_that_is_no_store_says_so(tmp_path: Path) -> None:
    (tmp_path / "jobs.sqlite").write_text("this is no database, only a note " * 40)
    with pytest.raises(UsageError, match="cannot be read as a store"):
        JobStore(tmp_path)


def test_a_newer_store_is_left_alone(store: JobStore, tmp_path: Path) -> None:
    store.close()
    with sqlite3.connect(tmp_path / "jobs.sqlite") as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()
    with pytest.raises(UsageError, match="newer Loomwright"):
        JobStore(tmp_path)


def test_a_file_that_stays_locked_is_a_conflict_and_saves_nothing(
    store: JobStore, job: Job, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("loomwright.jobs.database.BUSY_S", 0.1)
    impatient = JobStore(tmp_path)
    other = sqlite3.connect(tmp_path / "jobs.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(ConflictError, match="locked"):
        impatient.add_event(job.id, reading("24 V", "while-locked"))
    other.execute("ROLLBACK")
    other.close()
    assert impatient.events(job.id) == ()
    assert impatient.add_event(job.id, reading("24 V", "while-locked")).number == 1
    impatient.close()


WRITER = """
import sys
from pathlib import Path
from loomwright.jobs.store import JobStore
from loomwright.jobs.records import NewEvent
store = JobStore(Path(sys.argv[1]))
for count in range(100000):
    body = {"state": "a", "quantity": "voltage", "at": "P", "to": "", "value": "x" * 5000}
    store.add_event(1, NewEvent("reading", body, f"written-{count}"))
    sys.stdout.write(f"written-{count}\\n")
    sys.stdout.flush()
"""


def own_path() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}


def test_a_writer_killed_at_any_moment_loses_nothing_it_acknowledged(
    store: JobStore, job: Job, tmp_path: Path
) -> None:
    acknowledged: list[str] = []
    with subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path)], text=True,
                          stdout=subprocess.PIPE, env=own_path()) as process:
        assert process.stdout is not None
        acknowledged += [process.stdout.readline().strip() for _ in range(25)]
        process.send_signal(signal.SIGKILL)
        acknowledged += [line.strip() for line in process.stdout if line.endswith("\n")]
    store.close()
    again = JobStore(tmp_path)
    found = again.events(job.id)
    assert set(acknowledged) <= {one.key for one in found}
    assert [one.number for one in found] == list(range(1, len(found) + 1))
    assert len(found) <= len(acknowledged) + 1  # at most the one it could not acknowledge
    assert all(len(one.body["value"]) == 5000 for one in found)
    raw = sqlite3.connect(tmp_path / "jobs.sqlite")
    assert raw.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    raw.close()


def test_a_job_has_an_end(store: JobStore, job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stores, "MOST_EVENTS", 2)
    for number in range(2):
        store.add_event(job.id, reading("1 V", f"read-key-{number}"))
    with pytest.raises(ConflictError, match="2 entries; that is the most"):
        store.add_event(job.id, reading("1 V", "read-key-9"))
    assert store.add_event(job.id, reading("1 V", "read-key-1")).number == 2  # sent again
