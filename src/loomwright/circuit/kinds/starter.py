"""Starter: pull-in and hold-in windings move a plunger that closes the main contact to a motor."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.kinds.base import Amps, Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import on_branch
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_CRANKING_A = 150.0  # assumed; 100 to 250 A at 12 V is common practice
_STALL_TIMES = 4.0  # stalled current against cranking current; assumed
# Windings. 12 V: 69 A both and 13 A hold-in at 10 V (starter 28MT, source S31, published). 24 V:
# 0.16-0.20 and 1.45-1.65 ohm (TM 9-4940-568-34, source S87, published).
_WINDINGS = {12: (0.18, 0.77), 24: (0.18, 1.55)}
_CONTACT_OHM = 0.0005  # assumed
_PULLS_IN = 0.60  # share of the pull of both windings at system volts; assumed
_HOLDS = 0.50  # share of the hold-in winding's own pull at system volts; assumed
_WORN_TIMES = 3.0  # brushes and armature of a worn starter; assumed
_BURNT_OHM = 0.02  # a burnt main contact when no value is given; assumed


class StarterModel(PartModel):
    """Keys of a starter: 30 is the battery, 31 earth, 50 start, M the motor behind the contact."""

    current: Amps | None = None  # cranking
    resistance: Ohms | None = None  # armature with brushes
    pull_in_resistance: Ohms | None = None
    hold_in_resistance: Ohms | None = None


def _values(model: StarterModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    usual_pull, usual_hold = _WINDINGS[24 if system_v > 18 else 12]
    rated = _CRANKING_A if model.current is None else model.current
    pull, hold = model.pull_in_resistance or usual_pull, model.hold_in_resistance or usual_hold
    values, assumed = with_defaults(
        {"rated_a": model.current, "resistance_ohm": model.resistance,
         "pull_ohm": model.pull_in_resistance, "hold_ohm": model.hold_in_resistance},
        {"rated_a": rated, "resistance_ohm": system_v / (rated * _STALL_TIMES),
         "pull_ohm": pull, "hold_ohm": hold},
    )
    return {**values, "pull_in_a": _PULLS_IN * system_v * (1 / pull + 1 / hold),
            "drop_out_a": _HOLDS * system_v / hold}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name = part.id
    battery, earth, start, motor = (f"{name}.{pin}" for pin in ("30", "31", "50", "M"))
    return (
        Branch(f"{name}.pull", start, motor, part.number("pull_ohm"), spread="load"),
        Branch(f"{name}.hold", start, earth, part.number("hold_ohm"), spread="load"),
        Branch(f"{name}.contact", battery, motor, _CONTACT_OHM, gate=f"relay:{name}",
               spread="contact"),
        Branch(name, motor, earth, part.number("resistance_ohm"), law="motor", spread="load",
               rated_v=system_v, rated_a=part.number("rated_a")),
    )


def _inside(kind: str, prior: float, branch: str, act: str) -> FaultMode:
    return FaultMode(kind, prior,
                     lambda part, item, ohms: (Override(f"{part.id}.{branch}", act),))


KIND = Kind(
    name="starter",
    model=StarterModel,
    pins=lambda model: ("30", "31", "50", "M"),
    values=_values,
    symbol="starter",
    default_price=220.0,
    fit_min=60.0,
    branches=_branches,
    # both windings have as many turns (assumed), so amps add up
    metered=lambda part: (("30", "M"), ("50", "M"), ("50", "31"), ("M", "31")),
    plungers=lambda part: (
        Plunger(part.id, (f"{part.id}.pull", f"{part.id}.hold"), part.number("pull_in_a"),
                part.number("drop_out_a"), by="amps"),),
    fault_modes=(
        on_branch("open", 0.03, "open"),
        on_branch("worn", 0.03, "scale", _WORN_TIMES),
        on_branch("seized", 0.01, "seized"),
        _inside("pull-in-open", 0.01, "pull", "open"),
        _inside("hold-in-open", 0.01, "hold", "open"),
        _inside("contact-open", 0.02, "contact", "open"),
        _inside("welded", 0.005, "contact", "closed"),
        FaultMode("high-resistance", 0.02,
                  lambda part, item, ohms: (Override(f"{part.id}.contact", "add", ohms),),
                  ohms=_BURNT_OHM, continuum=True),
    ),
    load=True,
    strikes=True,
)
