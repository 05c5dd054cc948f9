"""A look while something is wiggled: kept with the job, shown in words, asked for by the page."""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.errors import UsageError
from loomwright.service.job_transfer import export_text, import_text
from loomwright.service.jobs import Workshop
from loomwright.service.records import ReadingForm
from tests.service.depot_folder import TRUCK_7, depot_in


def look(value: str, doing: str = "") -> ReadingForm:
    return ReadingForm("locking", "running", "Y1", doing, value=value, instrument="eye")


def test_a_wiggled_look_is_kept_and_told(tmp_path: Path) -> None:
    workshop = Workshop(depot_in(tmp_path / "one"))
    for number, form in enumerate((look("off"), look("on"), look("on"), look("off", "wiggle X1"))):
        workshop.add_reading(TRUCK_7, form, f"look-key-{number}")
    view = workshop.view(TRUCK_7)
    assert any(one.to == "wiggle X1" for one in workshop.opened(TRUCK_7)[1].readings)
    assert any(one.title.startswith("Wiggle X1: is Y1") for one in view.readings)
    other = Workshop(depot_in(tmp_path / "two"))
    there = import_text(other, export_text(workshop, TRUCK_7)).job
    assert other.verdict_text(there) == workshop.verdict_text(TRUCK_7)


def test_what_is_no_action_at_a_part_is_refused(tmp_path: Path) -> None:
    workshop = Workshop(depot_in(tmp_path))
    with pytest.raises(UsageError):
        workshop.add_reading(TRUCK_7, look("off", "load X1"), "look-key-9")
