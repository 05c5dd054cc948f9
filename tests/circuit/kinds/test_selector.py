"""Selector: positions that join their own pins."""

from __future__ import annotations

import pytest

from loomwright.circuit import solve_all
from loomwright.circuit.model import Circuit
from loomwright.errors import FileProblemsError
from tests.circuit.kinds.benches import bench, fault_shows

PARTS = ("S1: {kind: selector, positions: {off: [], side: [[30, 58]], head: [[30, 58, 56]]}}\n"
         "H1: {kind: lamp, power: 5 W}\nH2: {kind: lamp, power: 55 W}")
WIRES = "BAT.+, S1.30\nS1.58, H1.1\nS1.56, H2.1\nH1.2, BAT.-\nH2.2, BAT.-"
STATES = "unsaid: {};off: {S1: off};side: {S1: side};head: {S1: head}"


def lamps(circuit: Circuit) -> dict[str, tuple[str, str]]:
    return {state: (found.parts["H1"].doing, found.parts["H2"].doing)
            for state, found in solve_all(circuit).items()}


def test_each_position_joins_its_pins() -> None:
    assert lamps(bench(12, PARTS, WIRES, STATES)) == {
        "unsaid": ("off", "off"), "off": ("off", "off"), "side": ("on", "off"),
        "head": ("on", "on")}


def test_it_says_its_position() -> None:
    results = solve_all(bench(12, PARTS, WIRES, STATES))
    assert [r.parts["S1"].doing for r in results.values()] == ["off", "off", "side", "head"]


def test_the_first_position_holds_where_the_state_is_silent() -> None:
    parts = ("S1: {kind: selector, reads: blower, positions: {low: [[1, 2]], high: [[1, 3]]}}\n"
             "R1: {kind: resistor, resistance: 1 ohm}\nR2: {kind: resistor, resistance: 2 ohm}")
    wires = "BAT.+, S1.1\nS1.2, R1.1\nS1.3, R2.1\nR1.2, BAT.-\nR2.2, BAT.-"
    results = solve_all(bench(12, parts, wires, "unsaid: {};high: {blower: high}"))
    # 12 V over 1.01 and 2.01 ohm, the contact's 10 milliohm included
    assert results["unsaid"].wires["W1"] == pytest.approx(12 / 1.01, rel=1e-4)
    assert results["high"].wires["W1"] == pytest.approx(12 / 2.01, rel=1e-4)


def test_a_position_that_is_none_is_refused() -> None:
    with pytest.raises(FileProblemsError, match="'full' is not a position"):
        bench(12, PARTS, WIRES, "here: {S1: full}")


def test_a_position_that_joins_one_pin_is_refused() -> None:
    with pytest.raises(FileProblemsError, match="at least two pins"):
        bench(12, "S1: {kind: selector, positions: {on: [[1]]}}", "BAT.+, S1.1")


def test_every_fault_shows() -> None:
    shows = fault_shows(bench(12, PARTS, WIRES, STATES), "S1")
    assert set(shows) == {
        "contact-open:S1.30-58", "contact-open:S1.30-56", "high-resistance:S1.30-58",
        "high-resistance:S1.30-56", "stuck-in:S1.off", "stuck-in:S1.side", "stuck-in:S1.head"}
    assert all("volts" in how for how in shows.values())
