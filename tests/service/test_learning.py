"""Counting the closed jobs of a data folder, and what counts do to a circuit's priors."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest

from loomwright.circuit import faults_of, read_circuit
from loomwright.errors import FileProblemsError, UsageError
from loomwright.service.estimate import rate_per_min
from loomwright.service.learning import LearnQuestion, learn, read_counts, save_counts, sorts_of
from tests.service.depot_folder import depot_in

DEMO = str(files("loomwright.demo") / "tailgate_lock.yaml")
ENTRY = {"part_kind": "wire", "fault_kind": "open", "place": "tailgate", "vehicle_class": "24 V",
         "count": 12}


def counts_file(folder: Path, **changes: object) -> str:
    path = folder / "counts.json"
    path.write_text(json.dumps({"format": "loomwright counts", "version": 1,
                                "counts": [{**ENTRY, **changes}]}), encoding="utf-8")
    return str(path)


def test_every_fault_of_a_circuit_has_a_sort_without_names() -> None:
    circuit = read_circuit(Path(DEMO))
    sorts = sorts_of(circuit)
    assert set(sorts) == {fault.id for fault in faults_of(circuit)}
    assert {sort.place for sort in sorts.values()} == set(circuit.places)
    assert "wire" in {sort.part_kind for sort in sorts.values()}


def test_counts_move_the_shares_of_a_circuit(tmp_path: Path) -> None:
    name = counts_file(tmp_path)
    answer = learn(LearnQuestion((name, name), circuit=DEMO))
    assert answer.counts.total == 24
    assert answer.vehicle_class == "24 V"
    moved = [one for one in answer.shifts if one.own_jobs]
    assert [one.own_jobs for one in moved] == [24]
    assert moved[0].share_after > moved[0].share_before
    assert sum(one.share_after for one in answer.shifts) == pytest.approx(1.0)


def test_jobs_of_demonstration_vehicles_teach_nothing(tmp_path: Path) -> None:
    answer = learn(LearnQuestion(data=str(depot_in(tmp_path))))
    assert answer.counts.total == 0
    assert answer.jobs_counted == answer.jobs_left_out == 0


def test_a_proved_job_teaches_its_fault_and_nothing_of_its_owner(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The depot's finished truck, taken for a real one: a high resistance of earth E2, proved."""
    import dataclasses

    from loomwright.jobs.store import JobStore

    demo = JobStore.jobs
    monkeypatch.setattr(JobStore, "jobs", lambda self: tuple(
        dataclasses.replace(job, demo="") for job in demo(self)))
    answer = learn(LearnQuestion(data=str(depot_in(tmp_path / "depot"))))
    assert answer.jobs_counted == 1
    lesson, count = answer.counts.rows[0]
    assert (lesson.sort.part_kind, lesson.sort.fault_kind, count) == ("earth", "high-resistance", 1)
    path = tmp_path / "out.json"
    save_counts(answer.counts, path)
    assert read_counts(path) == answer.counts
    assert "Skerry" not in path.read_text(encoding="utf-8")
    with pytest.raises(UsageError, match="is there already"):
        save_counts(answer.counts, path)


def test_what_cannot_be_learnt_from_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="nothing to learn from"):
        learn(LearnQuestion())
    with pytest.raises(UsageError, match="no data folder"):
        learn(LearnQuestion(data=str(tmp_path / "none")))
    with pytest.raises(UsageError, match="cannot be read"):
        learn(LearnQuestion((str(tmp_path / "none.json"),)))
    with pytest.raises(FileProblemsError, match="unknown key 'customer'"):
        learn(LearnQuestion((counts_file(tmp_path, customer="x"),)))


@pytest.mark.parametrize(("text", "rate"), [("90/h", 1.5), ("1.5/min", 1.5), ("60", 1.0),
                                            (" 120 / hour ", 2.0)])
def test_a_labour_rate_is_read(text: str, rate: float) -> None:
    assert rate_per_min(text) == pytest.approx(rate)


@pytest.mark.parametrize("text", ["", "free", "-3/h", "0/h", "90/day", "nan/h", "inf/h"])
def test_what_is_no_rate_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="no labour rate"):
        rate_per_min(text)
