"""Solenoid or valve: a coil of constant resistance once the current is steady."""

from __future__ import annotations

from loomwright.circuit.branches import FaultMode, Override
from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import on_branch, plain_load

__all__ = ["KIND"]

_WATTS = 24.0  # assumed: 6 ohm at 12 V, 24 ohm at 24 V
_SHORTED_OHM = 0.3  # assumed: most turns bridged


class SolenoidModel(PartModel):
    """Keys of a solenoid in the circuit file."""

    resistance: Ohms | None = None


KIND = Kind(
    name="solenoid",
    model=SolenoidModel,
    pins=lambda model: TWO_PINS,
    values=lambda model, system_v: with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": system_v**2 / _WATTS}
    ),
    symbol="solenoid",
    default_price=80.0,
    fit_min=30.0,
    branches=plain_load,
    fault_modes=(
        on_branch("open", 0.03, "open"),
        on_branch("shorted", 0.01, "ohm", _SHORTED_OHM),
        FaultMode("stuck", 0.03, lambda part, item, ohms: (Override(part.id, "idle"),)),
    ),
    load=True,
)
