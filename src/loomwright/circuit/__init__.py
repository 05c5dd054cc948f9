"""The circuit: parts, wires, file reader, direct-current solve, faults and drawing."""

from __future__ import annotations

from loomwright.circuit.faults import faults_of, parse_fault
from loomwright.circuit.solve import solve, solve_all

__all__ = ["faults_of", "parse_fault", "solve", "solve_all"]
