"""What cannot be reached is not asked, a made-up reading changes nothing, tracks of a complaint."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from loomwright.errors import ConflictError, UnknownNameError, UsageError
from loomwright.jobs.history import replay
from loomwright.service import reasoning
from loomwright.service.job_transfer import export_text, import_text
from loomwright.service.jobs import Workshop
from loomwright.service.reach import cannot_reach, left_out, reach_again
from loomwright.service.records import Look, ReadingForm
from loomwright.service.what_if import what_if
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in

SHUT = ReadingForm("locking", "voltage", "S4.1")


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop(depot_in(tmp_path))


def next_form(workshop: Workshop) -> ReadingForm:
    entry = workshop.view(TRUCK_7).entry
    return ReadingForm(entry.state, entry.quantity, entry.at, entry.to,
                       instrument=entry.instrument)


def points(workshop: Workshop) -> set[tuple[str, str]]:
    return {(one.at, one.instrument) for one in workshop.view(TRUCK_7).next_checks}


def test_the_next_best_is_asked_instead_and_nothing_else_changes(workshop: Workshop) -> None:
    before = workshop.view(TRUCK_7)
    form = next_form(workshop)
    number = cannot_reach(workshop, TRUCK_7, form, "reach-key-1", "Mairi")
    after = workshop.view(TRUCK_7)
    assert (form.at, form.instrument) not in points(workshop)
    assert after.next_checks[0].id == before.next_checks[1].id
    assert after.suspects == before.suspects
    assert [(one.number, one.title, one.by) for one in after.unreached] == [
        (number, form.at, "Mairi")]


def test_all_that_needs_the_point_is_left_out(workshop: Workshop) -> None:
    cannot_reach(workshop, TRUCK_7, SHUT, "reach-key-1")
    _, history, bench = workshop.opened(TRUCK_7)
    gone = left_out(bench, history)
    checks = {one.id: one for one in bench.table.checks}
    assert len(gone) > 1
    assert all("S4.1" in (checks[one].at, checks[one].to) for one in gone)
    again = reasoning.diagnosis_of(bench, history)
    assert not {one.check.id for one in again.next_checks} & gone


def test_it_is_asked_again_and_both_stay_in_the_history(workshop: Workshop) -> None:
    before = workshop.verdict_text(TRUCK_7)
    number = cannot_reach(workshop, TRUCK_7, next_form(workshop), "reach-key-1", "Mairi")
    without = workshop.verdict_text(TRUCK_7)
    reach_again(workshop, TRUCK_7, number, "reach-key-2", "Ewan")
    reach_again(workshop, TRUCK_7, number, "reach-key-2", "Ewan")  # sent twice
    assert workshop.verdict_text(TRUCK_7) == before != without
    events = workshop.store.events(TRUCK_7)
    assert [(one.kind, one.by) for one in events[-2:]] == [
        ("unreached", "Mairi"), ("withdraw", "Ewan")]
    assert replay(events[:-1]).unreached[0].number == number


def test_a_reading_taken_there_all_the_same_counts(workshop: Workshop) -> None:
    cannot_reach(workshop, TRUCK_7, SHUT, "reach-key-1")
    before = workshop.view(TRUCK_7).suspects
    workshop.add_reading(TRUCK_7, dataclasses.replace(SHUT, value="25,1"), "volts-key")
    assert workshop.view(TRUCK_7).suspects != before


def test_what_cannot_be_left_out_is_refused(workshop: Workshop) -> None:
    with pytest.raises(UnknownNameError):
        cannot_reach(workshop, TRUCK_7, dataclasses.replace(SHUT, at="S99.1"), "reach-key-1")
    with pytest.raises(ConflictError):
        cannot_reach(workshop, TRUCK_4, SHUT, "reach-key-1")
    with pytest.raises(UsageError):
        reach_again(workshop, TRUCK_7, 1, "reach-key-1")


def test_it_travels_with_the_job(workshop: Workshop, tmp_path: Path) -> None:
    cannot_reach(workshop, TRUCK_7, SHUT, "reach-key-1", "Mairi")
    (tmp_path / "other").mkdir()
    other = Workshop(tmp_path / "other")
    there = import_text(other, export_text(workshop, TRUCK_7)).job
    assert other.verdict_text(there) == workshop.verdict_text(TRUCK_7)


def test_a_made_up_reading_is_judged_like_a_real_one_and_not_kept(workshop: Workshop) -> None:
    last = workshop.opened(TRUCK_7)[1].last
    form = dataclasses.replace(SHUT, value="0")
    found = what_if(workshop, TRUCK_7, form)
    assert workshop.opened(TRUCK_7)[1].last == last
    assert found.value == "0.00 V"
    workshop.add_reading(TRUCK_7, form, "volts-key")
    real = workshop.view(TRUCK_7)
    assert found.then is not None
    assert found.then.suspects == real.suspects
    assert found.then.verdict == real.verdict
    assert {one.mark for one in found.changes} >= {"up", "down"}


def test_a_made_up_reading_without_a_value_only_asks(workshop: Workshop) -> None:
    assert what_if(workshop, TRUCK_7, SHUT).then is None
    with pytest.raises(ConflictError):
        what_if(workshop, TRUCK_4, SHUT)


def test_the_drawing_can_be_cut_down_to_the_complaint(workshop: Workshop) -> None:
    whole = workshop.view(TRUCK_7).drawing
    cut = workshop.view(TRUCK_7, Look(only="complaint")).drawing
    wires = [set(re.findall('data-wire="([^"]*)"', one)) for one in (whole, cut)]
    assert wires[1] < wires[0]
    _, history, bench = workshop.opened(TRUCK_7)
    likely = {one.element for one in reasoning.diagnosis_of(bench, history).suspects
              if one.probability > 0.02}  # whoever counts must be seen
    assert {one for one in likely if one in bench.circuit.wires} <= wires[1]
