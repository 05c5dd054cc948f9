"""Proximity switch of three wires: it joins its output to its supply, or to earth."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds.base import Kind, PartModel, Rule
from loomwright.circuit.kinds.common import on_branch
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_IDLE_A = 0.01  # assumed
_ON_OHM = 5.0  # about 1 V at 200 mA; assumed
_LEAST_SHARE, _LETS_GO = 0.4, 0.9  # of system volts; assumed


class ProximitySwitchModel(PartModel):
    """Keys of a proximity switch in the circuit file: + and - of its supply, S its output."""

    closed_when: Rule
    drives: Literal["high side", "low side"] = "high side"


def _values(model: ProximitySwitchModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    return {"closed_when": model.closed_when, "drives": model.drives,
            "least_v": _LEAST_SHARE * system_v}, frozenset()


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, rule = part.id, part.params["closed_when"]
    assert isinstance(rule, Expression)
    plus, minus, output, inside = (f"{name}.{pin}" for pin in ("+", "-", "S", "inside"))
    supply = plus if part.params["drives"] == "high side" else minus
    return (
        Branch(f"{name}.idle", plus, minus, system_v / _IDLE_A, spread="load"),
        # two contacts in a row: it has supply, and it sees its target
        Branch(f"{name}.alive", supply, inside, 1e-3, gate=f"relay:{name}"),
        Branch(name, inside, output, _ON_OHM, gate=f"rule:{name}", when=rule, spread="contact"),
    )


KIND = Kind(
    name="proximity switch",
    model=ProximitySwitchModel,
    pins=lambda model: ("+", "-", "S"),
    values=_values,
    symbol="proximity switch",
    default_price=60.0,
    fit_min=20.0,
    branches=_branches,
    plungers=lambda part: (
        Plunger(part.id, (f"{part.id}.idle",), part.number("least_v"),
                _LETS_GO * part.number("least_v")),),
    fault_modes=(
        FaultMode("dead", 0.03, lambda part, item, ohms: (Override(f"{part.id}.idle", "open"),)),
        on_branch("stuck-open", 0.02, "open"),
        on_branch("stuck-closed", 0.02, "closed"),
    ),
)
