"""Relay: a coil that moves a contact, with pull-in and drop-out volts."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, Volts, with_defaults
from loomwright.circuit.kinds.common import CLAMP_FAULTS, clamp_items
from loomwright.circuit.kinds.shares import shared_out
from loomwright.circuit.kinds.timing import TimingKeys, timing_read
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_COIL_OHM_PER_V2 = 85.0 / 144  # about 1.7 W: 85 ohm at 12 V, 340 ohm at 24 V; assumed
_CONTACT_OHM = 0.010  # assumed
_PULL_IN = 0.60  # share of system volts; common practice
_DROP_OUT = 0.20  # share of system volts; common practice
_BURNT_CONTACT_OHM = 1.0  # a high-resistance contact when no value is given; assumed


class RelayModel(PartModel, TimingKeys):
    """Keys of a relay in the circuit file; with timing it is a timer or a flasher."""

    changeover: bool = False
    clamp_diode: bool = False  # across the coil, cathode at 86
    coil_resistance: Ohms | None = None
    contact_resistance: Ohms | None = None
    pull_in: Volts | None = None
    drop_out: Volts | None = None


def _values(model: RelayModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {
            "coil_ohm": model.coil_resistance,
            "contact_ohm": model.contact_resistance,
            "pull_in_v": model.pull_in,
            "drop_out_v": model.drop_out,
        },
        {
            "coil_ohm": _COIL_OHM_PER_V2 * system_v**2,
            "contact_ohm": _CONTACT_OHM,
            "pull_in_v": _PULL_IN * system_v,
            "drop_out_v": _DROP_OUT * system_v,
        },
    )
    return {**values, "changeover": model.changeover, "clamp_diode": model.clamp_diode,
            "timing": timing_read(model), "clamps": clamp_items(model.clamp_diode)}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, contact = part.id, part.number("contact_ohm")
    found = [
        Branch(f"{name}.coil", f"{name}.86", f"{name}.85", part.number("coil_ohm"), spread="load",
               rated_v=system_v),
        Branch(f"{name}.no", f"{name}.30", f"{name}.87", contact, gate=f"relay:{name}",
               spread="contact"),
    ]
    if part.params.get("changeover"):
        found.append(Branch(f"{name}.nc", f"{name}.30", f"{name}.87a", contact,
                            gate=f"!relay:{name}", spread="contact"))
    if part.params.get("clamp_diode"):
        found.append(Branch(f"{name}.clamp", f"{name}.85", f"{name}.86", 0.02, law="diode"))
    return tuple(found)


def _welded(part: Part, item: str, ohms: float) -> tuple[Override, ...]:
    return (Override(f"{part.id}.no", "closed"), Override(f"{part.id}.nc", "open"))


KIND = Kind(
    name="relay",
    model=RelayModel,
    pins=lambda model: ("30", "85", "86", "87", "87a") if model.changeover
    else ("30", "85", "86", "87"),
    values=_values,
    symbol="relay",
    default_price=12.0,
    fit_min=5.0,
    branches=_branches,
    plungers=lambda part: (Plunger(part.id, (f"{part.id}.coil",), part.number("pull_in_v"),
                                   part.number("drop_out_v")),),
    fault_modes=shared_out("relay", (
        FaultMode("coil-open", 0.02,
                  lambda part, item, ohms: (Override(f"{part.id}.coil", "open"),)),
        FaultMode("contact-open", 0.03,
                  lambda part, item, ohms: (Override(f"{part.id}.no", "open"),)),
        FaultMode("welded", 0.01, _welded),
        FaultMode("high-resistance", 0.02,
                  lambda part, item, ohms: (Override(f"{part.id}.no", "add", ohms),),
                  ohms=_BURNT_CONTACT_OHM, continuum=True),
        *CLAMP_FAULTS,
    )),
    strikes=True,
)
