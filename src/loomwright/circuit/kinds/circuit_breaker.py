"""Circuit breaker: opens above its rating; closes again by itself, with its supply, or by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from loomwright.circuit.kinds.base import TWO_PINS, Kind
from loomwright.circuit.kinds.common import on_branch
from loomwright.circuit.kinds.protection import ProtectionModel, contact_branch, protection_values
from loomwright.circuit.model import ParamValue

__all__ = ["KIND"]

_RATING_A = 20.0  # assumed
_OHM_TIMES_AMPS = 0.1  # a bimetal drops about 0.1 V at its rating; assumed
_OPENS_SHARE = 1.35  # of the rating, given time; assumed as for a blade fuse


class CircuitBreakerModel(ProtectionModel):
    """Keys of a circuit breaker in the circuit file."""

    reset: Literal["automatic", "by hand", "when off"] = "by hand"


def _values(model: CircuitBreakerModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = protection_values(model, _RATING_A, _OHM_TIMES_AMPS)
    return {**values, "reset": model.reset}, assumed


KIND = Kind(
    name="circuit breaker",
    model=CircuitBreakerModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="circuit breaker",
    default_price=15.0,
    fit_min=10.0,
    branches=contact_branch,
    opens_above=lambda part: _OPENS_SHARE * part.number("rating_a"),
    fault_modes=(on_branch("stuck-open", 0.02, "open"),),
)
