"""Thermistor (NTC): its ohms fall with temperature by the beta law."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated

from pydantic import BeforeValidator, Field, WithJsonSchema

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import (
    TWO_PINS,
    Kind,
    Ohms,
    PartModel,
    positive_quantity,
    with_defaults,
)
from loomwright.circuit.kinds.common import WORD_LIMIT, Reads
from loomwright.circuit.kinds.variable_resistor import variable_branches, variable_faults
from loomwright.circuit.model import ParamValue, Part
from loomwright.errors import QuantityError
from loomwright.units import parse_quantity

__all__ = ["KIND", "thermistor_ohm"]

_OHM_AT_25 = 2500.0  # assumed
_BETA_K = 3500.0  # assumed
_BASE_C = 25.0
_AT_C = 20.0  # where neither the state nor the file gives a temperature; assumed
_ZERO_K = 273.15
_CORRODED_OHM = 500.0  # when no value is given; assumed


def _degrees(text: object) -> float:
    try:
        value = parse_quantity(text, "degC")
    except QuantityError as error:
        raise ValueError(str(error)) from error
    if not -60 <= value <= 1000:
        raise ValueError(f"'{text}' must be between -60 and 1000 degC.")
    return value


Degrees = Annotated[float, BeforeValidator(_degrees),
                    WithJsonSchema({"type": "string", "description": "in degC",
                                    "examples": ["20 degC"]})]
Kelvins = Annotated[float, positive_quantity("K"),
                    WithJsonSchema({"type": "string", "description": "in K",
                                    "examples": ["3500 K"]})]


class ThermistorModel(PartModel):
    """Keys of a thermistor in the circuit file."""

    reads: str = Field(default="temperature", min_length=1, max_length=WORD_LIMIT)
    resistance: Ohms | None = None  # at 25 degC
    beta: Kelvins | None = None
    temperature: Degrees | None = None  # where a state does not give one


def thermistor_ohm(at_25_ohm: float, beta_k: float, temperature_c: float) -> float:
    """Return a thermistor's resistance [ohm] by the beta law, R = R25 exp(B (1/T - 1/T25)).

    Valid within some 50 K of the two temperatures that B was found from; source: from memory.
    """
    base, here = _BASE_C + _ZERO_K, temperature_c + _ZERO_K
    return at_25_ohm * math.exp(beta_k * (1 / here - 1 / base))


def _values(model: ThermistorModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"resistance_ohm": model.resistance, "beta_k": model.beta,
         "temperature_c": model.temperature},
        {"resistance_ohm": _OHM_AT_25, "beta_k": _BETA_K, "temperature_c": _AT_C},
    )
    return {**values, "reads": " ".join(model.reads.split())}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    at_25, beta = part.number("resistance_ohm"), part.number("beta_k")
    usual = part.number("temperature_c")
    reads = Reads(str(part.params["reads"]), "degC", usual, usual)
    return variable_branches(part, at_25, reads,
                             lambda degrees: thermistor_ohm(at_25, beta, degrees), "contact")


KIND = Kind(
    name="thermistor",
    model=ThermistorModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="thermistor",
    default_price=20.0,
    fit_min=20.0,
    branches=_branches,
    quantities=lambda part: {str(part.params["reads"]): "degC"},
    fault_modes=variable_faults("contact", _CORRODED_OHM, open_prior=0.02, bad_prior=0.02),
)
