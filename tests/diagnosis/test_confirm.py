"""What is read again, or beside, before a repair: only what repays its minutes."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant
from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.plant import Check, Hypothesis, Repair
from tests.support.demo import small


def told_apart_by_one(minutes, fitting_min=10.0):
    """Return two faults, A likelier, told apart by one reading of so many minutes."""
    check = Check("t", "on", "voltage", "P", unit="V", minutes=minutes, span=(0.0, 30.0))
    faults = tuple(Hypothesis(name, name, "fault", f"mend {name}", share)
                   for name, share in (("A", 0.5), ("B", 0.5)))
    repairs = {row.repair: Repair(row.repair, row.repair, fitting_min) for row in faults}
    mean = np.array([[[12.0], [3.0], [9.0]]])
    return build_table(MatrixPlant(faults, repairs, (check,), mean, np.full_like(mean, 0.05),
                                   np.ones(1)))


# By hand: a tenth wrong, half is lost without the reading, 10 + 60 min: 3.5 minutes.
@pytest.mark.parametrize(("minutes", "status"), [(3.0, "look further"), (4.0, "repair")])
def test_a_reading_is_repeated_when_that_repays_its_minutes(minutes, status):
    table = told_apart_by_one(minutes)
    found = diagnose(table, (Evidence(table.checks[0], 3.0),))
    assert found.verdict.repair == "mend A"
    assert found.verdict.status == status
    assert [one.check.id for one in found.next_checks] == (["t"] if minutes < 3.5 else [])


def test_the_dearer_the_repair_the_sooner_a_reading_is_repeated():
    table = told_apart_by_one(4.0, fitting_min=120.0)
    found = diagnose(table, (Evidence(table.checks[0], 3.0),))
    assert found.verdict.status == "look further"
    assert "Repeat" in found.verdict.why


@functools.cache
def lamp_table():
    return build_table(CircuitPlant(small("""BAT: {kind: battery}
        F1: {kind: fuse, rating: 10 A}
        S1: {kind: switch, closed when: lamp switch}
        H1: {kind: lamp, power: 21 W}
        E1: {kind: earth}""", """BAT.+, F1.1, 2.5 mm2, 1 m
        F1.2, S1.1, 1 mm2, 2 m
        S1.2, H1.1, 1 mm2, 2 m
        H1.2, E1, 1 mm2, 2 m""", "off: {}; lit: {lamp switch: on}")))


def test_one_drop_answers_for_the_readings_at_both_ends():
    table = lamp_table()
    plant = table.plant
    ends = tuple(Evidence(plant.check_for("lit", "voltage", point), volts)
                 for point, volts in (("S1.2", 12.5), ("H1.1", 0.0)))
    seen = Evidence(plant.check_for("lit", "lit", "H1", instrument="eye"), "off")
    found = diagnose(table, (seen, *ends))
    asked = found.next_checks[0].check
    assert found.verdict.repair == "mend W3"
    assert found.verdict.status == "look further"
    assert "Confirm it first" in found.verdict.why
    assert asked.id not in {item.check.id for item in ends}
    shown = found.next_checks[0].predicts["open:W3"]
    again = diagnose(table, (seen, *ends, Evidence(asked, shown)))
    assert again.verdict.status == "repair"
    assert again.verdict.repair == "mend W3"


def test_nothing_is_confirmed_where_no_reading_can_be_wrong():
    table = told_apart_by_one(1.0)
    exact = build_table(table.plant, replace(table.settings, wrong_reading=0.0))
    assert diagnose(exact, (Evidence(table.checks[0], 3.0),)).verdict.status == "repair"
