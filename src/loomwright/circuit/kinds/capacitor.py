"""Capacitor: no direct current passes once it is charged, except through its fault."""

from __future__ import annotations

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import TWO_PINS, Kind, PartModel
from loomwright.circuit.kinds.common import two_points
from loomwright.circuit.model import Part

__all__ = ["KIND"]

_SHORTED_OHM = 0.1  # assumed
_LEAKY_OHM = 100.0  # assumed


class CapacitorModel(PartModel):
    """Keys of a capacitor in the circuit file."""


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    return (Branch(part.id, a, b, _SHORTED_OHM, gate="never"),)


def _bridged(kind: str, prior: float, ohm: float) -> FaultMode:
    return FaultMode(kind, prior, lambda part, item, ohms: (Override(part.id, "shunt", ohm),))


KIND = Kind(
    name="capacitor",
    model=CapacitorModel,
    pins=lambda model: TWO_PINS,
    values=lambda model, system_v: ({}, frozenset()),
    symbol="capacitor",
    default_price=5.0,
    fit_min=15.0,
    branches=_branches,
    # an open capacitor changes no steady volts, so it is no fault that this model can find
    fault_modes=(_bridged("shorted", 0.01, _SHORTED_OHM), _bridged("leaky", 0.005, _LEAKY_OHM)),
)
