"""No fault ends soon once every function was seen working; what nobody notices is no repair."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from loomwright.diagnosis import Evidence, Settings, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.diagnosis.noticed import all_seen_working, noticed_rows
from loomwright.plant import Hypothesis, Repair
from tests.support.plants import voltage_check


class Looked(MatrixPlant):
    """A plant that knows its function: the lamp."""

    def complaint_checks(self):
        """Return the look at the lamp."""
        return self.check_list[:1]


def lamp_plant() -> Looked:
    """Return a lamp with a break (off), a loss of 2 V (still lit) and one of 0.1 V of 24."""
    rows = tuple(Hypothesis(f"f:{name}", name, "f", f"mend {name}", 0.01)
                 for name in ("DEAD", "LOSS", "TRIFLE"))
    repairs = {row.repair: Repair(row.repair, row.repair, 10.0) for row in rows}
    lamp = voltage_check("H1", levels=("off", "on"))
    lit = np.array([[[0.01, 0.99], [0.99, 0.01], [0.01, 0.99], [0.01, 0.99]]])
    mean = np.array([[[np.nan, 24.0], [np.nan, 0.0], [np.nan, 22.0], [np.nan, 23.9]]])
    checks = (lamp, voltage_check("P1", resolution=0.001, accuracy=0.0))
    return Looked(rows, repairs, checks, mean, np.full_like(mean, 0.01), np.ones(1), {0: lit})


def test_a_fault_counts_when_a_function_fails_or_three_in_a_hundred_volts_go():
    marked = noticed_rows(build_table(lamp_plant()))
    assert marked.tolist() == [False, True, True, False, True]  # 2 V of 24 is 8 %, 0.1 V is 0.4 %


def test_a_trifle_is_no_repair_while_every_function_works():
    plant = lamp_plant()
    lamp, volts = plant.checks()
    table = build_table(plant)
    working = [Evidence(lamp, "on"), *[Evidence(volts, 23.9)] * 2]
    answer = diagnose(table, working)
    assert answer.suspects[0].repair == "mend TRIFLE"
    assert answer.suspects[0].probability > 0.95
    assert answer.verdict.status == "no fault found"
    failing = [Evidence(lamp, "off"), *[Evidence(volts, 23.9)] * 2]
    assert diagnose(table, failing).verdict.status != "no fault found"


def test_a_loss_that_counts_is_still_found_while_the_lamp_is_lit():
    plant = lamp_plant()
    lamp, volts = plant.checks()
    answer = diagnose(build_table(plant), [Evidence(lamp, "on"), *[Evidence(volts, 22.0)] * 3])
    assert answer.verdict.repair == "mend LOSS"


def test_the_lamp_alone_leaves_the_loss_to_be_looked_for():
    plant = lamp_plant()
    answer = diagnose(build_table(plant), [Evidence(plant.checks()[0], "on")])
    assert answer.verdict.status == "look further"
    assert answer.next_checks[0].check.id == "P1"


def test_a_function_counts_by_when_it_was_last_looked_at():
    """A repair breaks nothing else: what worked before it needs no second look."""
    plant = lamp_plant()
    lamp, volts = plant.checks()
    table = build_table(plant)
    done = ("mend DEAD",)
    read = Evidence(volts, 23.9, done)
    for looks, works in (((Evidence(lamp, "on"),), True), ((Evidence(lamp, "off"),), False),
                         ((Evidence(lamp, "off"), Evidence(lamp, "on", done)), True),
                         ((Evidence(lamp, "on"), Evidence(lamp, "off", done)), False)):
        assert all_seen_working(table, believe(table, [*looks, read])) is works


def misseen_plant() -> Looked:
    """Return a lamp that is off under its only fault, which nothing else shows."""
    rows = (Hypothesis("f:DEAD", "DEAD", "f", "mend DEAD", 0.01),)
    repairs = {row.repair: Repair(row.repair, row.repair, 10.0) for row in rows}
    lamp = replace(voltage_check("H1", levels=("off", "on")), instrument="eye")
    lit = np.array([[[0.01, 0.99], [0.99, 0.01]]])
    blank = np.full((1, 2, 1), np.nan)
    return Looked(rows, repairs, (lamp,), blank, blank, np.ones(1), {0: lit})


def test_where_no_check_is_left_a_function_is_looked_at_again():
    plant = misseen_plant()
    table = build_table(plant, Settings(complaint_no_fault=0.05))
    (lamp,) = plant.checks()
    answer = diagnose(table, [Evidence(lamp, "on")])
    assert 0.5 < answer.no_fault < 0.8
    assert answer.verdict.status == "look further"
    assert [one.check for one in answer.next_checks] == [lamp]
    again = diagnose(table, [Evidence(lamp, "on")] * 2)
    assert again.no_fault > answer.no_fault
    assert not again.next_checks


def test_while_all_works_a_check_has_to_repay_its_minutes():
    """The same belief of 0.8 to 0.95 ends the search where the second look costs two hours."""
    plant = misseen_plant()
    dear = replace(plant, check_list=(replace(plant.check_list[0], minutes=120.0),))
    for one, status in ((plant, "look further"), (dear, "no fault found")):
        table = build_table(one, Settings(complaint_no_fault=0.15))
        answer = diagnose(table, [Evidence(one.check_list[0], "on")])
        assert 0.8 < answer.no_fault < 0.95
        assert answer.verdict.status == status
    assert "is left for a fault" in answer.verdict.why
