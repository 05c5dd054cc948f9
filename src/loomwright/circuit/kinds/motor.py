"""Motor with permanent-magnet field: stalled it is its armature, running it has a back-EMF."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import (
    TWO_PINS,
    Amps,
    Kind,
    Ohms,
    PartModel,
    Seconds,
    with_defaults,
)
from loomwright.circuit.kinds.common import on_branch, two_points
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_RATED_A_AT_12V = 5.0  # assumed
_STALL_TIMES = 5.0  # stalled current against rated current; assumed
_WORN_TIMES = 3.0  # brush and armature resistance of a worn motor against a good one; assumed


class MotorModel(PartModel):
    """Keys of a motor in the circuit file."""

    current: Amps | None = None  # at system volts
    resistance: Ohms | None = None  # armature with brushes
    turn_time: Seconds | None = None  # of one turn of what it drives, at rated speed
    parked_word: str = ""  # of states: holds while that stands in its park position
    turned_by_hand: bool = True  # what it drives can be got hold of and moved


def _values(model: MotorModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    rated = _RATED_A_AT_12V * 12 / system_v if model.current is None else model.current
    if bool(model.turn_time) != bool(model.parked_word):
        raise ValueError("'turn time' and 'parked word' need each other.")
    values, assumed = with_defaults(
        {"rated_a": model.current, "resistance_ohm": model.resistance},
        {"rated_a": rated, "resistance_ohm": system_v / (rated * _STALL_TIMES)},
    )
    if not model.turned_by_hand:
        values["turned_by_hand"] = False
    if model.turn_time is None:
        return values, assumed
    word = " ".join(model.parked_word.split())
    return {**values, "turn_s": model.turn_time, "parked_word": word}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    return (Branch(part.id, a, b, part.number("resistance_ohm"), law="motor", spread="load",
                   rated_v=system_v, rated_a=part.number("rated_a")),)


KIND = Kind(
    name="motor",
    model=MotorModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="motor",
    default_price=90.0,
    fit_min=40.0,
    branches=_branches,
    fault_modes=(
        on_branch("open", 0.03, "open"),
        on_branch("worn", 0.03, "scale", _WORN_TIMES),
        on_branch("seized", 0.02, "seized"),
    ),
    load=True,
    turns=True,
)
