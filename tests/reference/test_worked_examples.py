"""Published worked examples of direct-current circuits, solved from their circuit files.

Sources, by the ids used below:
S36  OpenStax, College Physics, chapters 20 and 21 (published, printed answers)
S33  US Army OD1633, S34 US DOE fundamentals handbook, S35 US Army IT0334, S133 US Army OD0611
     (published, printed answers; where only part was printed the rest follows by Ohm's law)

Left out: E11 (filament temperature), E20 and E21 (time constants) and E13 (a bare wire; the
conductor tables have their own tests) are not questions about a direct-current network.

Each tolerance is half a unit of the last printed digit, or 1e-4 of a fraction given exactly;
wires of 5e-8 ohm and sources of 1e-8 ohm stand for ideal ones, far below either.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.circuit import solve
from loomwright.circuit.batch import Variant, solve_batch, solve_isolated
from loomwright.circuit.model import Circuit, StateResult
from loomwright.circuit.reader import read_circuit

CIRCUITS = Path(__file__).parent / "circuits"

# file, quantity, part, printed, half a unit of the last printed digit, source
PRINTED = [
    ("e01_series", "A", "R1", 0.600, 0.0005, "S36"),
    ("e01_series", "V", "R1", 0.600, 0.0005, "S36"),
    ("e01_series", "V", "R2", 3.60, 0.005, "S36"),
    ("e01_series", "V", "R3", 7.80, 0.005, "S36"),
    ("e01_series", "W", "R1", 0.360, 0.0005, "S36"),
    ("e01_series", "W", "R2", 2.16, 0.005, "S36"),
    ("e01_series", "W", "R3", 4.68, 0.005, "S36"),
    ("e01_series", "W", "BAT", 7.20, 0.005, "S36"),
    ("e01_series", "ohm", "BAT", 20.0, 0.05, "S36"),
    ("e02_parallel", "ohm", "BAT", 0.804, 0.0005, "S36"),
    ("e02_parallel", "A", "BAT", 14.92, 0.005, "S36"),
    ("e02_parallel", "A", "R1", 12.0, 0.05, "S36"),
    ("e02_parallel", "A", "R2", 2.00, 0.005, "S36"),
    ("e02_parallel", "A", "R3", 0.92, 0.005, "S36"),
    ("e02_parallel", "W", "R1", 144, 0.5, "S36"),
    ("e03_feed", "ohm", "BAT", 5.11, 0.0055, "S36: 5.105 printed as 5.11"),
    ("e03_feed", "V", "R0", 2.35, 0.005, "S36"),
    ("e03_feed", "A", "R1", 1.61, 0.005, "S36"),
    ("e03_feed", "A", "R2", 0.74, 0.015, "S36: 0.7402 from rounded volts"),
    ("e04_light", "V", "R1", 11.9, 0.05, "S36"),
    ("e04_heavy", "A", "R1", 20.0, 0.05, "S36"),
    ("e04_heavy", "V", "R1", 10.0, 0.05, "S36"),
    ("e04_heavy", "W", "R1", 200, 0.5, "S36"),
    ("e04_tired", "A", "R1", 12.0, 0.05, "S36"),
    ("e04_tired", "V", "R1", 6.00, 0.005, "S36"),
    ("e04_tired", "W", "R1", 72.0, 0.05, "S36"),
    ("e05_starter", "A", "R1", 200, 0.5, "S36"),
    ("e05_starter", "V", "R1", 10.0, 0.05, "S36"),
    ("e05_starter", "W", "R1", 2000, 5, "S36"),
    ("e05_corroded", "A", "R2", 80.0, 0.05, "S36"),
    ("e05_corroded", "V", "R2", 4.0, 0.05, "S36"),
    ("e05_corroded", "W", "R2", 320, 0.5, "S36"),
    ("e06_two_sources", "A", "R1", 4.75, 0.005, "S36"),
    ("e06_two_sources", "A", "R2", -3.50, 0.005, "S36"),
    ("e06_two_sources", "A", "R3", 8.25, 0.005, "S36"),
    ("e07_charging", "A", "BAT", 8.00, 0.005, "S36: 0.375 ohm takes 8.00 A at 15.0 V"),
    ("e09_starter", "A", "R1", 150, 0.5, "S36: 0.0733 ohm takes 150 A at 11.0 V"),
    ("e10_headlamp", "A", "H1", 2.50, 0.005, "S36"),
    ("e10_headlamp", "W", "H1", 30.0, 0.05, "S36"),
    ("e10_headlamp", "ohm", "H1", 4.80, 0.005, "S36"),
    ("e12_lamp_in_series", "W", "BAT", 29.6, 0.05, "S36"),
    ("e14_group", "W", "R1", 20, 0.05, "S36"),
    ("e14_group", "W", "R2", 20, 0.05, "S36"),
    ("e14_group", "W", "R3", 40, 0.05, "S36"),
    ("e14_group", "W", "R0", 64, 0.05, "S36"),
    ("e14_group", "W", "BAT", 144, 0.05, "S36"),
    ("e15_two_sources", "A", "R1", 8 / 15, 1e-4, "S36"),
    ("e15_two_sources", "A", "R2", 7 / 15, 1e-4, "S36"),
    ("e15_two_sources", "A", "R3", -1 / 15, 1e-4, "S36"),
    ("e16_switch", "A", "R1", 2 / 5, 1e-4, "S36"),
    ("e16_switch", "A", "R2", 3 / 5, 1e-4, "S36"),
    ("e16_switch", "A", "R3", 1 / 5, 1e-4, "S36"),
    ("e16_switch", "W", "BAT", 18 / 5, 1e-4, "S36"),
    ("e18_start", "A", "R1", 10.0, 0.05, "S36"),
    ("e18_running", "A", "R1", 1.67, 0.005, "S36"),
    ("e19_running", "A", "R1", 8.00, 0.005, "S36: 72.0 V of back-EMF leaves 8.00 A"),
    ("e22_shared_feed", "A", "R0", 15.0, 0.05, "S36"),
    ("e22_shared_feed", "W", "R1", 67.7, 0.05, "S36"),
    ("e22_shared_feed", "W", "R2", 1640, 5, "S36"),
    ("e23_cell", "A", "R1", 1.58e-3, 0.005e-3, "S36"),
    ("e23_cell", "V", "R1", 1.5848, 0.00005, "S36"),
    ("e24_ammeter", "ohm", "BAT", 10.02, 0.005, "S36"),
    ("e24_ammeter", "A", "R1", 1.2 * 0.9980, 1.2 * 0.00005, "S36: ratio 0.9980"),
    ("e25_shunt", "A", "R1", 50.0e-6, 0.05e-6, "S36"),
    ("e25_shunt", "A", "R0", 10.0, 0.05, "S36"),
    ("e25_series", "A", "R2", 50.0e-6, 0.05e-6, "S36"),
    ("e40_series", "A", "R1", 4, 0.05, "S33"),
    ("e40_series", "W", "R1", 80, 0.5, "S33"),
    ("e40_series", "W", "R2", 160, 0.5, "S33"),
    ("e40_series", "W", "R3", 240, 0.5, "S33"),
    ("e40_series", "W", "BAT", 480, 0.5, "S33"),
    ("e41_series", "A", "R1", 0.5, 0.0005, "S34"),
    ("e41_series", "ohm", "BAT", 225, 0.5, "S34"),
    ("e42_series", "A", "R1", 0.6, 0.0005, "S34"),
    ("e42_series", "V", "R1", 24, 0.05, "S34, drop computed"),
    ("e42_series", "V", "R2", 36, 0.05, "S34, drop computed"),
    ("e42_series", "V", "R3", 60, 0.05, "S34, drop computed"),
    ("e43_series", "V", "R1", 100, 0.5, "S35"),
    ("e43_series", "V", "R2", 30, 0.05, "S35"),
    ("e43_series", "V", "R3", 70, 0.05, "S35"),
    ("e44_parallel", "A", "BAT", 2, 0.005, "S35"),
    ("e44_parallel", "ohm", "BAT", 18, 0.05, "S35"),
    ("e45_parallel", "A", "BAT", 2, 0.005, "S35"),
    ("e45_parallel", "A", "R1", 1, 0.005, "S35"),
    ("e46_headlamp", "A", "H1", 1.8, 0.005, "S133"),
    ("e46_headlamp", "ohm", "H1", 13.3, 0.05, "S133"),
    ("e47_wiper", "A", "R1", 4, 0.005, "S133"),
    ("e48_ohm", "A", "R1", 15, 0.005, "S133"),
]


def circuit(name: str) -> Circuit:
    """Return one of the circuits beside this test."""
    return read_circuit(CIRCUITS / f"{name}.yaml")


def drop_v(result: StateResult, part: str) -> float:
    """Return the volts across a part, plus post first for a battery."""
    ends = ("+", "-") if part == "BAT" else ("1", "2")
    first, second = (result.points[f"{part}.{end}"].volts for end in ends)
    return first - second


@pytest.mark.parametrize(("file", "quantity", "part", "printed", "tolerance", "source"), PRINTED)
def test_the_solver_gives_the_printed_answer(
    file: str, quantity: str, part: str, printed: float, tolerance: float, source: str
) -> None:
    result = solve(circuit(file), "closed")
    amps, volts = result.parts[part].amps, drop_v(result, part)
    assert amps is not None
    found = {"A": amps, "V": volts, "W": amps * volts, "ohm": volts / amps}[quantity]
    # 1e-6: a number that falls just on the rounding edge, such as 5.1053 against 5.11
    assert found == pytest.approx(printed, abs=tolerance * (1 + 1e-6)), source


def test_load_step_shows_the_internal_resistance() -> None:
    # S36, E08: the terminals fall 2.00 V when the current rises 5.00 A: 0.400 ohm
    file = circuit("e08_load_step")
    light, heavy = solve(file, "light"), solve(file, "heavy")
    fall = drop_v(light, "BAT") - drop_v(heavy, "BAT")
    rise = heavy.parts["BAT"].amps - light.parts["BAT"].amps  # type: ignore[operator]
    assert fall / rise == pytest.approx(0.400, rel=1e-6)  # the method is exact for any step


def test_cold_headlamp_takes_the_printed_inrush() -> None:
    # S36, E10: 0.350 ohm cold takes 34.3 A and 411 W from 12.0 V, each to the last printed digit
    ohms = solve_isolated(circuit("e10_headlamp"), (Variant(),), [("H1.1", "H1.2")])[0, 0]
    assert 12.0 / ohms == pytest.approx(34.3, abs=0.05)
    assert 12.0**2 / ohms == pytest.approx(411, abs=0.5)


def test_balanced_bridge_reads_nothing() -> None:
    # S36, E17: R3 2500 ohm and R2/R1 0.625 balance 1.56 kohm (1562.5): no volts across the middle
    result = solve_batch(circuit("e17_bridge"), "closed", (Variant(),))
    volts, _ = result.voltage("R1.2", "R3.2")
    assert volts[0] == pytest.approx(0, abs=1e-6)  # wires of 5e-8 ohm unbalance it by 1e-9 V


def test_a_meter_of_one_kilohm_loads_a_cell() -> None:
    # S36, E23, with the meter as an instrument on a circuit that has its load switched away:
    # 1.585 V behind 0.100 ohm, beside a load of 1 kohm: two equal 1 kohm loads, 1.58468 V
    result = solve_batch(circuit("e23_cell"), "closed", (Variant(),))
    volts, _ = result.voltage("R1.1", "R1.2", load_ohm=1000.0)
    assert volts[0] == pytest.approx(1.585 / (1 + 0.1 / 500), rel=1e-6)  # linear: exact
