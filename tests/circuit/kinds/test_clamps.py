"""Clamp diodes across coils."""

from __future__ import annotations

import pytest

from loomwright.circuit import faults_of, solve
from loomwright.circuit.model import Circuit
from tests.circuit.kinds.benches import bench, fault_shows

COILS = {
    "relay": ("K1: {kind: relay, clamp diode: %s}", "K1.86", "K1.85"),
    "solenoid": ("K1: {kind: solenoid, resistance: 12 ohm, clamp diode: %s}", "K1.1", "K1.2"),
}


def coil(kind: str, clamp: str = "yes", swapped: bool = False) -> Circuit:
    part, plus, minus = COILS[kind]
    if swapped:
        plus, minus = minus, plus
    return bench(12, f"{part % clamp}\nF1: {{kind: fuse, rating: 10 A}}",
                 f"BAT.+, F1.1\nF1.2, {plus}\n{minus}, BAT.-")


@pytest.mark.parametrize("kind", COILS)
def test_a_clamp_takes_nothing_while_the_coil_works(kind: str) -> None:
    with_it, without = (solve(coil(kind, clamp), "here") for clamp in ("yes", "no"))
    assert with_it.parts["K1"].doing == "on"
    assert with_it.wires["W1"] == pytest.approx(without.wires["W1"], abs=1e-9)


@pytest.mark.parametrize("kind", COILS)
def test_the_wrong_way_round_it_blows_the_fuse(kind: str) -> None:
    assert solve(coil(kind, swapped=True), "here").parts["F1"].doing == "blown"
    assert solve(coil(kind, "no", swapped=True), "here").parts["F1"].doing == "whole"


@pytest.mark.parametrize("kind", COILS)
def test_its_fault_shows_and_only_where_it_is_fitted(kind: str) -> None:
    assert "words" in fault_shows(coil(kind), "K1")["shorted:K1.clamp"]
    assert all(fault.element != "K1.clamp" for fault in faults_of(coil(kind, "no")))
