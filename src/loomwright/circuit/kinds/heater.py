"""Heater: a load of constant resistance."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, Watts, with_defaults
from loomwright.circuit.kinds.common import burnt_out, plain_load
from loomwright.circuit.model import ParamValue

__all__ = ["KIND"]

_WATTS = 120.0  # at system volts; assumed


class HeaterModel(PartModel):
    """Keys of a heater in the circuit file."""

    power: Watts | None = None  # at system volts
    resistance: Ohms | None = None


def _values(model: HeaterModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    power = _WATTS if model.power is None else model.power
    values, assumed = with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": system_v**2 / power}
    )
    return values, assumed if model.power is None else frozenset()


KIND = Kind(
    name="heater",
    model=HeaterModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="heater",
    default_price=60.0,
    fit_min=20.0,
    branches=plain_load,
    fault_modes=(burnt_out("burnt-out", 0.03),),
    load=True,
)
