"""What every element works against when healthy: volts over the current it carries."""

from __future__ import annotations

import math

import numpy as np

from loomwright.circuit.batch import Variant, blown_after, solve_batch
from loomwright.circuit.model import Circuit

__all__ = ["against_ohms", "elements_of"]

_LEAST_A = 1e-6


def elements_of(circuit: Circuit) -> tuple[str, ...]:
    """Return every element that works against something: wires, parts and connector ways."""
    ways = {part.id: dict.fromkeys(point[:-1] for point in part.points())
            for part in circuit.parts.values() if part.kind == "connector"}
    return tuple(dict.fromkeys(
        [*circuit.wires, *(name for part in circuit.parts for name in ways.get(part, [part]))]))


def against_ohms(circuit: Circuit) -> dict[str, float]:
    """Return, for every wire, part and connector way, system volts over its largest current [ohm].

    The current is the largest over all states of the healthy circuit, at one side of the element;
    infinite where no state sends any current through.
    """
    most = dict.fromkeys(circuit.wires, 0.0)
    one = (Variant(),)
    whole = np.zeros_like(blown_after(circuit, one))  # all states at once; each with whole fuses
    for state in circuit.states:
        result = solve_batch(circuit, state, one, whole)
        for wire, row in result.wire_index.items():
            most[wire] = max(most[wire], abs(float(result.wire_amps[row, 0])))
    found = dict(most)
    for part in circuit.parts.values():
        for point in part.points():
            here = max((most[wire.id] for wire in circuit.wires.values()
                        if point in (wire.start.point, wire.end.point if wire.end else "")),
                       default=0.0)
            names = [part.id] if part.kind != "connector" else [point[:-1]]
            for name in names:
                found[name] = max(found.get(name, 0.0), here)
    return {name: circuit.system_v / amps if amps > _LEAST_A else math.inf
            for name, amps in found.items()}
