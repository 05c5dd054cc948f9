"""Battery: an electromotive force behind its internal resistance."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, Volts, with_defaults
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_EMF_PER_12V = 12.6  # at rest, fully charged, 25 degC; common practice
_OHM_PER_12V = 0.010  # assumed
_CHARGE_OHM_PER_12V = 0.12  # taking a charge: 15 A at 14.4 V, part charged; assumed
_FLAT_EMF = 0.6  # share of the emf left when flat; assumed
_FLAT_OHM = 10.0  # internal resistance of a flat battery against a good one; assumed
_WEAK_OHM = 0.2  # internal resistance of a weak 12 V or 24 V battery; assumed


class BatteryModel(PartModel):
    """Keys of a battery in the circuit file."""

    volts: Volts | None = None  # electromotive force
    resistance: Ohms | None = None
    charge_resistance: Ohms | None = None


def _values(model: BatteryModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    blocks = system_v / 12
    charge = _CHARGE_OHM_PER_12V * blocks if model.resistance is None else model.resistance
    return with_defaults(
        {"emf_v": model.volts, "resistance_ohm": model.resistance,
         "resistance_charging_ohm": model.charge_resistance},
        {"emf_v": _EMF_PER_12V * blocks, "resistance_ohm": _OHM_PER_12V * blocks,
         "resistance_charging_ohm": charge},
    )


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    ohm, emf = part.number("resistance_ohm"), part.number("emf_v")
    charge = part.params.get("resistance_charging_ohm")
    charge_ohm = charge if isinstance(charge, float) else ohm
    return (Branch(part.id, f"{part.id}.-", f"{part.id}.+", ohm, emf=emf,
                   law="resistor" if charge_ohm == ohm else "battery", charge_ohm=charge_ohm),)


def _flat(part: Part, item: str, ohms: float) -> tuple[Override, ...]:
    return (Override(part.id, "emf", _FLAT_EMF), Override(part.id, "scale", _FLAT_OHM))


KIND = Kind(
    name="battery",
    model=BatteryModel,
    pins=lambda model: ("+", "-"),
    values=_values,
    symbol="battery",
    default_price=150.0,
    fit_min=20.0,
    branches=_branches,
    fault_modes=(
        FaultMode("flat", 0.02, _flat),
        FaultMode(
            "weak", 0.01, lambda part, item, ohms: (Override(part.id, "add", ohms),),
            ohms=_WEAK_OHM,
        ),
    ),
)
