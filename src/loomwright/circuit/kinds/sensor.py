"""Three-wire sensor: a share of its supply that follows a level (ratiometric)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from pydantic import Field, WithJsonSchema

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import (
    Kind,
    Ohms,
    PartModel,
    positive_quantity,
    with_defaults,
)
from loomwright.circuit.kinds.common import WORD_LIMIT, Reads, state_quantity
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_TRACK_OHM = 5000.0  # assumed
_WIPER_OHM = 1000.0  # in series with the signal; assumed
_LOW_PERCENT, _HIGH_PERCENT = 10.0, 90.0  # of the supply at 0 % and 100 %; common practice
_SHORTED_OHM = 1.0  # assumed
_WORN_OHM = 50_000.0  # a dirty wiper when no value is given; assumed
_DRIFT_TIMES = 1.5  # one half of the track against its own value; assumed

Percent = Annotated[float, positive_quantity("%"),
                    WithJsonSchema({"type": "string", "description": "in %", "examples": ["10 %"]})]


class SensorModel(PartModel):
    """Keys of a three-wire sensor: + is its supply, - its earth, S the signal."""

    reads: str = Field(default="position", min_length=1, max_length=WORD_LIMIT)
    low: Percent | None = None  # of the supply, at 0 %
    high: Percent | None = None  # of the supply, at 100 %
    resistance: Ohms | None = None  # from + to -


def _values(model: SensorModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"low_percent": model.low, "high_percent": model.high,
         "resistance_ohm": model.resistance},
        {"low_percent": _LOW_PERCENT, "high_percent": _HIGH_PERCENT,
         "resistance_ohm": _TRACK_OHM},
    )
    for key in ("low_percent", "high_percent"):
        share = values[key]
        if isinstance(share, float) and share >= 100:
            raise ValueError("'low' and 'high' must lie between 0 and 100 % of the supply.")
    return {**values, "reads": " ".join(model.reads.split())}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, track = part.id, part.number("resistance_ohm")
    low, high = part.number("low_percent") / 100, part.number("high_percent") / 100
    reads = Reads(str(part.params["reads"]), "%", 100.0, 0.0)
    wiper = f"{name}.wiper"

    def below(conditions: Mapping[str, str]) -> float:
        level = min(max(state_quantity(conditions, reads) / 100, 0.0), 1.0)
        return low + (high - low) * level

    return (
        Branch(name, f"{name}.+", wiper, track,
               by_state=lambda conditions: (1 - below(conditions), 1.0, 1.0)),
        Branch(f"{name}.lower", wiper, f"{name}.-", track,
               by_state=lambda conditions: (below(conditions), 1.0, 1.0)),
        Branch(f"{name}.signal", wiper, f"{name}.S", _WIPER_OHM),
        Branch(f"{name}.short", f"{name}.+", f"{name}.-", _SHORTED_OHM, gate="never"),
    )


def _act(kind: str, prior: float, branch: str, act: str, value: float = 0.0) -> FaultMode:
    return FaultMode(kind, prior,
                     lambda part, item, ohms: (Override(f"{part.id}{branch}", act, value),))


KIND = Kind(
    name="sensor",
    model=SensorModel,
    pins=lambda model: ("+", "-", "S"),
    values=_values,
    symbol="sensor",
    default_price=55.0,
    fit_min=25.0,
    branches=_branches,
    metered=lambda part: (("+", "-"), ("S", "-")),
    quantities=lambda part: {str(part.params["reads"]): "%"},
    fault_modes=(
        _act("signal-open", 0.01, ".signal", "open"),
        _act("supply-open", 0.005, "", "open"),
        _act("earth-open", 0.005, ".lower", "open"),
        _act("shorted", 0.005, ".short", "closed"),
        _act("drifted", 0.01, ".lower", "scale", _DRIFT_TIMES),
        FaultMode("high-resistance", 0.01,
                  lambda part, item, ohms: (Override(f"{part.id}.signal", "add", ohms),),
                  ohms=_WORN_OHM, continuum=True),
    ),
)
