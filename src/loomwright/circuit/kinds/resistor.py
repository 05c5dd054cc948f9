"""Resistor: i = v / R."""

from __future__ import annotations

from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import on_branch, plain_load

__all__ = ["KIND", "ResistorModel"]

_OHM = 1000.0  # assumed


class ResistorModel(PartModel):
    """Keys of a resistor in the circuit file."""

    resistance: Ohms | None = None


KIND = Kind(
    name="resistor",
    model=ResistorModel,
    pins=lambda model: TWO_PINS,
    values=lambda model, system_v: with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _OHM}
    ),
    symbol="resistor",
    default_price=5.0,
    fit_min=15.0,
    branches=plain_load,
    fault_modes=(on_branch("open", 0.01, "open"),),
)
