"""LED lamp: light diodes in series behind a resistor; dark the wrong way round."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import (
    TWO_PINS,
    Amps,
    Kind,
    PartModel,
    Volts,
    with_defaults,
)
from loomwright.circuit.kinds.common import burnt_out, two_points
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_CURRENT_A_AT_12V = 0.15  # at system volts; assumed
_FORWARD_SHARE = 0.5  # forward volts of the string, of system volts; assumed
_BULK_OHM = 0.02
# Volts of the model's diode at its current, part of the forward volts; from memory.
_DIODE_V = 0.8
_SHORTED_OHM = 0.5  # assumed


class LedLampModel(PartModel):
    """Keys of an LED lamp in the circuit file. Pin 1 is plus, pin 2 minus."""

    current: Amps | None = None  # at system volts
    forward_volts: Volts | None = None  # of the whole string


def _values(model: LedLampModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    forward = _FORWARD_SHARE * system_v if model.forward_volts is None else model.forward_volts
    if not _DIODE_V < forward < system_v:
        raise ValueError(f"'forward volts' must lie between {_DIODE_V} V and the system's volts.")
    return with_defaults(
        {"current_a": model.current, "forward_v": model.forward_volts},
        {"current_a": _CURRENT_A_AT_12V * 12 / system_v, "forward_v": forward},
    )


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    forward, current = part.number("forward_v"), part.number("current_a")
    inside = f"{part.id}.inside"
    return (
        Branch(f"{part.id}.diode", a, inside, _BULK_OHM, law="diode"),
        # the string's volts stand against the current: none flows below them
        Branch(part.id, inside, b, (system_v - forward) / current, emf=_DIODE_V - forward,
               steady=True, spread="load", rated_v=system_v, rated_a=current),
    )


KIND = Kind(
    name="led lamp",
    model=LedLampModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="led lamp",
    default_price=25.0,
    fit_min=10.0,
    branches=_branches,
    fault_modes=(
        burnt_out("burnt-out", 0.02),
        FaultMode("shorted", 0.005, lambda part, item, ohms: (
            Override(f"{part.id}.diode", "shunt", _SHORTED_OHM),
            Override(part.id, "emf", 0.0), Override(part.id, "ohm", _SHORTED_OHM),
            Override(part.id, "idle"))),
    ),
    load=True,
)
