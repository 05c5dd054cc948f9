"""Sender or variable resistor: its ohms follow a level that the state gives."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import WORD_LIMIT, Reads
from loomwright.circuit.kinds.variable_resistor import variable_branches, variable_faults
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_EMPTY_OHM, _FULL_OHM = 250.0, 20.0  # at 0 % and 100 %; assumed
_WORN_OHM = 100.0  # a dirty slider when no value is given; assumed


class SenderModel(PartModel):
    """Keys of a sender in the circuit file."""

    reads: str = Field(default="level", min_length=1, max_length=WORD_LIMIT)  # a state's word
    empty: Ohms | None = None  # at 0 %
    full: Ohms | None = None  # at 100 %


def _values(model: SenderModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"empty_ohm": model.empty, "full_ohm": model.full},
        {"empty_ohm": _EMPTY_OHM, "full_ohm": _FULL_OHM},
    )
    return {**values, "reads": " ".join(model.reads.split())}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    empty, full = part.number("empty_ohm"), part.number("full_ohm")
    reads = Reads(str(part.params["reads"]), "%", 100.0, 0.0)

    def ohm(percent: float) -> float:
        return empty + min(max(percent / 100, 0.0), 1.0) * (full - empty)

    return variable_branches(part, empty, reads, ohm, "slider")


KIND = Kind(
    name="sender",
    model=SenderModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="sender",
    default_price=45.0,
    fit_min=30.0,
    branches=_branches,
    quantities=lambda part: {str(part.params["reads"]): "%"},
    fault_modes=variable_faults("slider", _WORN_OHM, open_prior=0.03, bad_prior=0.03),
)
