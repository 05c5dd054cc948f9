"""The vehicle's metal as a probe point, and ohms between the phase wires of a stator."""

from __future__ import annotations

import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.circuit.batch import Variant, solve_batch
from loomwright.circuit.readings import read_readings_text
from loomwright.errors import FileProblemsError, UnknownNameError
from loomwright.plant import NO_FAULT

EARTHED = """loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  S1: {kind: switch}
  H1: {kind: lamp, power: 60 W}
  E1: {kind: earth, resistance: 0.2 ohm}
wires:
  - [W1, BAT.+, S1.1, 2.5 mm2, 1 m]
  - [W2, S1.2, H1.1, 2.5 mm2, 1 m]
  - [W3, H1.2, E1, 2.5 mm2, 1 m]
states: {off: {}, lit: {S1: yes}}
"""


def test_volts_from_a_bad_earth_point_to_the_body_are_its_drop():
    circuit = read_circuit_text(EARTHED)
    result = solve_batch(circuit, "lit", (Variant(),))
    amps = result.wire_amps[result.wire_index["W3"]][0]
    drop, floats = result.voltage("E1", "body")
    # Ohm's law over the 0.2 ohm between the earth point and the metal; the meter takes nothing
    assert drop[0] == pytest.approx(0.2 * amps, rel=1e-6)
    assert drop[0] > 0.5
    assert not floats[0]
    assert abs(result.voltage("body")[0][0]) < 0.01  # only the battery's strap is between


def test_readings_and_checks_take_the_body_in_any_letters():
    circuit = read_circuit_text(EARTHED)
    plant = CircuitPlant(circuit)
    for name in ("body", "BODY"):
        text = f"- {{state: lit, quantity: voltage, at: E1, to: {name}, value: 0.9 V}}\n"
        assert read_readings_text(text, circuit)[0].to == name
        check = plant.check_for("lit", "voltage", "E1", name)
        assert check.to == "body"
    ohms = plant.check_for("", "resistance", "body", "E1")
    seen = plant.predict((NO_FAULT,), (check, ohms))
    middle = seen.mean.shape[0] // 2
    assert seen.mean[middle, 0, 0] > 0.5
    assert seen.mean[middle, 0, 1] == pytest.approx(0.3, abs=0.1)  # with 0.1 ohm of the leads
    assert plant.check_for("lit", "voltage", "body").to == "BAT.-"


def test_a_circuit_without_earth_points_has_no_body():
    text = EARTHED.replace("  E1: {kind: earth, resistance: 0.2 ohm}\n", "").replace(
        "H1.2, E1", "H1.2, BAT.-")
    circuit = read_circuit_text(text)
    with pytest.raises(UnknownNameError, match="body"):
        CircuitPlant(circuit).check_for("lit", "voltage", "H1.2", "body")
    with pytest.raises(FileProblemsError, match="body"):
        read_readings_text("- {state: lit, quantity: voltage, at: body, value: 0 V}\n", circuit)


def test_ohms_between_the_phase_wires_of_a_stator_are_offered():
    circuit = read_circuit_text("""loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  S: {kind: stator, resistance: 0.6 ohm}
  R: {kind: regulator rectifier, reads: engine}
  H1: {kind: lamp, power: 55 W}
  E1: {kind: earth}
wires:
  - [W1, S.A, R.A, 2.5 mm2, 1 m]
  - [W2, S.B, R.B, 2.5 mm2, 1 m]
  - [W3, S.C, R.C, 2.5 mm2, 1 m]
  - [W4, R.+, BAT.+, 2.5 mm2, 1 m]
  - [W5, R.-, E1, 2.5 mm2, 1 m]
  - [W6, BAT.+, H1.1, 2.5 mm2, 1 m]
  - [W7, H1.2, E1, 2.5 mm2, 1 m]
  - [W8, S.F, E1, 2.5 mm2, 1 m]
states: {stopped: {}, running: {engine: 4000 rpm}}
""")
    offered = {(one.at, one.to) for one in CircuitPlant(circuit).checks()
               if one.quantity == "resistance"}
    assert {("S.A", "S.B"), ("S.B", "S.C"), ("S.C", "S.A")} <= offered
