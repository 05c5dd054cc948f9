"""Parts that follow a quantity of the state: sender and thermistor."""

from __future__ import annotations

import math

import pytest

from loomwright.circuit import read_circuit_text, solve_all
from loomwright.circuit.kinds.thermistor import thermistor_ohm
from loomwright.errors import FileProblemsError
from tests.circuit.kinds.benches import bench, fault_shows

SENDER = ("R1: {kind: resistor, resistance: 100 ohm}\n"
          "B1: {kind: sender, reads: fuel, empty: 300 ohm, full: 20 ohm}")
NTC = ("R1: {kind: resistor, resistance: 1 kohm}\n"
       "B1: {kind: thermistor, reads: coolant, resistance: 2.5 kohm, beta: 3500 K}")
WIRES = "BAT.+, R1.1\nR1.2, B1.1\nB1.2, BAT.-"
LEVELS = "empty: {fuel: no};half: {fuel: 50 %};full: {fuel: yes}"
DEGREES = "cold: {coolant: -20 degC};mild: {coolant: 25 degC};hot: {coolant: 90 degC};unsaid: {}"


def volts(parts: str, states: str) -> dict[str, float]:
    results = solve_all(bench(12, parts, WIRES, states))
    return {state: found.points["R1.2"].volts for state, found in results.items()}


def test_a_sender_divides_by_its_level() -> None:
    found = volts(SENDER, LEVELS)
    # by hand: 12 x 300/400, 12 x 160/260, 12 x 20/120 V; the slider has a milliohm
    assert found["empty"] == pytest.approx(9.0, abs=1e-3)
    assert found["half"] == pytest.approx(12 * 160 / 260, abs=1e-3)
    assert found["full"] == pytest.approx(2.0, abs=1e-3)


def test_more_fuel_gives_fewer_volts() -> None:
    states = ";".join(f"s{share}: {{fuel: {share} %}}" for share in range(0, 101, 10))
    falling = list(volts(SENDER, states).values())
    assert falling == sorted(falling, reverse=True)


def test_the_beta_law_by_hand() -> None:
    assert thermistor_ohm(2500, 3500, 25) == pytest.approx(2500)
    # 3500 (1/363.15 - 1/298.15) = -2.1012; 2500 e^-2.1012 = 305.8 ohm
    assert thermistor_ohm(2500, 3500, 90) == pytest.approx(305.8, rel=1e-3)
    ohms = [thermistor_ohm(2500, 3500, degrees) for degrees in range(-40, 151, 10)]
    assert ohms == sorted(ohms, reverse=True)
    assert math.isfinite(ohms[0])


def test_a_thermistor_follows_the_state_and_else_the_file() -> None:
    found = volts(NTC, DEGREES)
    for state, degrees in (("cold", -20), ("mild", 25), ("hot", 90), ("unsaid", 20)):
        ohm = thermistor_ohm(2500, 3500, degrees)
        # a 10 Mohm meter on some 3 kohm: 0.03 %
        assert found[state] == pytest.approx(12 * ohm / (ohm + 1000), rel=5e-4)


def test_a_quantity_of_another_unit_is_refused() -> None:
    for text in ("3 V", "300 %", "halfway"):
        with pytest.raises(FileProblemsError, match="fuel"):
            bench(12, SENDER, WIRES, f"here: {{fuel: {text}}}")


def test_a_quantity_may_also_close_a_switch() -> None:
    parts = SENDER + "\nS1: {kind: switch, closed when: fuel}"
    circuit = bench(12, parts, "BAT.+, R1.1\nR1.2, B1.1\nB1.2, S1.1\nS1.2, BAT.-",
                    "some: {fuel: 10 %};none: {fuel: 0 %}")
    doing = [found.parts["S1"].doing for found in solve_all(circuit).values()]
    assert doing == ["closed", "open"]


@pytest.mark.parametrize(("parts", "states"), [(SENDER, LEVELS), (NTC, DEGREES)])
def test_every_fault_shows(parts: str, states: str) -> None:
    shows = fault_shows(bench(12, parts, WIRES, states), "B1")
    assert set(shows) == {"open:B1", "shorted:B1", "high-resistance:B1"}
    assert all({"volts", "ohms"} <= how for how in shows.values())


def test_a_file_says_what_a_sender_reads() -> None:
    circuit = read_circuit_text(
        "loomwright: 1\nsystem: 12 V\nparts:\n  BAT: {kind: battery}\n"
        "  B1: {kind: sender, reads: fuel level}\n"
        "wires:\n  - [W1, BAT.+, B1.1]\n  - [W2, B1.2, BAT.-]\nstates:\n  low: {fuel level: 5 %}\n")
    assert circuit.parts["B1"].params["reads"] == "fuel level"
    assert circuit.parts["B1"].assumed == {"empty_ohm", "full_ohm"}
