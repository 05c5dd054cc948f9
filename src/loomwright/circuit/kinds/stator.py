"""Stator of a permanent-magnet generator: three phases on a core that is bolted to the frame."""

from __future__ import annotations

import math
from collections.abc import Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, Volts, with_defaults
from loomwright.circuit.kinds.common import WORD_LIMIT, Reads, state_quantity
from loomwright.circuit.model import Part

__all__ = ["KIND", "PHASES", "ac_volts", "phase_ac_v"]

PHASES = ("A", "B", "C")
_OHM = 0.6  # between two phases; assumed
_LEAK_OHM = 50.0  # assumed
_BRIDGED_SHARE = 0.3  # resistance left of a phase with bridged turns; assumed
_AC_V_PER_1000_RPM = 14.0  # between two phases, nothing connected; from memory
_YES_RPM = 5000.0  # what `yes` stands for; assumed


class StatorModel(PartModel):
    """Keys of a stator in the circuit file: phases A, B, C; F is its core, on the frame."""

    resistance: Ohms | None = None  # between two phases
    ac_volts: Volts | None = None  # between two phases at 1000 rpm, its plug pulled
    reads: str = Field(default="engine", min_length=1, max_length=WORD_LIMIT)  # engine speed


def phase_ac_v(part: Part, conditions: Mapping[str, str]) -> float:
    """Return the volts of one phase against the star point, by the engine speed of a state.

    A permanent magnet: in proportion to the speed, nothing connected [V effective].
    """
    rpm = state_quantity(conditions, Reads(str(part.params["reads"]), "rpm", _YES_RPM, 0.0))
    return part.number("ac_v") * rpm / 1000 / math.sqrt(3)


def ac_volts(volts: Mapping[str, float], at: str, to: str, earthed: bool) -> float:
    """Return what a meter on alternating volts shows between two pins of a pulled plug.

    Parameters
        volts: of each whole phase against the star [V]; a phase that is open is left out
        at, to: pins A, B, C or F, the core
        earthed: whether the windings have a path to the core
    Returns 0 where one pin has no path to the other. Phases are a third of a turn apart, so two
    give sqrt(a2 + b2 + ab); the star is taken as the place of a path to the core.
    """
    if "F" in (at, to):
        return volts.get(to if at == "F" else at, 0.0) if earthed else 0.0
    if at not in volts or to not in volts:
        return 0.0
    a, b = volts[at], volts[to]
    return math.sqrt(a * a + b * b + a * b)


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
        {"resistance_ohm": model.resistance, "ac_v": model.ac_volts},
        {"resistance_ohm": _OHM, "ac_v": _AC_V_PER_1000_RPM}))[0],
        "phases": PHASES, "reads": " ".join(model.reads.split())}, found[1]),
    symbol="stator",
    default_price=140.0,
    fit_min=90.0,
    branches=_branches,
    metered=lambda part: (("A", "B"), ("B", "C"), ("C", "A"), ("A", "F")),
    quantities=lambda part: {str(part.params["reads"]): "rpm"},
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
