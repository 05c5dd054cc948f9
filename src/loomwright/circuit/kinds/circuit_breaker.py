"""Circuit breaker: opens above its rating; closes again by itself, with its supply, or by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import TWO_PINS, Amps, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import on_branch, two_points
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_RATING_A = 20.0  # assumed
_OHM_TIMES_AMPS = 0.1  # a bimetal drops about 0.1 V at its rating; assumed
_OPENS_SHARE = 1.35  # of the rating, given time; assumed as for a blade fuse


class CircuitBreakerModel(PartModel):
    """Keys of a circuit breaker in the circuit file."""

    rating: Amps | None = None
    resistance: Ohms | None = None
    reset: Literal["automatic", "by hand", "when off"] = "by hand"


def _values(model: CircuitBreakerModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    rating = _RATING_A if model.rating is None else model.rating
    values, assumed = with_defaults(
        {"rating_a": model.rating, "resistance_ohm": model.resistance},
        {"rating_a": rating, "resistance_ohm": _OHM_TIMES_AMPS / rating},
    )
    return {**values, "reset": model.reset}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    return (Branch(part.id, a, b, part.number("resistance_ohm"), spread="contact"),)


KIND = Kind(
    name="circuit breaker",
    model=CircuitBreakerModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="circuit breaker",
    default_price=15.0,
    fit_min=10.0,
    branches=_branches,
    opens_above=lambda part: _OPENS_SHARE * part.number("rating_a"),
    fault_modes=(on_branch("stuck-open", 0.02, "open"),),
)
