"""A controller's 5 V reference and the three-wire sensors on it."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve, solve_all
from loomwright.circuit.model import Circuit, StateResult
from loomwright.errors import FileProblemsError
from tests.circuit.kinds.benches import bench, fault_shows

PARTS = ("ECU: {kind: controller, supply: 1, earth: 2, "
         "references: {five: {pin: 5, limit: 50 mA}}}\n"
         "B1: {kind: sensor, reads: pedal}\nB2: {kind: sensor, reads: rail, resistance: 10 kohm}")
WIRES = ("BAT.+, ECU.1\nECU.2, BAT.-\nECU.5, B1.+\nB1.-, BAT.-\nECU.5, B2.+\nB2.-, BAT.-")
STATES = "rest: {};half: {pedal: 50 %};full: {pedal: 100 %, rail: 100 %}"


def vehicle() -> Circuit:
    return bench(12, PARTS, WIRES, STATES)


def faulty(fault: str, state: str = "rest") -> StateResult:
    circuit = vehicle()
    return solve(circuit.with_faults([parse_fault(circuit, fault)]), state)


def test_a_signal_is_a_share_of_its_supply() -> None:
    results = solve_all(vehicle())
    # 10, 50 and 90 % of 5 V; 1.5 mA of tracks cost 0.5 ohm x 1.5 mA = 0.75 mV of the reference,
    # a 10 Mohm meter on 2 kohm 0.02 %
    signals = [found.points["B1.S"].volts for found in results.values()]
    assert signals == pytest.approx([0.5, 2.5, 4.5], abs=0.003)


def test_a_signal_rises_with_its_level() -> None:
    states = ";".join(f"s{n}: {{pedal: {n} %}}" for n in range(0, 101, 20))
    signals = [r.points["B1.S"].volts for r in solve_all(bench(12, PARTS, WIRES, states)).values()]
    assert signals == sorted(signals)


def test_what_the_reference_gives_it_draws() -> None:
    wires = solve(vehicle(), "rest").wires
    given = wires["W3"] + wires["W5"]
    # 5 V over 5 kohm and over 10 kohm; the controller's own 0.1 A is 12 V over 120 ohm
    assert given == pytest.approx(0.0015, rel=1e-3)
    assert wires["W1"] == pytest.approx(0.1 + given, rel=1e-4)


def test_one_shorted_sensor_pulls_all_down() -> None:
    found = faulty("shorted:B1")
    # limit 50 mA into 1 ohm
    assert found.points["ECU.5"].volts == pytest.approx(0.050, abs=0.002)
    assert found.wires["W3"] == pytest.approx(0.050, rel=0.01)
    assert found.points["B2.S"].volts < 0.01


def test_a_chafed_reference_wire_pulls_all_down_too() -> None:
    found = faulty("short-to-earth:W3", "half")
    assert found.points["B1.S"].volts < 0.01
    assert found.points["B2.S"].volts < 0.01
    assert found.parts["ECU"].doing == "on"


def test_without_its_supply_a_controller_gives_no_reference() -> None:
    assert faulty("open:W1").points["B1.+"].volts == pytest.approx(0.0, abs=1e-3)


def test_faults_read_as_they_do_on_a_vehicle() -> None:
    assert faulty("earth-open:B1", "half").points["B1.S"].volts == pytest.approx(5.0, abs=0.01)
    assert faulty("supply-open:B1", "half").points["B1.S"].volts == pytest.approx(0.0, abs=0.01)
    assert faulty("signal-open:B1", "half").points["B1.S"].floating
    # half the track 1.5 times: 3.75 k of 6.25 k
    assert faulty("drifted:B1", "half").points["B1.S"].volts == pytest.approx(3.0, abs=0.01)


def test_every_fault_shows() -> None:
    # the signal at a pulled-down input, so that a resistance in it is seen
    parts = PARTS + "\nR1: {kind: resistor, resistance: 100 kohm}"
    circuit = bench(12, parts, WIRES + "\nB1.S, R1.1\nR1.2, BAT.-", STATES)
    shows = fault_shows(circuit, "B1")
    assert len(shows) == 6
    assert all(how & {"volts", "ohms"} for how in shows.values())
    assert "volts" in fault_shows(circuit, "ECU")["reference-dead:ECU.five"]


def test_names_and_pins_may_stand_once() -> None:
    with pytest.raises(FileProblemsError, match="already ECU supply"):
        bench(12, "ECU: {kind: controller, supply: 1, earth: 2, references: {a: {pin: 1}}}",
              "BAT.+, ECU.1\nECU.2, BAT.-")
