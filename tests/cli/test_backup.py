"""`backup` and `restore` as a user types them: the jobs come back with the same verdict."""

from __future__ import annotations

from pathlib import Path

from loomwright.service.jobs import Workshop
from tests.cli.running import run
from tests.service.depot_folder import TRUCK_7, depot_in


def test_a_restored_depot_gives_the_same_verdicts_byte_for_byte(tmp_path: Path) -> None:
    data, file, back = depot_in(tmp_path / "data"), tmp_path / "kept.zip", tmp_path / "back"
    said = run("backup", file, "--data", data, "--json")
    assert (said.code, said.json["jobs"]) == (0, 3)
    assert run("restore", file, "--data", back).out.startswith("Restored 3 jobs")
    first, again = Workshop(data), Workshop(back)
    assert again.store.all_events() == first.store.all_events()
    assert again.store.jobs() == first.store.jobs()
    assert again.verdict_text(TRUCK_7).encode() == first.verdict_text(TRUCK_7).encode()


def test_a_second_restore_needs_force_and_keeps_what_was_there(tmp_path: Path) -> None:
    data, file = depot_in(tmp_path / "data"), tmp_path / "kept.zip"
    run("backup", file, "--data", data)
    said = run("restore", file, "--data", data, "--json")
    assert (said.code, said.json["error"]["code"]) == (2, "usage")
    forced = run("restore", file, "--data", data, "--force", "--json")
    assert (Path(forced.json["set_aside"]) / "jobs.sqlite").exists()


def test_no_jobs_and_no_backup_are_bad_input(tmp_path: Path) -> None:
    assert run("backup", tmp_path / "kept.zip", "--data", tmp_path).code == 2
    assert run("restore", tmp_path / "kept.zip", "--data", tmp_path / "new").code == 2
