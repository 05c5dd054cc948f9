"""Diode: anode at pin 1, cathode at pin 2; exponential law behind a small bulk resistance."""

from __future__ import annotations

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import TWO_PINS, Kind, PartModel
from loomwright.circuit.kinds.common import on_branch, two_points
from loomwright.circuit.kinds.shares import shared_out
from loomwright.circuit.model import Part

__all__ = ["KIND"]

_BULK_OHM = 0.02  # assumed
_SHORTED_OHM = 0.02  # assumed


class DiodeModel(PartModel):
    """Keys of a diode in the circuit file."""


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    return (Branch(part.id, a, b, _BULK_OHM, law="diode"),)


KIND = Kind(
    name="diode",
    model=DiodeModel,
    pins=lambda model: TWO_PINS,
    values=lambda model, system_v: ({}, frozenset()),
    symbol="diode",
    default_price=3.0,
    fit_min=15.0,
    branches=_branches,
    fault_modes=shared_out("diode", (on_branch("open", 0.01, "open"),
                                     on_branch("shorted", 0.01, "shunt", _SHORTED_OHM))),
)
