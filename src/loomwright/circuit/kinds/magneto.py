"""Magneto ignition: it sparks while its engine turns, unless the kill wire is joined to earth."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import WORD_LIMIT, Reads, burnt_out, state_quantity
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

# The average volts of the primary on an open kill wire, and what it takes to bring them to half:
# a stand-in for pulses that direct current cannot show. Assumed.
_KILL_V, _KILL_OHM = 2.0, 100.0
_YES_RPM = 3000.0  # what `yes` stands for; assumed
_LEAST_RPM = 250.0  # slower it does not spark; assumed
_SHORTED_OHM = 0.5  # primary to its core; assumed


class MagnetoModel(PartModel):
    """Keys of a magneto in the circuit file: K is the kill terminal, - its core, on the engine."""

    reads: str = Field(default="engine", min_length=1, max_length=WORD_LIMIT)  # engine speed
    resistance: Ohms | None = None  # up to this from K to earth it is silent


def _values(model: MagnetoModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults({"kill_ohm": model.resistance}, {"kill_ohm": _KILL_OHM})
    return {**values, "reads": " ".join(model.reads.split())}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    reads = Reads(str(part.params["reads"]), "rpm", _YES_RPM, 0.0)

    def by_state(conditions: Mapping[str, str]) -> tuple[float, float, float]:
        turns = state_quantity(conditions, reads) >= _LEAST_RPM
        return 1.0, 1.0 if turns else 0.0, 1.0

    kill, core = f"{part.id}.K", f"{part.id}.-"
    return (
        Branch(part.id, core, kill, part.number("kill_ohm"), emf=_KILL_V, steady=True,
               rated_v=_KILL_V, by_state=by_state),
        Branch(f"{part.id}.short", kill, core, _SHORTED_OHM, gate="never"),
    )


KIND = Kind(
    name="magneto",
    model=MagnetoModel,
    pins=lambda model: ("K", "-"),
    values=_values,
    symbol="magneto",
    default_price=70.0,
    fit_min=40.0,
    branches=_branches,
    quantities=lambda part: {str(part.params["reads"]): "rpm"},
    fault_modes=(
        burnt_out("dead", 0.03),
        FaultMode("shorted", 0.01,
                  lambda part, item, ohms: (Override(f"{part.id}.short", "closed"),)),
    ),
    load=True,
)
