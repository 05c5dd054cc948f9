"""The demo circuit and small circuits for tests."""

from __future__ import annotations

import functools
from pathlib import Path

import loomwright
from loomwright.circuit.faults import parse_fault
from loomwright.circuit.model import Circuit
from loomwright.circuit.reader import read_circuit, read_circuit_text

DEMO = Path(loomwright.__file__).parent / "demo" / "tailgate_lock.yaml"


@functools.cache
def tailgate() -> Circuit:
    """Return the tailgate lock of the demo depot."""
    return read_circuit(DEMO)


def with_faults(circuit: Circuit, *ids: str) -> Circuit:
    """Return a circuit with faults named by id."""
    return circuit.with_faults(parse_fault(circuit, one) for one in ids)


def small(parts: str, wires: str, states: str = "here: {}", system: str = "12 V") -> Circuit:
    """Return a circuit from its parts and wires, one to a line; states after one another by ';'."""
    rows = [f"  - [W{n}, {ends.strip()}]" for n, ends in enumerate(wires.strip().splitlines(), 1)]
    named = [f"  {line.strip()}" for line in parts.strip().splitlines()]
    listed = [f"  {line.strip()}" for line in states.split(";")]
    return read_circuit_text("\n".join(
        ["loomwright: 1", "title: Small", f"system: {system}", "parts:", *named, "wires:", *rows,
         "states:", *listed, ""]))
