"""Horn: a load of constant resistance."""

from __future__ import annotations

from loomwright.circuit.kinds.base import TWO_PINS, Kind
from loomwright.circuit.kinds.common import (
    PlainLoadModel,
    burnt_out,
    plain_load,
    plain_load_values,
)

__all__ = ["KIND"]

_WATTS = 40.0  # at system volts; assumed


class HornModel(PlainLoadModel):
    """Keys of a horn in the circuit file."""


KIND = Kind(
    name="horn",
    model=HornModel,
    pins=lambda model: TWO_PINS,
    values=plain_load_values(_WATTS),
    symbol="horn",
    default_price=25.0,
    fit_min=20.0,
    branches=plain_load,
    fault_modes=(burnt_out("burnt-out", 0.03),),
    load=True,
)
