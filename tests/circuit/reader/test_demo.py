"""The demo circuit reads whole, quickly, and with what was not given marked as assumed."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest

from loomwright.circuit.model import Mark, WireEnd
from loomwright.circuit.reader import read_circuit, read_circuit_text

DEMO = resources.files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text("utf-8")


def test_demo_counts():
    circuit = read_circuit_text(DEMO)
    assert (len(circuit.parts), len(circuit.wires), len(circuit.states)) == (21, 32, 5)
    assert circuit.title == "Tailgate lock, rear-loader refuse truck"
    assert circuit.system_v == 24.0
    assert circuit.places["tailgate"].reach_min == 8.0


def test_demo_part_values_come_from_file_and_defaults():
    circuit = read_circuit_text(DEMO)
    assert circuit.parts["F12"].params["rating_a"] == 10.0
    assert "rating_a" not in circuit.parts["F12"].assumed
    assert "resistance_ohm" in circuit.parts["F12"].assumed
    assert circuit.parts["ECU"].price == 900.0
    assert circuit.parts["F12"].mark == Mark(14, 8)


def test_demo_wire_ends_keep_their_pins_as_typed():
    wires = read_circuit_text(DEMO).wires
    assert wires["W20"].start == WireEnd("X1", "2a")
    assert wires["W20"].end == WireEnd("ECU", "11")
    assert wires["W2"].end == WireEnd("SP1", "")
    assert wires["W16"].colour == "GY/BU"
    assert wires["W16"].assumed == frozenset()


def test_demo_states_and_targets():
    circuit = read_circuit_text(DEMO)
    assert circuit.states["at rest"] == {}
    assert circuit.states["locking"]["tailgate shut"] == "yes"
    assert circuit.should["open"] == {"Y1": "off", "H1": "on", "H7": "on"}


def test_read_from_a_path_names_the_file(tmp_path: Path):
    path = tmp_path / "lock.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + DEMO.replace("\n", "\r\n").encode())
    circuit = read_circuit(path)
    assert circuit.file == str(path)
    assert circuit.parts == read_circuit_text(DEMO).parts


SMALL = """\
loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  30: {kind: fuse, place: dash}
  1e3: {kind: lamp, label: unknown, power: }
  NO: {kind: switch, closed when: yes}
wires:
  - [W1, BAT.+, 30.1]
  - {id: W2, from: 30.2, to: NO.1, length: unknown, colour: gn/ye}
  - [W3, NO.2, 1e3.1, unknown, 3 m]
  - [W4, 1e3.2, BAT.-]
  - [W5, unknown, 30.2]
"""


def test_names_that_yaml_would_turn_into_numbers_and_truths_stay_names():
    circuit = read_circuit_text(SMALL)
    assert list(circuit.parts) == ["BAT", "30", "1e3", "NO"]
    assert circuit.wires["W2"].start == WireEnd("30", "2")
    assert str(circuit.parts["NO"].params["closed_when"]) == "always"


def test_what_is_left_out_is_assumed():
    circuit = read_circuit_text(SMALL)
    wire = circuit.wires["W1"]
    assert (wire.area_mm2, wire.length_m, wire.colour) == (1.0, 2.0, "")
    assert wire.assumed == {"area_mm2", "length_m", "colour"}
    assert circuit.wires["W2"].assumed == {"area_mm2", "length_m"}
    assert circuit.wires["W2"].colour == "GN/YE"
    assert circuit.wires["W3"].assumed == {"area_mm2", "colour"}
    assert circuit.parts["1e3"].label == ""


def test_places_nobody_described_get_a_default_reach():
    places = read_circuit_text(SMALL).places
    assert set(places) == {"dash", ""}
    assert places["dash"].assumed
    assert places["dash"].reach_min == 1.0


def test_a_file_without_states_has_one():
    assert read_circuit_text(SMALL).states == {"at rest": {}}


def test_a_wire_with_one_unknown_end_keeps_the_known_one():
    wire = read_circuit_text(SMALL).wires["W5"]
    assert wire.start == WireEnd("30", "2")
    assert wire.end is None


def test_minutes_to_set_a_state():
    text = DEMO + "setup:\n  locking: 30 s\n  open: 0 min\n"
    assert read_circuit_text(text).minutes_to_set == {"locking": 0.5, "open": 0.0}


def test_temperature_and_short_place():
    text = DEMO.replace("system: 24 V", "system: 24 V\ntemperature: -5 degC")
    circuit = read_circuit_text(text.replace("{reach: 5 min}", "7 min"))
    assert circuit.temperature_c == -5.0
    assert circuit.places["hinge"].reach_min == 7.0


@pytest.mark.parametrize(("typed", "meant"), [("no", "off"), ("Off", "off"), ("YES", "on")])
def test_targets_become_on_and_off(typed: str, meant: str):
    text = DEMO.replace("open:    {Y1: off", f"open:    {{Y1: {typed}")
    assert read_circuit_text(text).should["open"]["Y1"] == meant
