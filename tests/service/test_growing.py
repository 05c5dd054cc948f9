"""Where loose wires end: a towbar loom found on a van, and small circuits with two loose wires."""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.circuit import CircuitPlant, read_circuit
from loomwright.circuit.unknown_ends import EndsPlant, completed, lines_of, loose_wires
from loomwright.errors import LoomwrightError, UnknownNameError, UsageError
from loomwright.plant import NO_FAULT
from loomwright.service.growing import Growth, trace_ends

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
LOOM = EXAMPLES / "towbar_loom.yaml"
# The van as wired: pin of the socket -> where its wire goes.
TRUE_ENDS = {"T1": "HIL.1", "T2": "HF.1", "T3": "E1", "T4": "HIR.1", "T5": "HTR.1", "T6": "HB.1",
             "T7": "HTL.1"}
SMALL = """loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 10 A}
  S1: {kind: switch}
  S2: {kind: switch}
  H1: {kind: lamp, power: 21 W}
  H2: {kind: lamp, power: 5 W}
  E1: {kind: earth}
  E2: {kind: earth}
wires:
  - [W1, BAT.+, F1.1, 2.5 mm2, 1 m]
  - [W2, F1.2, S1.1, 1 mm2, 1 m]
  - [W3, F1.2, S2.1, 1 mm2, 1 m]
  - [W4, H1.2, E1, 1 mm2, 1 m]
  - [W5, H2.2, E1, 1 mm2, 1 m]
  - [L1, S1.2, unknown, 1 mm2, unknown, BU]
  - [L2, S2.2, unknown]
states:
  off: {}
  one: {S1: yes}
  two: {S2: yes}
"""


def small(tmp_path: Path, readings: str = "") -> Growth:
    circuit = tmp_path / "small.yaml"
    circuit.write_text(SMALL)
    taken = tmp_path / "readings.yaml"
    taken.write_text(readings)
    return trace_ends(str(circuit), str(taken) if readings else "")


def test_points_joined_by_wires_are_one_line():
    lines = {line.name: line.points for line in lines_of(read_circuit(LOOM))}
    assert lines["SL.2"] == ("SL.2", "HIL.1")
    assert lines["XT.1a"] == ("XT.1a",)
    assert sum(len(points) for points in lines.values()) == len(read_circuit(LOOM).points())


def test_every_end_of_the_towbar_loom_is_recovered():
    answer = trace_ends(str(LOOM), str(EXAMPLES / "towbar_readings.yaml"))
    assert {one.wire for one in answer.ends} == set(TRUE_ENDS)
    for one in answer.ends:
        assert TRUE_ENDS[one.wire] in one.destinations[0].points, one.text
        assert one.destinations[0].probability > 0.95
    status = {one.wire: one.status for one in answer.ends}
    assert [name for name, told in status.items() if told == "found"] == ["T1", "T2", "T4", "T6"]
    # both tail fuses hang on one switch: with them in, no reading tells left from right
    assert status["T5"] == status["T7"] == status["T3"] == "one of"
    assert answer.unexplained < 0.01


def test_the_lines_to_write_make_a_van_that_reads_as_measured():
    answer = trace_ends(str(LOOM), str(EXAMPLES / "towbar_readings.yaml"))
    written = {one.wire: one.line_to_write for one in answer.ends}
    assert written["T1"] == "- [T1, XT.1a, SL.2, 1.5 mm2, unknown, YE]"
    text = LOOM.read_text()
    assert {name for name, entry in written.items() if not entry} == {"T3", "T5", "T7"}
    for name, entry in ((name, entry) for name, entry in written.items() if entry):
        old = next(line for line in text.splitlines() if line.startswith(f"  - [{name},"))
        text = text.replace(old, f"  {entry}")
    from loomwright.circuit import read_circuit_text, solve_all

    results = solve_all(read_circuit_text(text))
    # what no reading tells apart stays unknown in the file
    assert set(loose_wires(read_circuit_text(text))) == {"T3", "T5", "T7"}
    assert results["left"].points["XT.1a"].volts == pytest.approx(12.4, abs=0.3)  # battery 2 %
    assert abs(results["right"].points["XT.1a"].volts) < 0.1


def test_without_readings_nothing_is_concluded_and_a_reading_is_offered(tmp_path):
    answer = small(tmp_path)
    assert [one.status for one in answer.ends] == ["open", "open"]
    assert all(not one.line_to_write for one in answer.ends)
    assert "cannot be concluded" in answer.ends[0].text
    assert answer.next_readings
    assert answer.next_readings[0].bits > 0.3
    rates = [one.bits / one.minutes for one in answer.next_readings]
    assert rates == sorted(rates, reverse=True)


def test_each_offered_reading_leads_to_the_true_ends(tmp_path):
    """Take what is offered, as the true circuit reads it, until nothing is offered."""
    (tmp_path / "small.yaml").write_text(SMALL)
    loose = read_circuit(tmp_path / "small.yaml")
    true = CircuitPlant(completed(loose, {"L1": "H1.1", "L2": "H2.1"}))
    readings = ""
    for _ in range(12):
        answer = small(tmp_path, readings)
        if not answer.next_readings:
            break
        check = answer.next_readings[0].check
        truth = true.check_for(check.state, check.quantity, check.at, check.to, check.instrument)
        seen = true.predict((NO_FAULT,), (truth,))
        if check.levels:
            value = check.levels[int(seen.levels[0][10, 0].argmax())]
        else:
            value = f"{seen.mean[10, 0, 0]:.2f} {check.unit}"
        readings += (f"- {{state: {check.state}, quantity: {check.quantity}, at: {check.at}, "
                     + (f"to: {check.to}, " if check.to else "")
                     + f"value: '{value}', instrument: {check.instrument}}}\n")
    assert [one.destinations[0].points for one in answer.ends] == [("H1.1",), ("H2.1",)], readings
    assert [one.status for one in answer.ends] == ["found", "found"]
    assert answer.ends[1].line_to_write == "- [L2, S2.2, H2.1, unknown, unknown]"


def test_two_earths_cannot_be_told_apart_and_are_named_together(tmp_path):
    answer = small(tmp_path, "- {state: off, quantity: resistance, at: S1.2, to: E1, "
                             "value: 0.2 ohm}\n"
                             "- {state: off, quantity: continuity, at: S2.2, to: E1, "
                             "value: open}\n")
    first = answer.ends[0]
    assert first.status == "one of"
    assert {"E1", "E2", "BAT.-"} <= set(first.destinations[0].points)
    assert "No reading tells these apart" in first.text


def test_readings_that_fit_no_end_are_said(tmp_path):
    answer = small(tmp_path, "- {state: off, quantity: voltage, at: F1.2, value: 6.1 V}\n"
                             "- {state: off, quantity: voltage, at: F1.1, value: 6.1 V}\n"
                             "- {state: one, quantity: voltage, at: F1.1, value: 6.1 V}\n")
    assert answer.unexplained > 0.5
    assert any("No set of destinations" in note for note in answer.notes)


def test_bad_names_and_whole_circuits_are_told(tmp_path):
    taken = tmp_path / "r.yaml"
    taken.write_text("- {state: left, quantity: voltage, at: XT.9a, value: 1 V}\n")
    with pytest.raises(LoomwrightError, match="XT.9a"):
        trace_ends(str(LOOM), str(taken))
    circuit = read_circuit(LOOM)
    with pytest.raises(UnknownNameError, match="W1"):
        EndsPlant(circuit, ["W1"])
    with pytest.raises(UnknownNameError, match="HIL.9"):
        completed(circuit, {"T1": "HIL.9"})
    whole = tmp_path / "whole.yaml"
    whole.write_text(SMALL.replace("S1.2, unknown", "S1.2, H1.1").replace(
        "S2.2, unknown", "S2.2, H2.1"))
    with pytest.raises(UsageError, match="both its ends"):
        trace_ends(str(whole), "")
