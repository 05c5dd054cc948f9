"""Latching relay."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve_all
from loomwright.circuit.model import Circuit
from tests.circuit.kinds.benches import bench, fault_shows

PARTS = ("K1: {kind: latching relay, left closed when: left on}\n"
         "S1: {kind: switch, closed when: push on}\nS2: {kind: switch, closed when: push off}\n"
         "R1: {kind: resistor, resistance: 12 ohm}")
WIRES = ("BAT.+, K1.30\nK1.87, R1.1\nR1.2, BAT.-\nBAT.+, S1.1\nS1.2, K1.set\nBAT.+, S2.1\n"
         "S2.2, K1.reset\nK1.85, BAT.-")
STATES = ("left off: {};left on: {left on: yes};switching on: {push on: yes};"
          "switching off: {left on: yes, push off: yes}")


def relay() -> Circuit:
    return bench(12, PARTS, WIRES, STATES)


def fed(*faults: str) -> dict[str, bool]:
    circuit = relay()
    results = solve_all(circuit.with_faults([parse_fault(circuit, one) for one in faults]))
    return {state: found.points["R1.1"].volts > 6 for state, found in results.items()}


def test_a_coil_decides_and_else_it_stands_as_it_was_left() -> None:
    assert fed() == {"left off": False, "left on": True, "switching on": True,
                     "switching off": False}


def test_a_dead_coil_does_nothing() -> None:
    assert not fed("set-coil-open:K1")["switching on"]
    assert fed("reset-coil-open:K1")["switching off"]


def test_coil_and_contact_by_hand() -> None:
    found = solve_all(relay())["switching on"]
    # a coil of 40 ohm: 0.3 A; the contact's 2 milliohm at 1 A: 2 mV
    assert found.wires["W5"] == pytest.approx(12 / 40.01, rel=1e-4)
    drop = found.points["K1.30"].volts - found.points["K1.87"].volts
    assert drop == pytest.approx(0.002, rel=0.01)


def test_a_burnt_contact_drops_more() -> None:
    drops = []
    for ohm in (0.1, 1, 5):
        circuit = relay()
        fault = parse_fault(circuit, f"high-resistance:K1:{ohm}")
        found = solve_all(circuit.with_faults([fault]))["left on"]
        drops.append(found.points["K1.30"].volts - found.points["K1.87"].volts)
    assert drops == sorted(drops)


def test_every_fault_shows() -> None:
    shows = fault_shows(relay(), "K1")
    assert len(shows) == 5
    assert all(how & {"volts", "amps", "ohms"} for how in shows.values())
