"""DC-DC converter: holds its output's volts up to a limit, and draws the power that it gives."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from pydantic import WithJsonSchema

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.kinds.base import (
    Amps,
    Kind,
    PartModel,
    Volts,
    positive_quantity,
    with_defaults,
)
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_OUT_V = 13.8  # assumed
_LIMIT_A = 10.0  # assumed
_EFFICIENCY_PERCENT = 88.0  # assumed
_IDLE_A = 0.02  # assumed
_LEAST_INPUT_SHARE = 0.8  # of system volts; assumed
_LETS_GO = 0.95  # of the volts at which it starts; assumed
_INNER_OHM = 0.02  # how far the volts fall before the limit; assumed
_SHORTED_OHM = 0.05  # assumed

Percent = Annotated[float, positive_quantity("%"),
                    WithJsonSchema({"type": "string", "description": "in %", "examples": ["88 %"]})]


class ConverterModel(PartModel):
    """Keys of a DC-DC converter: pins in, out and a common -."""

    volts: Volts | None = None  # held at the output
    limit: Amps | None = None  # of the output
    efficiency: Percent | None = None
    minimum_volts: Volts | None = None  # at the input


def _values(model: ConverterModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    if model.efficiency is not None and model.efficiency > 100:
        raise ValueError("'efficiency' must be at most 100 %.")
    return with_defaults(
        {"out_v": model.volts, "limit_a": model.limit, "efficiency_percent": model.efficiency,
         "minimum_v": model.minimum_volts},
        {"out_v": _OUT_V, "limit_a": _LIMIT_A, "efficiency_percent": _EFFICIENCY_PERCENT,
         "minimum_v": _LEAST_INPUT_SHARE * system_v},
    )


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, gate = part.id, f"relay:{part.id}"
    fed, given, earth = (f"{name}.{pin}" for pin in ("in", "out", "-"))
    return (
        Branch(f"{name}.idle", fed, earth, system_v / _IDLE_A, spread="load"),
        Branch(name, earth, given, _INNER_OHM, emf=part.number("out_v"), law="regulated",
               gate=gate, rated_a=part.number("limit_a")),
        Branch(f"{name}.feed", fed, earth, 1.0, law="mirror", gate=gate, feeds=name,
               rated_v=_LETS_GO * part.number("minimum_v"),
               efficiency=part.number("efficiency_percent") / 100),
        Branch(f"{name}.short", fed, earth, _SHORTED_OHM, gate="never"),
    )


KIND = Kind(
    name="dc-dc converter",
    model=ConverterModel,
    pins=lambda model: ("in", "-", "out"),
    values=_values,
    symbol="converter",
    default_price=120.0,
    fit_min=25.0,
    branches=_branches,
    plungers=lambda part: (
        Plunger(part.id, (f"{part.id}.idle",), part.number("minimum_v"),
                _LETS_GO * part.number("minimum_v")),),
    fault_modes=(
        FaultMode("dead", 0.02, lambda part, item, ohms: (Override(part.id, "open"),)),
        FaultMode("shorted", 0.005,
                  lambda part, item, ohms: (Override(f"{part.id}.short", "closed"),)),
        FaultMode("output-low", 0.005,
                  lambda part, item, ohms: (Override(part.id, "emf", 0.8),)),
    ),
)
