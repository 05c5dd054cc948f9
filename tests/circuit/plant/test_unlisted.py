"""Rows for what the file does not list: nets, rows, and readings of a vehicle with something on it.

The vehicle of the worked example is another circuit, with a part more than the file that is
diagnosed; nothing of it comes from the rows themselves.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text, solve
from loomwright.circuit.plant.unlisted import nets, unlisted_rows
from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.unlisted import unmodelled_share, with_unlisted
from loomwright.diagnosis.unlisted_words import leading_unlisted, telling_checks
from tests.circuit.plant.heater import heater

LISTED = heater(fuse="30 A", price="40")
# a second heater of 2.5 ohm, tapped in behind the switch by somebody who drew nothing
TAPPED = heater("  R9:  {kind: heater, resistance: 2.5 ohm, place: bench}\n"
                "  E9:  {kind: earth, place: bench}",
                "  - [W8, S1.2, R9.1, 2.5 mm2, 1 m, RD]\n  - [W9, R9.2, E9, 2.5 mm2, 1 m, BN]",
                fuse="30 A", price="40")
READINGS = (("working", "current", "W1"), ("working", "current", "W2"),
            ("working", "current", "W3"), ("working", "current", "W4"),
            ("working", "voltage", "S1.2"), ("off", "current", "W1"), ("off", "voltage", "S1.2"))


@functools.cache
def table() -> Table:
    return build_table(CircuitPlant(read_circuit_text(LISTED)))


def readings_of(text: str) -> list[Evidence]:
    """Return what a meter shows on the vehicle of a file, which is not the one diagnosed."""
    circuit, plant = read_circuit_text(text), table().plant
    assert isinstance(plant, CircuitPlant)
    states = {state: solve(circuit, state) for state in circuit.states}
    return [
        Evidence(plant.check_for(state, quantity, at,
                                 instrument="clamp" if quantity == "current" else "meter"),
                 round(states[state].wires[at] if quantity == "current"
                       else float(states[state].points[at].volts or 0.0), 2))
        for state, quantity, at in READINGS
    ]


def test_nets_are_points_joined_by_wires_connectors_and_earths() -> None:
    groups = nets(read_circuit_text(LISTED))
    assert {frozenset(group) for group in groups} == {
        frozenset({"BAT.-", "E1", "R1.2"}), frozenset({"BAT.+", "F1.1"}),
        frozenset({"F1.2", "S1.1"}), frozenset({"S1.2", "R1.1"}),
    }
    assert "BAT.-" in groups[0]


def test_rows_cover_every_two_nets_but_the_battery_itself() -> None:
    rows = unlisted_rows(read_circuit_text(LISTED), 4)
    pairs = {row.hypothesis.element for row in rows}
    assert len(pairs) == 5  # of four nets six pairs, less battery across itself
    assert len(rows) == 2 * len(pairs)
    assert sum(row.hypothesis.prior for row in rows) == pytest.approx(1.0)
    assert {row.hypothesis.repair for row in rows} == {"?"}


def test_a_load_tapped_in_is_unexplained_and_its_place_is_named() -> None:
    """By hand: 12.5 V over 10 and 2.5 ohm side by side is 6.2 A; without it 1.25 A."""
    evidence = readings_of(TAPPED)
    assert 5.5 < float(evidence[0].value) < 6.6
    answer = diagnose(table(), evidence)
    assert answer.unmodelled > 0.9
    assert answer.verdict.repair == ""
    wide = with_unlisted(table(), believe(table(), evidence))
    leads = leading_unlisted(wide, believe(wide, evidence))
    assert set(leads[0].element.split("~")) == {"S1.2", "BAT.-"}
    assert leads[0].severity is not None
    assert leads[0].severity.low_ohm <= 2.5 <= leads[0].severity.high_ohm
    assert "0.4 to 4 ohm between S1.2 and BAT.-" in answer.verdict.why
    telling = telling_checks(wide, believe(wide, evidence))
    assert telling
    assert "What would tell" in answer.verdict.why
    assert all(check not in {item.check for item in evidence} for check in telling)


def test_order_of_the_readings_does_not_matter() -> None:
    evidence = readings_of(TAPPED)
    first, second = diagnose(table(), evidence), diagnose(table(), evidence[::-1])
    assert first.unmodelled == pytest.approx(second.unmodelled, abs=1e-12)
    assert [one.id for one in first.suspects] == [one.id for one in second.suspects]


def test_unlisted_rows_are_asked_for_only_once_something_leads() -> None:
    evidence = readings_of(TAPPED)
    few = believe(table(), evidence[4:5])
    assert with_unlisted(table(), few) is table()
    wide = with_unlisted(table(), believe(table(), evidence))
    added = wide.rows[len(table().rows) - 1:-1]
    assert {row.element.partition("~")[0] for row in added} >= {"F1.2", "S1.1", "S1.2", "R1.1"}
    assert with_unlisted(table(), believe(table(), evidence)) is wide  # kept


def test_a_healthy_vehicle_stays_healthy() -> None:
    answer = diagnose(table(), readings_of(LISTED))
    assert answer.unmodelled < 0.05
    # the rows replace part of the unmodelled belief; no fault is found as without them
    assert answer.no_fault > 0.5


def test_shares_of_belief_add_up() -> None:
    evidence = readings_of(TAPPED)
    wide = with_unlisted(table(), believe(table(), evidence))
    belief = believe(wide, evidence)
    assert float(belief.rows.sum()) == pytest.approx(1.0, abs=1e-12)
    assert unmodelled_share(wide, belief) >= float(belief.rows[-1])


def test_after_a_repair_that_left_the_complaint_something_unlisted_may_be_beside_it() -> None:
    """A fuse first, then the tapped load: what was mended is joined to what is not listed."""
    plant = table().plant
    assert isinstance(plant, CircuitPlant)
    fuse = next(row for row in plant.faults() if row.fault_id == "blown:F1")
    tapped = next(row for row in plant.unlisted() if row.element == "S1.2~BAT.-")
    both = replace(fuse, fault_id=f"{fuse.fault_id}+{tapped.fault_id}", parts=(fuse, tapped))
    check = plant.check_for("working", "voltage", "S1.2")
    found = plant.predict((both,), (check,))
    assert abs(float(found.mean[found.mean.shape[0] // 2, 0, 0])) < 0.1  # the fuse is out: 0 V
    before = [Evidence(check, 0.0), Evidence(plant.check_for("working", "voltage", "F1.1"), 12.5),
              Evidence(plant.check_for("working", "voltage", "F1.2"), 0.0)]
    after = [replace(one, after=("replace F1",)) for one in readings_of(TAPPED)]
    answer = diagnose(table(), [*before, *after], rejected=("replace F1",))
    assert answer.unmodelled > 0.5
    assert answer.verdict.repair == ""


def test_a_joint_that_may_or_may_not_blow_the_fuse_is_a_row_for_each() -> None:
    """0.4 to 4 ohm behind a fuse of 15 A: one row over both would run half of the time."""
    plant = CircuitPlant(read_circuit_text(heater(fuse="15 A", price="40")))
    rows = [row for row in plant.unlisted()
            if row.element == "F1.2~BAT.-" and row.severity and row.severity.high_ohm <= 4.0]
    shown = plant.predict(rows, (plant.check_for("working", "running", "R1"),)).levels[0][0]
    assert {("off", "slow", "on")[level.argmax()] for level in shown} == {"off", "on"}
    assert (shown.max(axis=1) > 0.9).all()
    assert sum(row.prior for row in plant.unlisted()) == pytest.approx(1.0)


def test_a_clamp_tells_at_which_end_of_a_wire_the_thing_is_joined() -> None:
    """W3 runs from S1.2 to R1.1: it carries what is joined at R1.1 beside the heater's 1.25 A."""
    plant = table().plant
    assert isinstance(plant, CircuitPlant)
    rows = {row.element: row for row in plant.unlisted()
            if row.element in {"S1.2~BAT.-", "R1.1~BAT.-"} and row.severity
            and row.severity.high_ohm < 4.1}
    shown = plant.predict(list(rows.values()),
                          (plant.check_for("working", "current", "W3", instrument="clamp"),))
    amps = dict(zip(rows, shown.mean[shown.mean.shape[0] // 2, :, 0], strict=True))
    # 0.2 A: the heater's tolerance, the battery's, and what the thing itself takes off the volts;
    # joined at the other end it would be 3 A and more
    assert amps["S1.2~BAT.-"] == pytest.approx(1.2, abs=0.2)
    assert amps["R1.1~BAT.-"] > 2.0 + amps["S1.2~BAT.-"]
