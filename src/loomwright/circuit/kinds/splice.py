"""Splice: one point where wires join."""

from __future__ import annotations

from loomwright.circuit.kinds.base import Kind, PartModel

__all__ = ["KIND"]


class SpliceModel(PartModel):
    """Keys of a splice in the circuit file."""


KIND = Kind(
    name="splice",
    model=SpliceModel,
    pins=lambda model: ("",),
    values=lambda model, system_v: ({}, frozenset()),
    symbol="splice",
    default_price=2.0,
    fit_min=20.0,
)
