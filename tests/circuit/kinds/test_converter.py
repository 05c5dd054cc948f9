"""DC-DC converter."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, read_circuit_text, solve
from loomwright.circuit.model import Circuit
from loomwright.circuit.templates import template_text
from tests.circuit.kinds.benches import bench, fault_shows
from tests.support.demo import small

PARTS = ("U1: {kind: dc-dc converter, volts: 13.8 V, limit: 10 A, efficiency: 88 %%}\n"
         "F1: {kind: fuse, rating: 15 A}\nR1: {kind: resistor, resistance: %s ohm}")
WIRES = "BAT.+, F1.1\nF1.2, U1.in\nU1.-, BAT.-\nU1.out, R1.1\nR1.2, BAT.-"


def vehicle(ohm: float, volts: float = 25.2) -> Circuit:
    return bench(volts, PARTS % ohm, WIRES)


def test_it_holds_its_volts() -> None:
    found = solve(vehicle(3.0), "here")
    # 13.8 V behind 0.02 ohm over 3 ohm
    assert found.points["U1.out"].volts == pytest.approx(13.8 * 3 / 3.02, rel=1e-4)


@pytest.mark.parametrize("ohm", [1.5, 3.0, 30.0])
def test_input_and_output_power_balance(ohm: float) -> None:
    found = solve(vehicle(ohm), "here")
    out = found.points["U1.out"].volts * found.wires["W4"]
    own = found.points["U1.in"].volts * found.wires["W2"]
    idle = found.points["U1.in"].volts ** 2 / (24 / 0.02)
    assert own - idle == pytest.approx(out / 0.88, rel=1e-5)


def test_beyond_its_limit_the_volts_fall() -> None:
    found = solve(vehicle(0.5), "here")
    assert found.wires["W4"] == pytest.approx(10.0, rel=1e-4)
    assert found.points["U1.out"].volts == pytest.approx(5.0, rel=1e-3)


def test_lower_volts_in_draw_more_amps() -> None:
    amps = [solve(vehicle(3.0, volts), "here").wires["W1"] for volts in (28, 26, 24, 22)]
    assert amps == sorted(amps)


def test_it_stops_below_its_least_input() -> None:
    assert solve(vehicle(3.0, 19.0), "here").points["U1.out"].volts == pytest.approx(0.0, abs=1e-3)


def test_a_poor_feed_makes_it_start_and_stop() -> None:
    circuit = small("BAT: {kind: battery}\n" + PARTS % 1.5, WIRES, system="24 V")
    found = solve(circuit.with_faults([parse_fault(circuit, "high-resistance:W1:1.5")]), "here")
    assert any("chatters" in note for note in found.notes)


def test_every_fault_shows() -> None:
    shows = fault_shows(vehicle(3.0), "U1")
    assert set(shows) == {"dead:U1", "shorted:U1", "output-low:U1"}
    assert all("volts" in how for how in shows.values())


def test_a_converter_without_a_load_is_on_while_it_gives_its_volts() -> None:
    circuit = read_circuit_text(template_text("converter-24-12"))
    resting, fed = solve(circuit, "at rest"), solve(circuit, "accessory")
    assert resting.parts["CON"].doing == "off"
    assert fed.parts["CON"].doing == "on"
    assert fed.points["CON.out"].volts > 12
