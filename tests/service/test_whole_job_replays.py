"""A job with everything in it replays to the same bytes: again, elsewhere, after a backup."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from loomwright.jobs.records import KINDS
from loomwright.service.job_transfer import export_text, import_text
from loomwright.service.jobs import Workshop
from loomwright.service.office_view import change_lines
from loomwright.service.safekeeping import backup, restore
from tests.cli.running import REPOSITORY, run
from tests.service.depot_folder import depot_in
from tests.service.whole_job import whole_job


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, int]]:
    """Return the data folder and the number of the whole job; tests only read it."""
    folder = depot_in(tmp_path_factory.mktemp("whole"))
    workshop = Workshop(folder)
    yield folder, whole_job(workshop)
    workshop.close()


def said(folder: Path, job: int) -> list[str]:
    """Return what the commands print of a job as JSON: its verdicts of now and of before."""
    last = Workshop(folder).opened(job)[1].last
    asked = [("verdict", job), ("csv", job), *(
        ("verdict", job, "--until", number) for number in range(0, last, 4))]
    answers = [run("job", *words, "--data", folder, "--json") for words in asked]
    assert [one.code for one in answers] == [0] * len(answers)
    return [one.out for one in answers]


def test_the_job_holds_every_kind_of_event(made: tuple[Path, int]) -> None:
    folder, job = made
    workshop = Workshop(folder)
    assert {one.kind for one in workshop.store.events(job)} == set(KINDS)
    assert workshop.opened(job)[1].state == "handed over"
    lines = change_lines(workshop, job)
    assert all(one.at and one.by for one in lines)  # everything has its when and who
    assert len(lines) == len(workshop.store.events(job)) + 1


def test_nothing_can_be_overwritten_in_the_store_itself(made: tuple[Path, int]) -> None:
    import sqlite3

    with sqlite3.connect(made[0] / "jobs.sqlite") as raw:
        for order in ("UPDATE events SET body = '{}'", "DELETE FROM events",
                      "UPDATE jobs SET customer = ''", "DELETE FROM jobs",
                      "UPDATE circuits SET text = ''", "DELETE FROM circuits"):
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                raw.execute(order)
    raw.close()


def test_the_same_job_says_the_same_bytes_again(made: tuple[Path, int]) -> None:
    folder, job = made
    first, second = said(folder, job), said(folder, job)
    assert first == second
    assert len(set(first)) > 5  # verdicts of before differ from one another


def test_another_process_says_the_same_bytes(made: tuple[Path, int]) -> None:
    folder, job = made
    words = [sys.executable, "-m", "loomwright.cli", "job", "verdict", str(job), "--data",
             str(folder), "--json"]
    found = {subprocess.run(words, capture_output=True, check=True, timeout=120, env={
        **os.environ, "PYTHONPATH": str(REPOSITORY / "src"), "PYTHONHASHSEED": seed}).stdout
        for seed in ("1", "2")}
    assert found == {run("job", "verdict", job, "--data", folder, "--json").out.encode()}


def test_a_restored_backup_says_the_same_bytes(made: tuple[Path, int], tmp_path: Path) -> None:
    folder, job = made
    backup(tmp_path / "jobs.zip", folder)
    restore(tmp_path / "jobs.zip", tmp_path / "there")
    assert said(tmp_path / "there", job) == said(folder, job)
    assert export_text(Workshop(tmp_path / "there"), job) == export_text(Workshop(folder), job)


def test_an_imported_job_says_the_same_bytes(made: tuple[Path, int], tmp_path: Path) -> None:
    folder, job = made
    (tmp_path / "there").mkdir()
    here, there = Workshop(folder), Workshop(tmp_path / "there")
    number = import_text(there, export_text(here, job)).job
    verdicts = [one for one in said(folder, job) if '"suspects"' in one]
    assert [one for one in said(tmp_path / "there", number) if '"suspects"' in one] == verdicts
    events = [workshop.store.events(name) for workshop, name in ((here, job), (there, number))]
    assert events[0] == events[1]
    files = [json.loads(export_text(workshop, name)) for workshop, name in (
        (here, job), (there, number))]
    for one in files:  # only the number, and with it the hash of the whole, is the store's own
        del one["job"]["number"], one["job"]["key"], one["sha256"]
    assert files[0] == files[1]
