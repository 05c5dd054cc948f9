"""No part makes or swallows current: what flows into its pins flows out of them."""

from __future__ import annotations

import pytest

from loomwright.circuit import faults_of, solve_all
from loomwright.circuit.model import Circuit, StateResult
from tests.circuit.kinds import (
    test_alternator,
    test_can,
    test_converter,
    test_five_volts,
    test_latching_relay,
    test_selector,
    test_starter,
    test_stator,
)
from tests.circuit.kinds.benches import bench

CIRCUITS = {
    "alternator": test_alternator.vehicle(),
    "can": test_can.bus(),
    "converter": test_converter.vehicle(3.0),
    "five volts": test_five_volts.vehicle(),
    "latching relay": test_latching_relay.relay(),
    "selector": bench(12, test_selector.PARTS, test_selector.WIRES, test_selector.STATES),
    "starter": test_starter.vehicle(),
    "stator": test_stator.motorcycle(),
}


def into(circuit: Circuit, found: StateResult, part: str) -> float:
    """Return the sum of the amps that wires carry into a part."""
    total = 0.0
    for wire in circuit.wires.values():
        total -= found.wires[wire.id] * (wire.start.part == part)
        total += found.wires[wire.id] * (wire.end is not None and wire.end.part == part)
    return total


@pytest.mark.parametrize("name", CIRCUITS)
def test_currents_into_every_part_add_up_to_nothing(name: str) -> None:
    circuit = CIRCUITS[name]
    # a short of a wire is a path that no wire carries
    faults = [None, *(one for one in faults_of(circuit) if not one.kind.startswith("short-to"))]
    for fault in faults:
        faulty = circuit if fault is None else circuit.with_faults([fault])
        for found in solve_all(faulty).values():
            if any("chatters" in note for note in found.notes):
                continue  # caught between two settings
            most = max(1.0, max(abs(amps) for amps in found.wires.values()))
            for part in circuit.parts.values():
                if part.kind not in ("earth", "battery"):  # joined by the body and its strap
                    # volts settle to 1e-9 of themselves; 1e-6 of the largest current is ample
                    assert abs(into(circuit, found, part.id)) < 1e-6 * most
