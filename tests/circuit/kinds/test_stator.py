"""Stator and regulator of a motorcycle."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, read_circuit_text, solve, solve_all
from loomwright.circuit.batch import Variant, solve_isolated
from loomwright.circuit.kinds.alternator import output_share
from loomwright.circuit.model import Circuit
from loomwright.circuit.plant import CircuitPlant
from loomwright.circuit.templates import template_text
from loomwright.diagnosis import build_table, diagnose
from loomwright.diagnosis.records import Evidence
from loomwright.errors import UsageError
from loomwright.plant import NO_FAULT, Hypothesis
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


# --- alternating volts ---------------------------------------------------------------------------


def ac(at: str, to: str, fault: str = "", state: str = "riding") -> float:
    """Return the AC volts between two pins, at the middle of the battery's volts."""
    plant = CircuitPlant(motorcycle())
    row = Hypothesis(fault, "G1", "", "replace G1", 1e-3) if fault else NO_FAULT
    check = plant.check_for(state, "ac voltage", f"G1.{at}", f"G1.{to}")
    mean = plant.predict((row,), (check,)).mean
    return float(mean[len(mean) // 2, 0, 0])


def test_ac_volts_are_in_proportion_to_the_speed() -> None:
    # 14 V at 1000 rpm: 70 V at 5000 rpm between any two phases, none at rest
    pairs = (("A", "B"), ("B", "C"), ("C", "A"), ("B", "A"))
    assert [ac(*pair) for pair in pairs] == pytest.approx([70.0] * 4)
    assert ac("A", "B", state="off") == 0
    assert ac("A", "F") == 0  # the windings have no path to the core


def test_faults_of_a_stator_in_ac_volts() -> None:
    phase = 70 / 3 ** 0.5
    assert ac("A", "B", "open:G1.A") == 0
    assert ac("B", "C", "open:G1.A") == pytest.approx(70.0)
    # 0.3 of the turns left: phase x sqrt(0.09 + 1 + 0.3)
    assert ac("A", "B", "bridged:G1.A") == pytest.approx(phase * 1.39 ** 0.5)
    assert ac("A", "F", "leak-to-frame:G1") == pytest.approx(phase)
    assert ac("A", "B", "open:W1") == pytest.approx(70.0)  # behind the pulled plug


def test_ac_volts_find_the_stator_of_the_motorcycle() -> None:
    plant = CircuitPlant(read_circuit_text(template_text("motorcycle-charge")))
    table = build_table(plant)
    offered = [check for check in table.checks if check.quantity == "ac voltage"]
    assert {(check.at, check.to) for check in offered} == {
        ("G1.A", "G1.B"), ("G1.B", "G1.C"), ("G1.C", "G1.A")}
    taken = [Evidence(plant.check_for("running", "ac voltage", f"G1.{a}", f"G1.{b}"), volts)
              for a, b, volts in (("A", "B", 68.9), ("B", "C", 0.0), ("C", "A", 0.1))]
    found = diagnose(table, taken)
    assert found.suspects[0].id == "open:G1.C"
    assert found.suspects[0].probability > 0.8  # the rest: something else, or two odd readings


def test_bridged_turns_are_found_where_the_file_gives_the_volts() -> None:
    text = template_text("motorcycle-charge")
    plant = CircuitPlant(read_circuit_text(text.replace(
        "kind: stator,", "kind: stator, ac volts: 14 V,")))
    taken = [Evidence(plant.check_for("running", "ac voltage", f"G1.{a}", f"G1.{b}"), volts)
             for a, b, volts in (("A", "B", 69.0), ("B", "C", 48.0), ("C", "A", 47.5))]
    assert diagnose(build_table(plant), taken).suspects[0].id == "bridged:G1.C"


@pytest.mark.parametrize(("at", "to"), [("BAT.+", "BAT.-"), ("G1.A", "BAT.-"), ("G1.A", "")])
def test_ac_volts_are_read_at_a_stator_only(at: str, to: str) -> None:
    with pytest.raises(UsageError, match="between two pins of one stator"):
        CircuitPlant(motorcycle()).check_for("riding", "ac voltage", at, to)
