"""Searching: plate, part of a VIN, customer, words, fault found, part; quick with 10,000 jobs."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from loomwright.jobs.database import FILE
from loomwright.jobs.index import Wanted, rebuild_index
from loomwright.jobs.index import _title as index_title
from loomwright.jobs.records import Complaint, NewEvent, NewJob, Vehicle
from loomwright.jobs.store import JobStore
from tests.jobs.old_store import old_job, store_at

VIN = "1M8GDM9AXKP042788"
CIRCUIT = "loomwright: 1\ntitle: 'Tailgate: lock'\n"


@pytest.fixture
def store(tmp_path: Path) -> JobStore:
    found = JobStore(tmp_path)
    found.add_job(NewJob("Åse Møller", Vehicle("Truck 7", "SP-07 ABC", VIN), "lock",
                         Complaint("stays open", "after rain"), CIRCUIT), "job-key-1")
    found.add_job(NewJob("Skerry 100% Farm", Vehicle("Van 2", "SP 99"), "lamps",
                         Complaint("dim_lamps"), CIRCUIT), "job-key-2")
    found.add_event(1, NewEvent("repair", {"repair": "clean E2", "text": "Clean and refit earth E2",
                                           "found": "green crust"}, "repair-key"))
    found.add_event(1, NewEvent("part", {"what": "Ring terminal M8"}, "part-key-1"))
    found.add_event(2, NewEvent("card", {"phone": "0700 900 123", "plate": "SP 98"}, "card-key-1"))
    found.add_event(2, NewEvent("findings", {"cause": "corroded splice"}, "found-key"))
    return found


def numbers(store: JobStore, words: str) -> list[int]:
    return [one.job.id for one in store.find(Wanted(words))]


@pytest.mark.parametrize(("words", "found"), [
    ("sp07abc", [1]), ("SP-07", [1]), ("SP 07 abc", [1]), ("9AXKP04", [1]), ("møller", [1]),
    ("ASE", [1]), ("open rain", [1]), ("rain open", [1]), ("earth", [1]), ("crust", [1]),
    ("terminal m8", [1]), ("splice", [2]), ("0700900123", [2]), ("sp98", [2]), ("SP 99", [2]),
    ("100%", [2]), ("dim_lamps", [2]), ("dimXlamps", []), ("100x", []), ("sp", [2, 1]),
    ("", [2, 1]), ("   ", [2, 1]), ("nothing like it", []), ("%", [2]), ("' OR 1=1", [])])
def test_a_job_is_found_by_what_people_remember(
    store: JobStore, words: str, found: list[int]
) -> None:
    assert numbers(store, words) == found


def test_the_list_shows_the_card_as_it_stands(store: JobStore) -> None:
    line = store.find(Wanted("sp98"))[0]
    assert (line.job.vehicle.plate, line.job.contact.phone) == ("SP 98", "0700 900 123")
    assert (line.title, line.state, line.readings) == ("Tailgate: lock", "waiting", 0)
    assert [one.job.id for one in store.find(Wanted(closed=True))] == []
    assert len(store.find(Wanted(closed=False, most=1))) == 1


def test_the_index_made_anew_is_the_same(store: JobStore, tmp_path: Path) -> None:
    def rows() -> list[tuple[object, ...]]:
        with sqlite3.connect(tmp_path / FILE) as raw:
            found = raw.execute("SELECT * FROM job_index ORDER BY job").fetchall()
        raw.close()
        return found

    before = rows()
    with store._engine.begin() as connection:
        rebuild_index(connection)
    assert rows() == before
    assert len(before) == 2


@pytest.mark.parametrize("revision", ["0001", "0002"])
def test_jobs_of_an_older_store_are_in_the_list(tmp_path: Path, revision: str) -> None:
    old_job(store_at(tmp_path, revision), "Old tractor")
    store = JobStore(tmp_path)
    assert numbers(store, "tractor") == [1]
    store.close()


def test_ten_thousand_jobs_are_searched(tmp_path: Path) -> None:
    store = JobStore(tmp_path)
    store.close()
    raw = sqlite3.connect(tmp_path / FILE)
    raw.execute("INSERT INTO circuits VALUES ('00', ?)", [CIRCUIT])
    raw.executemany(
        "INSERT INTO jobs (key, customer, vehicle, plate, system, complaint, complaint_when,"
        " circuit, created_at, by, demo, vin) VALUES (?, ?, ?, ?, 'lamps', ?, '', '00',"
        " '2026-01-01T00:00:00+00:00', 'Isla', '', '')",
        [(f"job-key-{n}", f"Customer {n % 900}", f"Truck {n % 70}", f"SP {n:05d}",
          "left tail lamp stays dark after rain " * 4) for n in range(10_000)])
    raw.executemany(
        "INSERT INTO events VALUES "
        "(?, 1, 'repair', '2026-01-01T00:00:00+00:00', 'Isla', 'repair-k', ?)",
        [(n, '{"repair":"mend W2","text":"Mend wire W2","found":"chafed at the hinge"}')
         for n in range(1, 10_001)])
    raw.commit()
    raw.close()
    store = JobStore(tmp_path)
    with store._engine.begin() as connection:
        rebuild_index(connection)
    for words, count in [("SP 04321", 1), ("chafed rain", 200), ("zebra", 0), ("customer 17", 200)]:
        assert len(store.find(Wanted(words, most=200))) == count
    store.close()


def test_a_title_nested_without_end_is_no_title() -> None:
    assert index_title(f"title: {'[' * 5_000}") == ""
