"""Outputs of a controller: what leaks while one is off, its limit, what it feels of its load."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve
from loomwright.circuit.batch import Variant, solve_batch
from loomwright.circuit.model import Circuit
from tests.circuit.kinds.benches import bench

KEYS = "pin: 3, drives: high side, limit: 5 A, when: go"
STATES = "off: {};on: {go: yes}"


def controller(load: str = "", keys: str = KEYS) -> Circuit:
    """Return a controller on 12 V with a load, if any, from its output to the minus."""
    parts = f"ECU: {{kind: controller, supply: 1, earth: 2, outputs: {{out: {{{keys}}}}}}}"
    wires = "BAT.+, ECU.1\nECU.2, BAT.-"
    return bench(12, f"{parts}\n{load}", f"{wires}\nECU.3, H1.1\nH1.2, BAT.-" if load else wires,
                 STATES)


def test_an_output_that_leaks_shows_volts_until_it_is_loaded() -> None:
    # 0.2 mA at 12 V is 60 kilohm: a 10 Mohm meter shows 12 V x 10/10.06, a 10 ohm lamp 2 mV
    result = solve_batch(controller(keys=f"{KEYS}, leakage: 0.2 mA"), "off", (Variant(),))
    meter, floats = result.voltage("ECU.3")
    lamp, _ = result.voltage("ECU.3", load_ohm=10)
    assert not floats[0]
    assert meter[0] == pytest.approx(12 * 10 / 10.06, rel=1e-4)
    assert lamp[0] == pytest.approx(12 * 10 / 60_010, rel=1e-4)


def test_without_a_word_of_leakage_the_pin_floats() -> None:
    assert solve(controller(), "off").points["ECU.3"].floating


def test_light_diodes_glow_on_what_leaks_and_a_bulb_does_not() -> None:
    keys = f"{KEYS}, leakage: 5 mA"
    led = solve(controller("H1: {kind: led lamp, current: 20 mA}", keys), "off")
    bulb = solve(controller("H1: {kind: lamp, power: 5 W}", keys), "off")
    assert led.parts["H1"].doing == "dim"
    assert bulb.parts["H1"].doing == "off"


def test_a_dead_driver_does_not_leak() -> None:
    leaking = controller("H1: {kind: led lamp, current: 20 mA}", f"{KEYS}, leakage: 5 mA")
    dead = leaking.with_faults([parse_fault(leaking, "driver-dead:ECU.out")])
    assert solve(dead, "off").parts["H1"].doing == "off"


@pytest.mark.parametrize(("load", "on"), [
    ("H1: {kind: resistor, resistance: 2.5 ohm}", True),  # 12 V / 2.6 ohm = 4.6 A
    ("H1: {kind: resistor, resistance: 2.2 ohm}", False),  # 5.2 A
])
def test_the_limit_is_one_of_current(load: str, on: bool) -> None:
    found = solve(controller(load), "on")
    assert (abs(found.parts["H1"].amps or 0) > 1) is on
    assert any("protects itself" in note for note in found.notes) is not on


@pytest.mark.parametrize(("fault", "warns"), [("", "off"), ("burnt-out:H1", "on"),
                                              ("open:W4", "on")])
def test_it_feels_that_its_load_takes_too_little(fault: str, warns: str) -> None:
    parts = (f"ECU: {{kind: controller, supply: 1, earth: 2, outputs: {{out: {{{KEYS}, lamp out "
             "below: 1 A}, warn: {pin: 4, when: out lamp out}}}\n"
             "H1: {kind: lamp, power: 21 W}\nH2: {kind: lamp, power: 2 W}")
    circuit = bench(12, parts, "BAT.+, ECU.1\nECU.2, BAT.-\nECU.3, H1.1\nH1.2, BAT.-\n"
                               "ECU.4, H2.1\nH2.2, BAT.-", STATES)
    faults = [parse_fault(circuit, fault)] if fault else []
    assert solve(circuit.with_faults(faults), "on").parts["H2"].doing == warns
