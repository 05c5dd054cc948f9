"""Heater: a load of constant resistance."""

from __future__ import annotations

from loomwright.circuit.kinds.base import TWO_PINS, Kind
from loomwright.circuit.kinds.common import (
    PlainLoadModel,
    burnt_out,
    plain_load,
    plain_load_values,
)

__all__ = ["KIND"]

_WATTS = 120.0  # at system volts; assumed


class HeaterModel(PlainLoadModel):
    """Keys of a heater in the circuit file."""


KIND = Kind(
    name="heater",
    model=HeaterModel,
    pins=lambda model: TWO_PINS,
    values=plain_load_values(_WATTS),
    symbol="heater",
    default_price=60.0,
    fit_min=20.0,
    branches=plain_load,
    fault_modes=(burnt_out("burnt-out", 0.03),),
    load=True,
)
