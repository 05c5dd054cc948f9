"""Regulator and rectifier of a permanent-magnet generator, by its average over time.

Alternating current is not modelled. What a phase gives depends on whether its wire leads through
the stator to another phase, which a few millivolts inside the regulator find out.
"""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.kinds.alternator import output_share, set_volts
from loomwright.circuit.kinds.base import Amps, Kind, PartModel, Volts, with_defaults
from loomwright.circuit.kinds.common import WORD_LIMIT, Reads, burnt_out, state_quantity
from loomwright.circuit.kinds.stator import PHASES
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_LIMIT_A = 20.0  # assumed
_CUT_IN_RPM = 1000.0  # of the engine; assumed
_YES_RPM = 5000.0  # what `yes` stands for; assumed
_INNER_OHM = 0.02  # how far the volts fall with the load; assumed
_DRAIN_OHM_PER_12V = 12.0  # shorted diodes drain 1 A; assumed
_HIGH, _LOW = 1.15, 0.9  # set volts of a bad regulator; assumed
# Unequal, and no two of them alike or all in balance, so that every joined phase carries something.
_PROBE_V = {"A": 0.002, "B": 0.001, "C": -0.003}
_PROBE_OHM = 1.0
_JOINED_A = 1e-4


class RectifierModel(PartModel):
    """Keys of a regulator rectifier in the circuit file: phases A, B, C; + and -."""

    reads: str = Field(default="engine", min_length=1, max_length=WORD_LIMIT)  # engine speed
    set_volts: Volts | None = None
    limit: Amps | None = None


def _values(model: RectifierModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"set_v": model.set_volts, "limit_a": model.limit},
        {"set_v": set_volts(system_v), "limit_a": _LIMIT_A},
    )
    return {**values, "reads": " ".join(model.reads.split())}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, set_v, limit = part.id, part.number("set_v"), part.number("limit_a")
    reads = Reads(str(part.params["reads"]), "rpm", _YES_RPM, 0.0)
    joint, star, plus, minus = (f"{name}.{pin}" for pin in ("joint", "star", "+", "-"))

    def by_state(conditions: Mapping[str, str]) -> tuple[float, float, float]:
        return 1.0, 1.0, output_share(state_quantity(conditions, reads), _CUT_IN_RPM)

    found = [Branch(name, joint, plus, 1e-3),
             Branch(f"{name}.drain", plus, minus, _DRAIN_OHM_PER_12V * system_v / 12,
                    gate="never")]
    for phase in PHASES:
        found += [
            Branch(f"{name}.{phase}", star, f"{name}.{phase}", _PROBE_OHM,
                   emf=_PROBE_V[phase], steady=True),
            Branch(f"{name}.{phase} gives", minus, joint, len(PHASES) * _INNER_OHM, emf=set_v,
                   law="regulated", gate=f"relay:{name}.{phase}", rated_a=limit / len(PHASES),
                   by_state=by_state),
        ]
    return tuple(found)


def _regulator(kind: str, prior: float, share: float) -> FaultMode:
    return FaultMode(kind, prior, lambda part, item, ohms: tuple(
        Override(f"{part.id}.{phase} gives", "emf", share) for phase in PHASES))


KIND = Kind(
    name="regulator rectifier",
    model=RectifierModel,
    pins=lambda model: (*PHASES, "+", "-"),
    values=_values,
    symbol="rectifier",
    default_price=90.0,
    fit_min=25.0,
    branches=_branches,
    plungers=lambda part: tuple(
        Plunger(f"{part.id}.{phase}", (f"{part.id}.{phase}",), _JOINED_A, _JOINED_A / 2, by="amps")
        for phase in PHASES),
    quantities=lambda part: {str(part.params["reads"]): "rpm"},
    fault_modes=(
        burnt_out("dead", 0.03),
        FaultMode("diode-shorted", 0.01,
                  lambda part, item, ohms: (Override(f"{part.id}.drain", "closed"),)),
        _regulator("regulator-high", 0.01, _HIGH),
        _regulator("regulator-low", 0.01, _LOW),
    ),
)
