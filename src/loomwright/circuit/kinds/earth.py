"""Earth point: a joint to the body metal."""

from __future__ import annotations

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import on_branch
from loomwright.circuit.model import BODY, Part

__all__ = ["KIND"]

_CONTACT_OHM = 0.001  # assumed
_CORRODED_OHM = 1.0  # when a high-resistance earth is named without a value; assumed


class EarthModel(PartModel):
    """Keys of an earth point in the circuit file."""

    resistance: Ohms | None = None


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    ohm = part.number("resistance_ohm")
    return (Branch(part.id, part.id, BODY, ohm, spread="contact"),)


def _clean(mode: FaultMode) -> FaultMode:
    return FaultMode(mode.kind, mode.prior, mode.acts, repair="clean")


KIND = Kind(
    name="earth",
    model=EarthModel,
    pins=lambda model: ("",),
    values=lambda model, system_v: with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _CONTACT_OHM}
    ),
    symbol="earth",
    default_price=1.0,
    fit_min=10.0,
    branches=_branches,
    fault_modes=(
        _clean(on_branch("open", 0.02, "open")),
        FaultMode("high-resistance", 0.08,
                  lambda part, item, ohms: (Override(part.id, "add", ohms),),
                  ohms=_CORRODED_OHM, repair="clean", continuum=True),
    ),
)
