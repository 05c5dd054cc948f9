"""CAN terminator: the resistor across each end of the bus."""

from __future__ import annotations

from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import on_branch, plain_load

__all__ = ["KIND"]

_OHM = 120.0  # source S48, published
_SHORTED_OHM = 1.0  # assumed


class CanTerminatorModel(PartModel):
    """Keys of a CAN terminator in the circuit file."""

    resistance: Ohms | None = None


KIND = Kind(
    name="can terminator",
    model=CanTerminatorModel,
    pins=lambda model: TWO_PINS,
    values=lambda model, system_v: with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _OHM}
    ),
    symbol="resistor",
    default_price=15.0,
    fit_min=15.0,
    branches=plain_load,
    fault_modes=(on_branch("open", 0.01, "open"),
                 on_branch("shorted", 0.003, "shunt", _SHORTED_OHM)),
)
