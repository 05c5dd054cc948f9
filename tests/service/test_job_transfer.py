"""A job as one file: the same elsewhere, recognised again, refused with all its problems."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest

from loomwright.errors import ConflictError, FileProblemsError, NotFoundError, UsageError
from loomwright.jobs.job_file import job_file_text
from loomwright.service.job_transfer import export_text, import_text
from loomwright.service.jobs import Workshop
from loomwright.service.records import ReadingForm
from tests.cli.running import run
from tests.service.depot_folder import TRUCK_4, TRUCK_7, TRUCK_9, depot_in

VOLTS = ReadingForm("locking", "voltage", "S4.1", value="25.1")


@pytest.fixture
def depot(tmp_path: Path) -> Workshop:
    return Workshop(depot_in(tmp_path / "depot"))


@pytest.fixture
def other(tmp_path: Path) -> Workshop:
    (tmp_path / "other").mkdir()
    return Workshop(tmp_path / "other")


def forged(text: str, change: Any) -> str:
    """Return the file with a change and hashes that fit it again."""
    raw = json.loads(text)
    del raw["sha256"], raw["loomwright_job"]
    change(raw)
    return job_file_text(raw)


def test_an_imported_job_has_the_same_events_and_verdict(
    depot: Workshop, other: Workshop
) -> None:
    found = import_text(other, export_text(depot, TRUCK_7))
    assert (found.job, found.new, found.added) == (1, True, 2)
    assert other.store.events(1) == depot.store.events(TRUCK_7)
    here, there = other.store.job(1), depot.store.job(TRUCK_7)
    assert (here.created_at, here.by, here.vehicle) == (there.created_at, there.by, there.vehicle)
    assert other.verdict_text(1).encode() == depot.verdict_text(TRUCK_7).encode()


def test_the_same_job_counts_once_there_and_back(depot: Workshop, other: Workshop) -> None:
    text = export_text(depot, TRUCK_7)
    import_text(other, export_text(depot, TRUCK_9))
    first = import_text(other, text)
    assert (first.job, import_text(other, text).new) == (2, False)
    other.add_reading(2, VOLTS, "volts-key", "Una")
    back = import_text(depot, export_text(other, 2))
    assert (back.job, back.new, back.added) == (TRUCK_7, False, 1)
    assert depot.store.events(TRUCK_7)[-1].by == "Una"
    assert import_text(depot, text).added == 0  # the older file takes nothing back


def test_two_copies_that_went_different_ways_are_not_mixed(
    depot: Workshop, other: Workshop
) -> None:
    import_text(other, export_text(depot, TRUCK_7))
    depot.add_reading(TRUCK_7, VOLTS, "volts-key-1")
    other.add_reading(1, VOLTS, "volts-key-2")
    before = depot.store.events(TRUCK_7)
    with pytest.raises(ConflictError, match=f"as job {TRUCK_7} and went on differently"):
        import_text(depot, export_text(other, 1))
    assert depot.store.events(TRUCK_7) == before


def test_all_problems_of_form_come_together(depot: Workshop, other: Workshop) -> None:
    def change(raw: dict[str, Any]) -> None:
        raw["job"]["vehicle"] = " "
        raw["job"]["extra"] = 1
        raw["events"][0]["kind"] = "rumour"
        raw["events"][1]["number"] = "2"

    with pytest.raises(FileProblemsError) as caught:
        import_text(other, forged(export_text(depot, TRUCK_7), change))
    shown = " ".join(one.what for one in caught.value.problems)
    for place in ("job.vehicle", "job.extra", "events.0.kind", "events.1.number"):
        assert place in shown
    assert other.store.jobs() == ()


def test_all_problems_of_order_and_time_come_together(depot: Workshop, other: Workshop) -> None:
    def change(raw: dict[str, Any]) -> None:
        raw["job"]["created_at"] = "yesterday"
        raw["events"][1].update(number=7, key=raw["events"][0]["key"], at="2026-11-25T09:14:00")
        del raw["events"][0]["body"]["value"]
        raw["events"].append({**raw["events"][0], "number": 3, "key": "withdraw-1",
                              "kind": "withdraw", "body": {"number": "9"}})

    with pytest.raises(FileProblemsError) as caught:
        import_text(other, forged(export_text(depot, TRUCK_7), change))
    shown = " ".join(one.what for one in caught.value.problems)
    for place in ("job.created_at", "events.1.at", "events.1.number", "events.1.key",
                  "no 'value'", "events.2.body.number"):
        assert place in shown


def test_what_the_circuit_does_not_have_is_refused(depot: Workshop, other: Workshop) -> None:
    def change(raw: dict[str, Any]) -> None:
        raw["job"]["demo"] = "truck-99"
        raw["events"][0]["body"]["at"] = "S4.99"
        for one in raw["events"]:
            if one["kind"] == "repair":
                one["body"]["repair"] = "mend W999"

    with pytest.raises(FileProblemsError) as caught:
        import_text(other, forged(export_text(depot, TRUCK_4), change))
    shown = " ".join(one.what for one in caught.value.problems)
    assert all(word in shown for word in ("truck-99", "S4.99", "mend W999"))


@pytest.mark.parametrize("wrong", [{"money": "NaN"}, {"money": ""}, {"most": "-1"},
                                   {"minutes": "soon"}, {"tax_percent": "x"}])
def test_an_offer_without_amounts_is_refused_since_no_page_could_add_it_up(
        depot: Workshop, other: Workshop, wrong: dict[str, str]) -> None:
    def change(raw: dict[str, Any]) -> None:
        last = raw["events"][-1]
        body = {"form": "quote", "money": "5.00", "most": "", "minutes": "", "tax_percent": "20"}
        raw["events"].append(last | {"number": last["number"] + 1, "kind": "offer",
                                     "key": "offer-from-elsewhere", "body": body | wrong})

    with pytest.raises(FileProblemsError, match=next(iter(wrong))):
        import_text(other, forged(export_text(depot, TRUCK_4), change))


def test_half_a_character_is_no_job_file(depot: Workshop, other: Workshop) -> None:
    text = export_text(depot, TRUCK_7).replace('"customer": "', '"customer": "\\ud800', 1)
    with pytest.raises(UsageError, match="no job file"):
        import_text(other, text)


def test_a_changed_file_is_refused(depot: Workshop, other: Workshop) -> None:
    text = export_text(depot, TRUCK_7)
    with pytest.raises(FileProblemsError, match="not what was exported"):
        import_text(other, text.replace("Truck 7", "Truck 8"))
    for foreign in ("", "[]", "{}", "no json", "[" * 100_000, '{"loomwright_job": true}'):
        with pytest.raises(UsageError, match="no job file"):
            import_text(other, foreign)
    with pytest.raises(UsageError, match="form 2"):
        import_text(other, '{"loomwright_job": 2}')


def test_the_command_lists_and_searches_the_jobs(depot: Workshop, tmp_path: Path) -> None:
    data = ("--data", tmp_path / "depot")
    rows = run("job", "list", *data, "--json").json
    assert [one["id"] for one in rows] == [one.job.id for one in depot.job_lines()]
    assert [one["id"] for one in run("job", "list", "truck", "7", *data, "--json").json] == [
        TRUCK_7]
    assert "Truck 7" in run("job", "list", *data).out
    assert "No job has these words" in run("job", "list", "zeppelin", *data).out


def test_the_commands_move_a_job(depot: Workshop, tmp_path: Path) -> None:
    file, there = tmp_path / "job.json", tmp_path / "there"
    assert run("job", "export", TRUCK_7, "-o", file, "--data", tmp_path / "depot").code == 0
    assert file.read_text(encoding="utf-8") == export_text(depot, TRUCK_7)
    again = ("job", "export", TRUCK_7, "-o", file, "--data", tmp_path / "depot")
    assert run(*again).code == 2  # nothing is replaced unasked
    assert run(*again, "--force").code == 0
    said = run("job", "import", file, "--data", there, "--json")
    assert said.json == {"job": 1, "new": True, "added": 2}
    assert "nothing new" in run("job", "import", file, "--data", there).out
    assert run("job", "export", 99, "--data", there).code == 2
    with pytest.raises(NotFoundError):
        export_text(depot, 99)


def test_a_file_with_many_huge_circuits_is_refused_before_they_are_solved(
    depot: Workshop, other: Workshop
) -> None:
    whole = json.loads(export_text(depot, TRUCK_7))
    big = "# " + "x" * 450_000
    circuits = [{"sha256": f"{n:064d}", "text": f"{big}{n}"} for n in range(6)]
    begin = time.process_time()
    with pytest.raises(FileProblemsError, match="2000000 is the most"):
        import_text(other, json.dumps({**whole, "circuits": circuits}))
    assert time.process_time() - begin < 10  # s; some 0.1 on a quiet machine
