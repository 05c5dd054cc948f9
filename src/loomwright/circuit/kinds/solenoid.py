"""Solenoid or valve: a coil of constant resistance once the current is steady."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import (
    CLAMP_FAULTS,
    clamp_items,
    on_branch,
    plain_load,
    two_points,
)
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_WATTS = 24.0  # assumed: 6 ohm at 12 V, 24 ohm at 24 V
_CLAMP_OHM = 0.02  # bulk resistance of the clamp diode; assumed
_SHORTED_OHM = 0.3  # assumed: most turns bridged


class SolenoidModel(PartModel):
    """Keys of a solenoid in the circuit file."""

    resistance: Ohms | None = None
    clamp_diode: bool = False  # across the coil, cathode at 1


def _values(model: SolenoidModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": system_v**2 / _WATTS}
    )
    return {**values, "clamps": clamp_items(model.clamp_diode)}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    coil = plain_load(part, system_v)
    if not part.params.get("clamps"):
        return coil
    a, b = two_points(part)
    return (*coil, Branch(f"{part.id}.clamp", b, a, _CLAMP_OHM, law="diode"))


KIND = Kind(
    name="solenoid",
    model=SolenoidModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="solenoid",
    default_price=80.0,
    fit_min=30.0,
    branches=_branches,
    fault_modes=(
        on_branch("open", 0.03, "open"),
        on_branch("shorted", 0.01, "ohm", _SHORTED_OHM),
        FaultMode("stuck", 0.03, lambda part, item, ohms: (Override(part.id, "idle"),)),
        *CLAMP_FAULTS,
    ),
    load=True,
    strikes=True,
)
