"""Reads a circuit file: YAML with positions in, a frozen `Circuit` or every problem out."""

from loomwright.circuit.reader.document import read_circuit, read_circuit_text

__all__ = ["read_circuit", "read_circuit_text"]
