"""Stator of a permanent-magnet generator: three phases on a core that is bolted to the frame."""

from __future__ import annotations

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.model import Part

__all__ = ["KIND", "PHASES"]

PHASES = ("A", "B", "C")
_OHM = 0.6  # between two phases; assumed
_LEAK_OHM = 50.0  # assumed
_BRIDGED_SHARE = 0.3  # resistance left of a phase with bridged turns; assumed


class StatorModel(PartModel):
    """Keys of a stator in the circuit file: phases A, B, C; F is its core, on the frame."""

    resistance: Ohms | None = None  # between two phases


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    star = f"{part.id}.star"
    phases = (Branch(f"{part.id}.{phase}", f"{part.id}.{phase}", star,
                     part.number("resistance_ohm") / 2, spread="load") for phase in PHASES)
    return (*phases, Branch(f"{part.id}.leak", star, f"{part.id}.F", _LEAK_OHM, gate="never"))


KIND = Kind(
    name="stator",
    model=StatorModel,
    pins=lambda model: (*PHASES, "F"),
    values=lambda model, system_v: ({**(found := with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _OHM}))[0],
        "phases": PHASES}, found[1]),
    symbol="stator",
    default_price=140.0,
    fit_min=90.0,
    branches=_branches,
    metered=lambda part: (("A", "B"), ("B", "C"), ("C", "A"), ("A", "F")),
    fault_modes=(
        FaultMode("open", 0.01,
                  lambda part, item, ohms: (Override(f"{part.id}.{item}", "open"),),
                  items="phases"),
        FaultMode("bridged", 0.005,
                  lambda part, item, ohms: (
                      Override(f"{part.id}.{item}", "scale", _BRIDGED_SHARE),),
                  items="phases"),
        FaultMode("leak-to-frame", 0.01,
                  lambda part, item, ohms: (Override(f"{part.id}.leak", "closed"),)),
    ),
)
