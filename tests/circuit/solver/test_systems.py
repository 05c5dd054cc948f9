"""The same circuit at 12, 24 and 48 V: what scales with the system does."""

from __future__ import annotations

import pytest

from loomwright.circuit import faults_of, parse_fault, solve
from loomwright.circuit.model import Circuit
from loomwright.circuit.plant import CircuitPlant
from loomwright.diagnosis import build_table, diagnose
from loomwright.diagnosis.records import Evidence
from tests.support.demo import small

PARTS = ("BAT: {kind: battery}\nF1: {kind: fuse, rating: 10 A}\n"
         "S1: {kind: switch, closed when: go}\n"
         "K1: {kind: relay}\nM1: {kind: motor, current: 4 A}\nH1: {kind: lamp, power: 21 W}\n"
         "E1: {kind: earth}")
WIRES = ("BAT.+, F1.1\nF1.2, S1.1\nS1.2, K1.86\nK1.85, E1\nF1.2, K1.30\nK1.87, M1.1\nM1.2, E1\n"
         "S1.2, H1.1\nH1.2, E1")


def circuit(system: int) -> Circuit:
    """Return a relay, a motor and a lamp at a system's volts."""
    return small(PARTS, WIRES, "off: {};running: {go: yes}", f"{system} V")


@pytest.mark.parametrize("system", [12, 24, 48])
def test_everything_works_at_the_systems_volts(system: int) -> None:
    found = solve(circuit(system), "running")
    # 12.6 V for each 12 V of system, less 1 % in wires
    assert found.points["BAT.+"].volts == pytest.approx(12.6 * system / 12, rel=0.01)
    assert [found.parts[name].doing for name in ("K1", "M1", "H1")] == ["on"] * 3
    # power is given, so amps go down as volts go up; the battery is 5 % above the system's volts
    assert found.parts["H1"].amps == pytest.approx(21 / system, rel=0.05)
    assert found.notes == ()


@pytest.mark.parametrize("system", [12, 24, 48])
def test_faults_are_inserted_and_found(system: int) -> None:
    known = circuit(system)
    assert all(solve(known.with_faults([parse_fault(known, one.id)]), "running").points
               for one in faults_of(known))
    plant = CircuitPlant(known)
    volts = 12.6 * system / 12
    taken = [Evidence(plant.check_for("running", "running", "M1"), "off"),
             Evidence(plant.check_for("running", "voltage", "K1.30"), volts),
             Evidence(plant.check_for("running", "voltage", "K1.87"), 0.0),
             Evidence(plant.check_for("running", "lit", "H1"), "on"),
             Evidence(plant.check_for("running", "heard", "K1"), "click")]
    assert diagnose(build_table(plant), taken).suspects[0].id == "contact-open:K1"
