"""CAN terminator: the resistor across each end of the bus."""

from __future__ import annotations

import dataclasses

from loomwright.circuit.kinds import resistor
from loomwright.circuit.kinds.base import with_defaults
from loomwright.circuit.kinds.common import on_branch

__all__ = ["KIND"]

_OHM = 120.0  # source S48, published
_SHORTED_OHM = 1.0  # assumed


class CanTerminatorModel(resistor.ResistorModel):
    """Keys of a CAN terminator in the circuit file."""


KIND = dataclasses.replace(
    resistor.KIND,
    name="can terminator",
    model=CanTerminatorModel,
    values=lambda model, system_v: with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _OHM}
    ),
    default_price=15.0,
    fault_modes=(on_branch("open", 0.01, "open"),
                 on_branch("shorted", 0.003, "shunt", _SHORTED_OHM)),
)
