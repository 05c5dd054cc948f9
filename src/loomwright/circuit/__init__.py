"""The circuit: parts, wires, file reader, direct-current solve, faults and drawing."""

from __future__ import annotations

from loomwright.circuit.drawing import DrawingOptions, draw_circuit
from loomwright.circuit.faults import faults_of, parse_fault
from loomwright.circuit.plant import CircuitPlant
from loomwright.circuit.reader import read_circuit, read_circuit_text
from loomwright.circuit.readings import Reading, read_readings
from loomwright.circuit.schema import circuit_schema
from loomwright.circuit.solve import solve, solve_all
from loomwright.circuit.why_off import WhyOff, why_off

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
