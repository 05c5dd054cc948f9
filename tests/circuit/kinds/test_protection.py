"""Fusible link and circuit breaker."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, read_circuit_text, solve, solve_all
from loomwright.circuit.kinds.fusible_link import melting_a
from loomwright.circuit.model import Circuit, Fault
from loomwright.errors import FileProblemsError
from tests.circuit.kinds.benches import bench, fault_shows

LINK = ("P1: {kind: fusible link, area: 1 mm2}\nR1: {kind: resistor, resistance: %s ohm}\n"
        "E1: {kind: earth}")
BREAKER = ("P1: {kind: circuit breaker, rating: 10 A, reset: %s}\nE1: {kind: earth}\n"
           "R1: {kind: resistor, resistance: 12 ohm}\nR2: {kind: resistor, resistance: 0.5 ohm}\n"
           "S1: {kind: switch, closed when: overload}")
BREAKER_WIRES = "BAT.+, P1.1\nP1.2, R1.1\nR1.2, E1\nP1.2, S1.1\nS1.2, R2.1\nR2.2, E1"
BREAKER_STATES = "first: {overload: yes};after: {}"


def test_preece_as_printed() -> None:
    # copper of 0.0457 in carries 100 A, of 0.0098 in 10 A (Preece's table, source S15, published)
    for inches, amps in ((0.0457, 100.0), (0.0098, 10.0)):
        area_mm2 = 3.141592653589793 / 4 * (inches * 25.4) ** 2
        # diameters are printed to three digits: 1 %
        assert melting_a(area_mm2) == pytest.approx(amps, rel=0.01)


def test_a_thicker_link_carries_more() -> None:
    amps = [melting_a(area) for area in (0.5, 1.0, 2.0, 3.0)]
    assert amps == sorted(amps)
    assert melting_a(4.0) == pytest.approx(4.0**0.75 * melting_a(1.0))  # d^1.5 is area^0.75


def test_a_link_melts_above_its_current_and_not_below() -> None:
    wires = "BAT.+, P1.1\nP1.2, R1.1\nR1.2, E1"
    # 1 mm2 melts at 80 x 1.128^1.5 = 95.9 A; 12 V through 0.13 and 0.12 ohm (and 4 milliohm of
    # link, earth and strap) is 90 A and 97 A
    whole, melted = (solve(bench(12, LINK % ohm, wires), "here") for ohm in ("0.13", "0.118"))
    assert whole.parts["P1"].doing == "whole"
    assert melted.parts["P1"].doing == "blown"
    assert any("Fusible link P1" in note for note in melted.notes)


@pytest.mark.parametrize(("reset", "after"), [("automatic", "closed"), ("by hand", "tripped"),
                                              ("when off", "tripped")])
def test_a_breaker_trips_and_closes_as_its_kind_does(reset: str, after: str) -> None:
    results = solve_all(bench(12, BREAKER % reset, BREAKER_WIRES, BREAKER_STATES))
    assert results["first"].parts["P1"].doing == "tripped"
    assert any("Circuit breaker P1" in note for note in results["first"].notes)
    circuit = bench(12, BREAKER % reset, BREAKER_WIRES, BREAKER_STATES)
    # as with a fuse, what opened in one state is open in the others once the car arrives faulty
    faulty = circuit.with_faults(_harmless(circuit))
    assert solve_all(faulty)["after"].parts["P1"].doing == after


def _harmless(circuit: Circuit) -> list[Fault]:
    return [parse_fault(circuit, "high-resistance:W3:0.001")]


def test_an_automatic_breaker_says_that_it_goes_on_and_off() -> None:
    found = solve(bench(12, BREAKER % "automatic", BREAKER_WIRES, BREAKER_STATES), "first")
    assert "goes on and off" in found.notes[0]


def test_a_word_that_is_no_reset_is_refused() -> None:
    with pytest.raises(FileProblemsError, match="reset"):
        read_circuit_text("loomwright: 1\nsystem: 12 V\nparts:\n  BAT: {kind: battery}\n"
                          "  P1: {kind: circuit breaker, reset: sometimes}\n"
                          "wires:\n  - [W1, BAT.+, P1.1]\n  - [W2, P1.2, BAT.-]\n")


def test_every_fault_shows() -> None:
    link = bench(12, LINK % "6", "BAT.+, P1.1\nP1.2, R1.1\nR1.2, E1")
    assert fault_shows(link, "P1") == {"blown:P1": {"volts", "amps", "words", "ohms"}}
    breaker = bench(12, BREAKER % "by hand", BREAKER_WIRES, "here: {}")
    assert fault_shows(breaker, "P1") == {"stuck-open:P1": {"volts", "amps", "words", "ohms"}}
