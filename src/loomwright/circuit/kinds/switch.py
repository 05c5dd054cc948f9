"""Switch: a contact closed by its rule."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch
from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds.base import TWO_PINS, Kind, Ohms, PartModel, Rule, with_defaults
from loomwright.circuit.kinds.common import on_branch, two_points
from loomwright.circuit.kinds.shares import shared_out
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND", "rule_of"]

_CONTACT_OHM = 0.010  # assumed


class SwitchModel(PartModel):
    """Keys of a switch in the circuit file."""

    closed_when: Rule | None = None
    resistance: Ohms | None = None


def _values(model: SwitchModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _CONTACT_OHM}
    )
    return {**values, "closed_when": model.closed_when}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    ohm = part.number("resistance_ohm")
    return (Branch(part.id, a, b, ohm, gate=f"switch:{part.id}", spread="contact"),)


def rule_of(part: Part) -> Expression:
    """Return what closes a switch; without a rule it is the condition of its own id."""
    rule = part.params.get("closed_when")
    return rule if isinstance(rule, Expression) else Expression("name", name=part.id)


KIND = Kind(
    name="switch",
    model=SwitchModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="switch",
    default_price=25.0,
    fit_min=15.0,
    branches=_branches,
    fault_modes=shared_out("switch", (on_branch("stuck-open", 0.06, "open"),
                                      on_branch("stuck-closed", 0.02, "closed"))),
)
