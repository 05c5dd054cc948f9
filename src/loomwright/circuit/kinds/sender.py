"""Sender or variable resistor: its ohms follow a level that the state gives."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import (
    WORD_LIMIT,
    Reads,
    on_branch,
    state_quantity,
    two_points,
)
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_EMPTY_OHM, _FULL_OHM = 250.0, 20.0  # at 0 % and 100 %; assumed
_SHORTED_OHM = 0.5  # assumed
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
    a, b = two_points(part)
    empty, full = part.number("empty_ohm"), part.number("full_ohm")
    reads = Reads(str(part.params["reads"]), "%", 100.0, 0.0)
    inside = f"{part.id}.inside"

    def by_state(conditions: Mapping[str, str]) -> tuple[float, float, float]:
        share = min(max(state_quantity(conditions, reads) / 100, 0.0), 1.0)
        return (empty + share * (full - empty)) / empty, 1.0, 1.0

    return (Branch(part.id, a, inside, empty, spread="load", by_state=by_state),
            Branch(f"{part.id}.slider", inside, b, 1e-3))


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
    fault_modes=(
        on_branch("open", 0.03, "open"),
        on_branch("shorted", 0.01, "shunt", _SHORTED_OHM),
        FaultMode("high-resistance", 0.03,
                  lambda part, item, ohms: (Override(f"{part.id}.slider", "add", ohms),),
                  ohms=_WORN_OHM, continuum=True),
    ),
)
