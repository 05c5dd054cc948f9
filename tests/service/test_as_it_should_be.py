"""Whether a value is 'as it should be' does not lean on a battery that is nearly flat."""

from __future__ import annotations

from loomwright.service.benches import Bench

WORK_LAMPS = """
loomwright: 1
title: Work lamps
system: 12 V
parts:
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 20 A}
  S1: {kind: switch, closed when: lamp switch}
  H1: {kind: lamp, power: 55 W}
  H2: {kind: lamp, power: 55 W}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, F1.1, 4 mm2, 1.5 m, RD]
  - [W2, F1.2, S1.1, 2.5 mm2, 1 m, RD]
  - [W3, S1.2, H1.1, 2.5 mm2, 4 m, YE]
  - [W4, H1.1, H2.1, 1.5 mm2, 1 m, YE]
  - [W5, H1.2, E1, 2.5 mm2, 0.5 m, BN]
  - [W6, H2.2, E1, 2.5 mm2, 0.5 m, BN]
states: {at rest: {}, lamps on: {lamp switch: on}}
"""


def test_amps_of_a_poor_joint_are_not_as_they_should_be() -> None:
    """6.7 A where 9 A flow: a battery at 9 V would give it, and so does 0.8 ohm."""
    from loomwright.circuit import read_circuit_text

    bench = Bench(read_circuit_text(WORK_LAMPS))
    amps = bench.plant.check_for("lamps on", "current", "W3", "", "clamp")
    healthy = bench.healthy(amps)
    assert isinstance(healthy, float)
    assert bench.is_healthy(amps, healthy)
    assert not bench.is_healthy(amps, 0.73 * healthy)


def test_a_usual_battery_is_as_it_should_be_and_an_empty_one_is_not() -> None:
    """12.0 V and 14.2 V (engine running) are usual of a 12 V system; 10.6 V is an empty battery."""
    from loomwright.circuit import read_circuit_text

    bench = Bench(read_circuit_text(WORK_LAMPS))
    volts = bench.plant.check_for("lamps on", "voltage", "BAT.+", "", "meter")
    assert [bench.is_healthy(volts, seen) for seen in (12.0, 12.5, 14.2)] == [True] * 3
    assert not bench.is_healthy(volts, 10.6)
