"""Filament lamp: its resistance rises with voltage as the filament heats."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import (
    TWO_PINS,
    Kind,
    Ohms,
    PartModel,
    Volts,
    Watts,
    with_defaults,
)
from loomwright.circuit.kinds.common import burnt_out, two_points
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_WATTS = 5.0  # assumed
# A headlamp of 4.80 ohm hot measures 0.350 ohm cold (OpenStax College Physics 20.2, published).
_COLD_SHARE = 0.350 / 4.80


class LampModel(PartModel):
    """Keys of a lamp in the circuit file."""

    power: Watts | None = None
    volts: Volts | None = None  # rated
    cold_resistance: Ohms | None = None


def _values(model: LampModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    power = _WATTS if model.power is None else model.power
    volts = system_v if model.volts is None else model.volts
    return with_defaults(
        {"power_w": model.power, "rated_v": model.volts, "cold_ohm": model.cold_resistance},
        {"power_w": power, "rated_v": volts, "cold_ohm": _COLD_SHARE * volts**2 / power},
    )


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    volts = part.number("rated_v")
    hot = volts**2 / part.number("power_w")
    return (Branch(part.id, a, b, hot, law="lamp", spread="load", rated_v=volts,
                   cold_ohm=part.number("cold_ohm")),)


KIND = Kind(
    name="lamp",
    model=LampModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="lamp",
    default_price=4.0,
    fit_min=5.0,
    branches=_branches,
    fault_modes=(burnt_out("burnt-out", 0.10),),
    load=True,
)
