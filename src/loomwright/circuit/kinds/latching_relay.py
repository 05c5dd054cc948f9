"""Latching relay: a pulse on one coil closes it, on the other opens it; it stays as it was left."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, Rule, Volts, with_defaults
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_COIL_OHM_PER_V2 = 40.0 / 144  # about 3.6 W; assumed
_CONTACT_OHM = 0.002  # assumed
_PULL_IN = 0.60  # share of system volts; common practice
_BURNT_CONTACT_OHM = 0.3  # when no value is given; assumed
_NEVER = Expression("not", (Expression("true"),))


class LatchingRelayModel(PartModel):
    """Keys of a latching relay: coils from set and reset to 85, contact from 30 to 87."""

    left_closed_when: Rule | None = None  # how it was left, where neither coil is fed
    coil_resistance: Ohms | None = None  # of each
    contact_resistance: Ohms | None = None
    pull_in: Volts | None = None


def _values(model: LatchingRelayModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"coil_ohm": model.coil_resistance, "contact_ohm": model.contact_resistance,
         "pull_in_v": model.pull_in},
        {"coil_ohm": _COIL_OHM_PER_V2 * system_v**2, "contact_ohm": _CONTACT_OHM,
         "pull_in_v": _PULL_IN * system_v},
    )
    return {**values, "left_closed_when": model.left_closed_when or _NEVER}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, coil, rule = part.id, part.number("coil_ohm"), part.params["left_closed_when"]
    assert isinstance(rule, Expression)
    supply, load, earth, inside = (f"{name}.{pin}" for pin in ("30", "87", "85", "inside"))
    # closed by the set coil, or as it was left unless the reset coil is fed
    return (
        *(Branch(f"{name}.{one}", f"{name}.{one}", earth, coil, spread="load", rated_v=system_v)
          for one in ("set", "reset")),
        Branch(name, supply, inside, part.number("contact_ohm"), spread="contact"),
        Branch(f"{name}.by set", inside, load, 1e-6, gate=f"relay:{name}.set"),
        Branch(f"{name}.left", inside, f"{name}.kept", 1e-6, gate=f"rule:{name}.left", when=rule),
        Branch(f"{name}.kept", f"{name}.kept", load, 1e-6, gate=f"!relay:{name}.reset"),
    )


def _coil_open(which: str) -> FaultMode:
    return FaultMode(f"{which}-coil-open", 0.01,
                     lambda part, item, ohms: (Override(f"{part.id}.{which}", "open"),))


KIND = Kind(
    name="latching relay",
    model=LatchingRelayModel,
    pins=lambda model: ("30", "87", "set", "reset", "85"),
    values=_values,
    symbol="latching relay",
    default_price=60.0,
    fit_min=20.0,
    branches=_branches,
    plungers=lambda part: tuple(
        Plunger(f"{part.id}.{one}", (f"{part.id}.{one}",), part.number("pull_in_v"),
                part.number("pull_in_v") / 2) for one in ("set", "reset")),
    metered=lambda part: (("30", "87"), ("set", "85"), ("reset", "85")),
    fault_modes=(
        _coil_open("set"),
        _coil_open("reset"),
        FaultMode("contact-open", 0.02, lambda part, item, ohms: (Override(part.id, "open"),)),
        FaultMode("welded", 0.01,
                  lambda part, item, ohms: (Override(f"{part.id}.by set", "closed"),)),
        FaultMode("high-resistance", 0.02,
                  lambda part, item, ohms: (Override(part.id, "add", ohms),),
                  ohms=_BURNT_CONTACT_OHM, continuum=True),
    ),
    strikes=True,
)
