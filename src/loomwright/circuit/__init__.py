"""The circuit: parts, wires, file reader, direct-current solve, faults and drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.circuit.faults import faults_of, parse_fault
from loomwright.circuit.plant import CircuitPlant
from loomwright.circuit.reader import read_circuit, read_circuit_text
from loomwright.circuit.readings import Reading, read_readings
from loomwright.circuit.schema import circuit_schema
from loomwright.circuit.solve import solve, solve_all
from loomwright.circuit.why_off import WhyOff, why_off

if TYPE_CHECKING:
    from loomwright.circuit.drawing import DrawingOptions, draw_circuit

__all__ = [
    "CircuitPlant",
    "DrawingOptions",
    "Reading",
    "WhyOff",
    "circuit_schema",
    "draw_circuit",
    "faults_of",
    "parse_fault",
    "read_circuit",
    "read_circuit_text",
    "read_readings",
    "solve",
    "solve_all",
    "why_off",
]


def __getattr__(name: str) -> object:
    """Return what draws, loaded when first asked for: `suspects` starts without it."""
    if name not in {"DrawingOptions", "draw_circuit"}:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from loomwright.circuit import drawing

    found: object = getattr(drawing, name)
    return found
