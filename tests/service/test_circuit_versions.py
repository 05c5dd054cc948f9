"""A job's circuit is put right: the old version stays, and verdicts of before are replayed."""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.errors import ConflictError, FileProblemsError, UsageError
from loomwright.service.circuit_versions import change_circuit
from loomwright.service.job_transfer import export_text, import_text
from loomwright.service.jobs import Workshop
from loomwright.service.office_view import change_lines
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop(depot_in(tmp_path))


def longer(text: str) -> str:
    """Return the circuit with a wire that was measured to be longer."""
    was = "[W24, SP3,     E2,      2.5 mm2,  0.5 m, BN]"
    assert was in text
    return text.replace(was, "[W24, SP3,     E2,      2.5 mm2,  3 m, BN]")


def test_the_latest_version_counts_and_the_earlier_verdict_is_replayed(workshop: Workshop) -> None:
    first = workshop.circuit_text(TRUCK_7)
    before, last = workshop.verdict_text(TRUCK_7), workshop.opened(TRUCK_7)[1].last
    number = change_circuit(workshop, TRUCK_7, (longer(first), "measured"), "version-1", "Mairi")
    assert number == last + 1
    assert workshop.circuit_text(TRUCK_7) == longer(first)
    assert workshop.verdict_text(TRUCK_7) != before
    assert workshop.verdict_text(TRUCK_7, until=last) == before
    assert workshop.circuit_text(TRUCK_7, until=last) == first
    told = change_lines(workshop, TRUCK_7)[-1]
    assert (told.what, told.by, told.text) == ("Circuit changed", "Mairi", "measured")


def test_sent_twice_it_counts_once(workshop: Workshop) -> None:
    text = longer(workshop.circuit_text(TRUCK_7))
    numbers = {change_circuit(workshop, TRUCK_7, (text, ""), "version-1") for _ in range(2)}
    assert len(numbers) == 1


def test_a_version_that_loses_what_was_read_is_refused(workshop: Workshop) -> None:
    text = workshop.circuit_text(TRUCK_7)
    reading = workshop.view(TRUCK_7).readings[0]
    state = reading.state
    with pytest.raises(UsageError, match="does not fit this job"):
        change_circuit(workshop, TRUCK_7, (text.replace(state, "otherwise"), ""), "version-1")
    with pytest.raises(UsageError, match="same as before"):
        change_circuit(workshop, TRUCK_7, (text, ""), "version-1")
    with pytest.raises(FileProblemsError):
        change_circuit(workshop, TRUCK_7, (text.replace("kind: battery", "kind: brick", 1), ""),
                       "version-1")
    with pytest.raises(ConflictError):
        change_circuit(workshop, TRUCK_4, (longer(text), ""), "version-1")
    assert workshop.circuit_text(TRUCK_7) == text


def test_all_versions_travel_with_the_job(workshop: Workshop, tmp_path: Path) -> None:
    last, before = workshop.opened(TRUCK_7)[1].last, workshop.verdict_text(TRUCK_7)
    text = longer(workshop.circuit_text(TRUCK_7))
    change_circuit(workshop, TRUCK_7, (text, "measured"), "version-1")
    (tmp_path / "other").mkdir()
    other = Workshop(tmp_path / "other")
    there = import_text(other, export_text(workshop, TRUCK_7)).job
    assert other.circuit_text(there) == text
    assert other.verdict_text(there) == workshop.verdict_text(TRUCK_7)
    assert other.verdict_text(there, until=last) == before
