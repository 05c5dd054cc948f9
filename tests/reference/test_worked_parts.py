"""Worked examples about parts: equivalents, a fuse's volts, a charging cable, starter windings.

Sources, by the ids used below:
S36  OpenStax, College Physics, chapter 21 (published, printed answers)
S64, S65  a fuse maker's tables of volts across a fuse (published)
S68  acceptance limits of charging (the limit is published, the ohms follow from it)
S31  starter maker's sheet (amps published, ohms follow from them)

Every row of the table about a direct-current circuit is in this file or in
`test_worked_examples.py`; what is left out of both stands in `LEFT_OUT` with the reason.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

from loomwright.circuit import parse_fault, solve
from loomwright.circuit.batch import Variant, solve_isolated
from loomwright.data import table
from tests.circuit.kinds.benches import bench

# topic of the table -> why its rows ask nothing of a direct-current circuit
LEFT_OUT = {
    "relay coil": "time constants: E20, E21",
    "charge": "coulombs: E26",
    "wire": "a bare wire, E13: tested with the conductor tables",
    "wire size": "sizing",
    "max length": "sizing",
    "SOC": "chemistry of the battery",
    "resistance": "tested with the conductor tables",
    "temperature": "tested with the conductor tables",
}


def ohms_of(parts: str, wires: str) -> float:
    """Return what an ohmmeter shows from A.1 to the far end B.2."""
    circuit = bench(12.0, parts, f"BAT.+, A.1\n{wires}\nB.2, BAT.-")
    return float(solve_isolated(circuit, (Variant(),), [("A.1", "B.2")])[0, 0])


def resistors(ohm: float, names: str) -> str:
    return "\n".join(f"{name}: {{kind: resistor, resistance: {ohm} ohm}}" for name in names)


def test_ten_equal_resistors_in_series_and_in_parallel() -> None:
    # S36, E27: ten of 275 ohm, 2.75 kohm in series and 27.5 ohm in parallel, half a last digit
    names = "ACDEFGHIJB"
    series = "\n".join(f"{a}.2, {b}.1" for a, b in itertools.pairwise(names))
    parallel = "\n".join(f"A.{end}, {name}.{end}" for name in names[1:] for end in "12")
    assert ohms_of(resistors(275, names), series) == pytest.approx(2750, abs=5)
    assert ohms_of(resistors(275, names), parallel) == pytest.approx(27.5, abs=0.05)


def test_largest_and_smallest_of_three() -> None:
    # S36, E28: 36, 50 and 700 ohm make at most 786 and at least 20.3 ohm
    parts = "\n".join(f"{name}: {{kind: resistor, resistance: {ohm} ohm}}"
                      for name, ohm in (("A", 36), ("C", 50), ("B", 700)))
    assert ohms_of(parts, "A.2, C.1\nC.2, B.1") == pytest.approx(786, abs=0.5)
    beside = "A.1, C.1\nA.1, B.1\nA.2, C.2\nA.2, B.2"
    assert ohms_of(parts, beside) == pytest.approx(20.3, abs=0.05)


def millivolts(rating: str, amps: float) -> float:
    """Return the volts across a good fuse at a current [mV]."""
    circuit = bench(12.0, f"F1: {{kind: fuse, rating: {rating}}}\n"
                    f"R1: {{kind: resistor, resistance: {12.0 / amps} ohm}}",
                    "BAT.+, F1.1\nF1.2, R1.1\nR1.2, BAT.-")
    points = solve(circuit, "here").points
    return 1000 * (points["F1.1"].volts - points["F1.2"].volts)


def test_a_millivolt_across_a_fuse() -> None:
    # S64, E51: 130 mA through a 10 A blade fuse give 1.0 mV (half a last digit)
    assert millivolts("10 A", 0.130) == pytest.approx(1.0, abs=0.05)
    # S65, E52: 218 mA through a 15 A mini fuse give 1.0 mV. Ours has ohms in inverse proportion to
    # the rating (assumed), which is 12 % more than this smaller make of fuse
    assert millivolts("15 A", 0.218) == pytest.approx(1.0, rel=0.15)


def test_the_charging_cable_at_its_limit() -> None:
    # S68, E53: 0.3 V at 30 A is 10 mohm
    circuit = bench(12.0, "R0: {kind: resistor, resistance: 10 mohm}\n"
                    "R1: {kind: resistor, resistance: 0.39 ohm}",
                    "BAT.+, R0.1\nR0.2, R1.1\nR1.2, BAT.-")
    found = solve(circuit, "here")
    assert found.parts["R0"].amps == pytest.approx(30, rel=1e-4)
    # 1e-4: wires of 50 nanohm stand for none
    assert found.points["R0.1"].volts - found.points["R0.2"].volts == pytest.approx(0.3, rel=1e-4)


def test_windings_of_a_starter_take_the_printed_amps() -> None:
    # S31, E54: 41/42MT at 10 V takes 97 A in both windings and 18 A in the hold-in one (whole
    # amps). The windings' ohms come from those amps; terminal M is at earth, as on the test bench
    circuit = bench(10.0, "M1: {kind: starter, pull in resistance: 0.12658 ohm, "
                    "hold in resistance: 0.5556 ohm}",
                    "BAT.+, M1.50\nM1.31, BAT.-\nM1.M, BAT.-")
    both = solve(circuit, "here").wires["W1"]
    alone = solve(circuit.with_faults([parse_fault(circuit, "pull-in-open:M1")]), "here")
    assert both == pytest.approx(97, abs=0.5)
    assert alone.wires["W1"] == pytest.approx(18, abs=0.5)


def test_every_row_about_a_circuit_is_tested() -> None:
    folder = Path(__file__).parent
    text = "".join((folder / f"test_worked_{name}.py").read_text("utf-8")
                   for name in ("examples", "parts"))
    tested = {name.upper() for name in re.findall(r"[eE]\d\d\b|e\d\d(?=_)", text)}
    rows = {row["id"]: row["topic"] for row in table("worked_examples").rows if row["id"]}
    missing = {name for name, topic in rows.items()
               if name not in tested and topic not in LEFT_OUT}
    assert missing == set()
