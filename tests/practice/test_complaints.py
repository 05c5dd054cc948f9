"""What is reported: what a driver sees, and where that tells nothing what a workshop measures."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault
from loomwright.practice.exercise import _measured, burns, levels_of
from loomwright.service.practice_vehicle import vehicles_of
from tests.practice.benches import exercise, table


def measured(name: str, fault: str) -> dict[tuple[str, str], float]:
    """Return what the workshop's first measurements find, by state and point."""
    plant = table(name).plant
    oracle = vehicles_of(plant)(parse_fault(plant.circuit, fault), 1)
    return {(one.check.state, one.check.at): float(one.value)
            for one in _measured(table(name), oracle)}


@pytest.mark.parametrize("seed", range(3))
def test_a_bus_is_practised_by_its_ohms(seed: int) -> None:
    hidden = {fault.rows[0].fault_id for fault in levels_of(table("can-bus"))[1]}
    # 60 ohm with both ends; 120 with one of them gone (common practice)
    assert {"open:RT", "open:W13", "open:N1.terminator"} <= hidden
    found = measured("can-bus", "open:RT")
    assert set(found) == {("at rest", "N1.H")}
    assert 115 < found["at rest", "N1.H"] < 125
    assert exercise(1, seed, "can-bus").complaint


def test_no_charge_is_seen_by_a_meter_where_no_lamp_tells() -> None:
    found = measured("motorcycle-charge", "dead:REG")
    assert {state for state, _ in found} == {"idling", "running"}
    assert all(value < 13 for value in found.values())  # 14 V where it charges
    high = measured("motorcycle-charge", "regulator-high:REG")
    assert all(value > 15 for value in high.values())


def test_a_low_battery_of_this_vehicle_is_no_complaint() -> None:
    plant = table("charging").plant
    for seed in range(6):  # a lamp that is out has nothing to do with the charge
        oracle = vehicles_of(plant)(parse_fault(plant.circuit, "burnt-out:R1"), seed)
        assert _measured(table("charging"), oracle) == []


@pytest.mark.parametrize(("name", "fault", "fire"), [
    ("standing-drain", "short-to-supply:W12", True),  # supply to earth through 0.75 mm2
    ("second-battery-converter", "short-to-earth:W1", True),  # before its fuse
    ("horn", "short-to-earth:W4", False),  # the fuse clears it
    ("start-relay", "welded:K1", False),  # no short
    ("start-relay", "seized:M1", False),  # much current, but it is a fault one meets
])
def test_a_short_that_no_fuse_clears_is_not_hidden(name: str, fault: str, fire: bool) -> None:
    circuit = table(name).plant.circuit
    assert burns(circuit, parse_fault(circuit, fault)) is fire
