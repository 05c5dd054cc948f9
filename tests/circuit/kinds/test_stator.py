"""Stator and regulator of a motorcycle."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve, solve_all
from loomwright.circuit.batch import Variant, solve_isolated
from loomwright.circuit.kinds.alternator import output_share
from loomwright.circuit.model import Circuit
from tests.circuit.kinds.benches import fault_shows
from tests.support.demo import small

PARTS = ("BAT: {kind: battery}\nG1: {kind: stator, resistance: 0.6 ohm}\nE1: {kind: earth}\n"
         "U1: {kind: regulator rectifier, limit: 20 A}\nS1: {kind: switch, closed when: lights}\n"
         "R1: {kind: resistor, resistance: 1 ohm}")
WIRES = """G1.A, U1.A
G1.B, U1.B
G1.C, U1.C
G1.F, E1
U1.+, BAT.+
U1.-, BAT.-
BAT.+, S1.1
S1.2, R1.1
R1.2, BAT.-"""
STATES = "off: {};riding: {engine: 5000 rpm};lit: {engine: 5000 rpm, lights: yes};stopped: {}"


def motorcycle() -> Circuit:
    return small(PARTS, "\n".join(f"{one}, 400 mm2, 1 mm" for one in WIRES.splitlines()), STATES)


def ohms(at: str, to: str, *faults: str) -> float:
    circuit = motorcycle()
    variant = Variant(tuple(parse_fault(circuit, one) for one in (*faults, "open:W1", "open:W2",
                                                                  "open:W3")))
    return float(solve_isolated(circuit, (variant,), [(at, to)])[0, 0])


def amps(state: str, *faults: str) -> float:
    circuit = motorcycle()
    found = solve(circuit.with_faults([parse_fault(circuit, one) for one in faults]), state)
    return found.parts["U1"].amps or 0.0


def test_every_pair_of_phases_reads_alike() -> None:
    pairs = (("G1.A", "G1.B"), ("G1.B", "G1.C"), ("G1.C", "G1.A"))
    assert [ohms(*pair) for pair in pairs] == pytest.approx([0.6] * 3, rel=1e-6)
    assert ohms("G1.A", "G1.F") >= 1e7  # no path to the frame


def test_faults_of_a_stator_in_ohms() -> None:
    assert ohms("G1.A", "G1.B", "open:G1.A") >= 1e7
    assert ohms("G1.A", "G1.B", "bridged:G1.A") == pytest.approx(0.3 * 0.3 + 0.3)
    assert ohms("G1.A", "G1.F", "leak-to-frame:G1") == pytest.approx(50.3)


def test_charging_by_hand() -> None:
    found = solve(motorcycle(), "riding")
    # (14.4 - V)/0.021 = (V - 12.6)/0.12: V = 14.13 V, 12.8 A
    assert found.points["BAT.+"].volts == pytest.approx(14.13, abs=0.01)
    assert amps("riding") == pytest.approx(12.77, rel=0.01)


def test_the_limit_grows_with_speed() -> None:
    assert amps("lit") == pytest.approx(20 * output_share(5000, 1000), rel=1e-3)
    shares = [output_share(rpm, 1000) for rpm in (800, 1200, 2000, 5000, 9000)]
    assert shares == sorted(shares)
    assert shares[0] == 0


def test_one_lost_phase_leaves_two_thirds_and_two_leave_nothing() -> None:
    whole = amps("lit")
    for wire in ("open:W1", "open:W2", "open:W3", "open:G1.B"):
        assert amps("lit", wire) == pytest.approx(whole * 2 / 3, rel=1e-3)
    assert amps("lit", "open:W1", "open:W3") == pytest.approx(0.0, abs=1e-3)


def test_nothing_is_given_at_rest() -> None:
    results = solve_all(motorcycle())
    assert results["off"].parts["U1"].amps == pytest.approx(0.0, abs=1e-6)
    assert results["off"].wires["W5"] == pytest.approx(0.0, abs=1e-6)


def test_every_fault_shows() -> None:
    shows = fault_shows(motorcycle(), "U1")
    assert len(shows) == 4
    assert all(how & {"volts", "amps"} for how in shows.values())
    # with the plug pulled, since the regulator's own path hides a phase
    circuit = motorcycle()
    pulled = circuit.with_faults([parse_fault(circuit, f"open:W{n}") for n in (1, 2, 3)])
    shows = fault_shows(pulled, "G1")
    assert len(shows) == 7
    assert all("ohms" in how for how in shows.values())
