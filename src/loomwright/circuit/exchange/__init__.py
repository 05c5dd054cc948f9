"""Circuits to and from other forms: SPICE netlists and wire lists."""

from __future__ import annotations

from loomwright.circuit.exchange.spice import node_names, spice_text
from loomwright.circuit.exchange.spice_reader import ImportedNetlist, read_netlist
from loomwright.circuit.exchange.wire_list import (
    gauge_area_mm2,
    pasted_cells,
    read_wire_list,
    wire_list_text,
    with_wires,
)

__all__ = [
    "ImportedNetlist",
    "gauge_area_mm2",
    "node_names",
    "pasted_cells",
    "read_netlist",
    "read_wire_list",
    "spice_text",
    "wire_list_text",
    "with_wires",
]
