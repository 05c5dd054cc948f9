"""Fuses that a fault blows, with the amps and the time: against Ohm's law by hand."""

import pytest

from loomwright.circuit import CircuitPlant, parse_fault, read_circuit_text
from loomwright.circuit.blowing import opening_time
from loomwright.circuit.plant.consequences import consequences
from loomwright.plant import Hypothesis, consequences_of

MOTOR = """
loomwright: 1
title: Pump
system: 12 V
parts:
  BAT: {kind: battery}
  F0: {kind: fuse, rating: 60 A}
  F1: {kind: fuse, rating: 10 A}
  S1: {kind: switch, closed when: pump}
  M1: {kind: motor, current: 6 A}
  E1: {kind: earth}
wires:
  - [W0, BAT.+, F0.1, 16 mm2, 0.5 m, RD]
  - [W1, F0.2, F1.1, 6 mm2, 0.5 m, RD]
  - [W2, F1.2, S1.1, 2.5 mm2, 1 m, RD]
  - [W3, S1.2, M1.1, 2.5 mm2, 1 m, BK]
  - [W4, M1.2, E1, 2.5 mm2, 0.5 m, BN]
states:
  at rest: {}
  pumping: {pump: on}
should:
  pumping: {M1: on}
"""


def blown(*ids: str):  # type: ignore[no-untyped-def]
    circuit = read_circuit_text(MOTOR)
    return consequences(circuit, [parse_fault(circuit, one) for one in ids])


def test_a_seized_motor_blows_its_fuse_at_its_stall_current() -> None:
    (one,) = blown("seized:M1")
    assert (one.element, one.act, one.size, one.state) == ("F1", "blew", "10 A", "pumping")
    # stalled, a motor takes five times its rated current at system volts (docs/models/circuit.md);
    # 12.6 V behind some 60 milliohm of wire, fuse, switch and battery leaves about 28 to 30 A
    amps = float(one.at.removesuffix(" A"))
    assert 27.0 < amps < 31.0
    part = read_circuit_text(MOTOR).parts["F1"]
    table = opening_time(part, amps)
    assert table is not None
    assert one.least_s is not None
    assert one.most_s is not None
    # three digits of the amps are shown, and the time goes with their square or faster
    assert one.least_s == pytest.approx(table.least_s, rel=0.05)
    assert one.most_s == pytest.approx(table.most_s, rel=0.05)
    assert "from memory" in one.grade


def test_a_shorted_wire_blows_the_fuse_before_it_and_no_other() -> None:
    (one,) = blown("short-to-earth:W2")
    assert (one.element, one.state) == ("F1", "at rest")  # the switch lies behind the short
    (behind,) = blown("short-to-earth:W3")
    assert (behind.element, behind.state) == ("F1", "pumping")
    (main,) = blown("short-to-earth:W1")
    assert main.element == "F0"


@pytest.mark.parametrize("fault", ["open:W3", "high-resistance:W3:0.5", "blown:F1",
                                   "short-to-earth:W0", "stuck-closed:S1"])
def test_what_blows_nothing_has_no_consequence(fault: str) -> None:
    assert blown(fault) == ()


def test_two_faults_at_once_and_what_opens_without_them() -> None:
    both = blown("seized:M1", "short-to-earth:W1")
    assert [one.element for one in both] == ["F0"]  # nothing reaches the motor any more
    small = read_circuit_text(MOTOR.replace("rating: 10 A", "rating: 3 A"))
    assert consequences(small, [parse_fault(small, "seized:M1")]) == ()  # 3 A blows anyway


def test_the_plant_tells_it_by_hypothesis() -> None:
    plant = CircuitPlant(read_circuit_text(MOTOR))
    row = Hypothesis("seized:M1", "M1", "seized", "replace M1", 0.5)
    assert [one.element for one in consequences_of(plant, row)] == ["F1"]
    joined = Hypothesis("open:W4+short-to-earth:W2", "W4+W2", "open+short-to-earth", "?", 0.1)
    assert [one.element for one in consequences_of(plant, joined)] == ["F1"]
    assert consequences_of(object(), row) == ()  # type: ignore[arg-type]


def test_what_all_faults_open_is_the_same_found_together_or_one_by_one() -> None:
    together = CircuitPlant(read_circuit_text(MOTOR))
    together.foresee(together.faults())
    told = [consequences_of(together, row) for row in together.faults()]
    one_by_one = CircuitPlant(read_circuit_text(MOTOR))
    assert told == [consequences_of(one_by_one, row) for row in one_by_one.faults()]
    assert any(told)
