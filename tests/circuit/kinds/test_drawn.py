"""Every kind can be read from a file, drawn, solved and named in a fault."""

from __future__ import annotations

import pytest

from loomwright.circuit import draw_circuit, faults_of, parse_fault, solve_all
from loomwright.circuit.drawing.symbols import symbol
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit
from tests.support.demo import small

NEEDS = {"controller": ", supply: 1, earth: 2, references: {five: {pin: 3}}",
         "proximity switch": ", closed when: target"}
# drawn by their own rules: no symbol between two terminals
OTHERWISE = {"relay", "controller", "splice", "connector", "earth", "battery"}


def alone(kind: str) -> Circuit:
    """Return a battery with one part, its first pin on plus and the others on minus."""
    first, *others = _points(kind)
    wires = [f"BAT.+, {first}" if others else f"{first}, BAT.-",
             *(f"{point}, BAT.-" for point in others)]
    return small(f"BAT: {{kind: battery}}\nU1: {{kind: {kind}{NEEDS.get(kind, '')}}}",
                 "\n".join(wires if kind != "battery" else ["BAT.+, U1.+", "BAT.-, U1.-"]))


def _points(kind: str) -> list[str]:
    keys = {"controller": {"supply": "1", "earth": "2", "references": {"five": {"pin": "3"}}},
            "proximity switch": {"closed when": "target"}}.get(kind, {})
    model = KINDS[kind].model.model_validate({"kind": kind, **keys})
    return [f"U1.{pin}" if pin else "U1" for pin in KINDS[kind].pins(model)]


@pytest.mark.parametrize("kind", KINDS)
def test_a_part_alone_is_read_solved_and_drawn(kind: str) -> None:
    circuit = alone(kind)
    # a fuse straight across a battery blows, and everything else finds some rest
    found = solve_all(circuit)["here"]
    idle = kind in {"battery", "connector", "earth", "splice"}  # neither on nor off
    assert bool(found.parts["U1"].doing) is not idle
    svg = draw_circuit(circuit, found)
    assert "U1" in svg
    assert svg.startswith("<svg")


@pytest.mark.parametrize("kind", KINDS)
def test_its_faults_have_weights_sources_and_names(kind: str) -> None:
    circuit = alone(kind)
    faults = [fault for fault in faults_of(circuit) if fault.element.split(".")[0] == "U1"]
    assert all(0 < fault.prior < 0.2 and fault.source for fault in faults)
    assert all(parse_fault(circuit, fault.id) == fault for fault in faults)
    assert bool(faults) is (kind != "splice")


@pytest.mark.parametrize("kind", sorted(set(KINDS) - OTHERWISE))
def test_a_part_of_two_pins_has_a_symbol_of_its_own(kind: str) -> None:
    plain = symbol("no such kind", False)
    assert (symbol(kind, False) == plain) is (len(_points(kind)) > 2)


def test_several_wires_on_a_pin_of_a_box_are_drawn() -> None:
    circuit = small(
        "BAT: {kind: battery}\nM1: {kind: starter}\nG1: {kind: alternator}\nE1: {kind: earth}\n"
        "S1: {kind: switch}\nH1: {kind: lamp}\nS2: {kind: switch}",
        "BAT.+, M1.30\nM1.30, S1.1\nS1.2, M1.50\nG1.B+, M1.30\nM1.31, E1\nG1.B-, E1\n"
        "BAT.+, S2.1\nS2.2, H1.1\nH1.2, G1.D+")
    svg = draw_circuit(circuit, solve_all(circuit)["here"])
    assert all(f'"{wire}"' in svg for wire in circuit.wires)
