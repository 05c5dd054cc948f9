"""Magneto of a mower, and a proximity switch of three wires."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve, solve_all
from loomwright.circuit.model import Circuit
from tests.circuit.kinds.benches import bench, fault_shows

MOWER = ("G1: {kind: magneto}\nE1: {kind: earth}\nS1: {kind: switch, closed when: key off}\n"
         "S2: {kind: switch, closed when: seat empty and blades}")
MOWER_WIRES = "G1.-, E1\nG1.K, S1.1\nS1.2, E1\nG1.K, S2.1\nS2.2, E1\nBAT.-, E1"
MOWER_STATES = ("cranking: {engine: 400 rpm};mowing: {engine: 3000 rpm, blades: yes};"
                "fallen off: {engine: 3000 rpm, blades: yes, seat empty: yes};"
                "stopping: {engine: yes, key off: yes};parked: {key off: yes}")


def mower() -> Circuit:
    return bench(12, MOWER, MOWER_WIRES, MOWER_STATES)


def sparks(circuit: Circuit, fault: str = "") -> dict[str, bool]:
    faults = [parse_fault(circuit, fault)] if fault else []
    results = solve_all(circuit.with_faults(faults))
    return {state: found.parts["G1"].doing == "on" for state, found in results.items()}


def test_it_sparks_unless_its_kill_wire_is_earthed() -> None:
    assert sparks(mower()) == {"cranking": True, "mowing": True, "fallen off": False,
                               "stopping": False, "parked": False}


def test_a_chafed_kill_wire_stops_it_for_good() -> None:
    assert not any(sparks(mower(), "short-to-earth:W2").values())


def test_a_broken_kill_wire_means_that_it_cannot_be_stopped() -> None:
    assert sparks(mower(), "open:W2")["stopping"]
    assert sparks(mower(), "open:W4")["fallen off"]


def test_more_resistance_to_earth_lets_it_spark() -> None:
    # half of the volts are left at 100 ohm (assumed): below silent, above sparking
    for ohm, on in ((1, False), (90, False), (110, True), (1000, True)):
        fault = f"high-resistance:W2:{ohm}"
        assert sparks(mower(), fault)["stopping"] is on


def test_too_slow_it_does_not_spark() -> None:
    circuit = bench(12, MOWER, MOWER_WIRES, "slow: {engine: 100 rpm};quick: {engine: 300 rpm}")
    assert sparks(circuit) == {"slow": False, "quick": True}


def test_battery_volts_on_the_kill_wire_make_no_spark_and_are_none_at_rest() -> None:
    # common practice: 12 V on a kill wire ruins the ignition; it never means that it sparks
    found = sparks(mower(), "short-to-supply:W2")
    assert [found[state] for state in ("cranking", "mowing", "parked")] == [False] * 3


def test_every_fault_of_a_magneto_shows() -> None:
    shows = fault_shows(mower(), "G1")
    assert set(shows) == {"dead:G1", "shorted:G1"}
    assert all("words" in how for how in shows.values())


PROXIMITY = ("S1: {kind: proximity switch, closed when: target%s}\n"
             "R1: {kind: resistor, resistance: 1 kohm}")
HIGH = "BAT.+, S1.+\nS1.-, BAT.-\nS1.S, R1.1\nR1.2, BAT.-"
LOW = "BAT.+, S1.+\nS1.-, BAT.-\nS1.S, R1.1\nR1.2, BAT.+"
NEAR = "near: {target: yes};away: {}"


@pytest.mark.parametrize(("drives", "wires", "near", "away"), [
    ("high side", HIGH, 12 * 1000 / 1005, 0.0), ("low side", LOW, 12 * 5 / 1005, 12.0)])
def test_a_proximity_switch_drives_its_output(drives: str, wires: str, near: float, away: float
                                              ) -> None:
    results = solve_all(bench(12, PROXIMITY % f", drives: {drives}", wires, NEAR))
    # 5 ohm of its own against 1 kohm, and a 10 Mohm meter on 1 kohm: 1.2 mV
    assert results["near"].points["S1.S"].volts == pytest.approx(near, abs=1e-3)
    assert results["away"].points["S1.S"].volts == pytest.approx(away, abs=2e-3)
    assert [r.parts["S1"].doing for r in results.values()] == ["closed", "open"]


def test_without_supply_it_gives_nothing() -> None:
    circuit = bench(12, PROXIMITY % "", HIGH, NEAR)
    found = solve(circuit.with_faults([parse_fault(circuit, "open:W2")]), "near")
    assert found.points["S1.S"].volts == pytest.approx(0.0, abs=0.01)


def test_every_fault_of_a_proximity_switch_shows() -> None:
    shows = fault_shows(bench(12, PROXIMITY % "", HIGH, NEAR), "S1")
    assert set(shows) == {"dead:S1", "stuck-open:S1", "stuck-closed:S1"}
    assert all("volts" in how for how in shows.values())
