"""Fuse: a small resistance that opens when overloaded."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import TWO_PINS, Amps, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import on_branch, two_points
from loomwright.circuit.laws import BLOW_SHARE
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND", "fuse_ohm"]

# A 10 A blade fuse drops 1.0 mV at 130 mA: 7.69 milliohm (maker's table, source S64 of the
# reference tables, published). Other ratings in inverse proportion: assumed.
_OHM_TIMES_AMPS = 0.0769


def fuse_ohm(rating_a: float) -> float:
    """Return a fuse's cold resistance [ohm] from its rating [A], in inverse proportion."""
    return _OHM_TIMES_AMPS / rating_a


class FuseModel(PartModel):
    """Keys of a fuse in the circuit file."""

    rating: Amps | None = None
    resistance: Ohms | None = None
    type: Literal["blade", "maxi", "bolt-down"] = "blade"  # how quick it is


def _values(model: FuseModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    rating = 15.0 if model.rating is None else model.rating
    values, assumed = with_defaults(
        {"rating_a": model.rating, "resistance_ohm": model.resistance},
        {"rating_a": rating, "resistance_ohm": fuse_ohm(rating)},
    )
    return {**values, "type": model.type}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    return (Branch(part.id, a, b, part.number("resistance_ohm"), spread="contact"),)


KIND = Kind(
    name="fuse",
    model=FuseModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="fuse",
    default_price=1.0,
    fit_min=2.0,
    branches=_branches,
    opens_above=lambda part: BLOW_SHARE * part.number("rating_a"),
    fault_modes=(on_branch("blown", 0.05, "open"),),
)
