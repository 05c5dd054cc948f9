"""Connector: the mating halves of each way, with the contact between them."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.shares import shared_out
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_CONTACT_OHM = 0.005  # assumed
_CORRODED_OHM = 1.0  # when a high-resistance way is named without a value; assumed


class ConnectorModel(PartModel):
    """Keys of a connector in the circuit file."""

    ways: int = Field(default=1, ge=1, le=400)
    resistance: Ohms | None = None  # of each contact


def _way_names(model: ConnectorModel) -> tuple[str, ...]:
    return tuple(str(way) for way in range(1, model.ways + 1))


def _values(model: ConnectorModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"resistance_ohm": model.resistance}, {"resistance_ohm": _CONTACT_OHM}
    )
    return {**values, "ways": _way_names(model)}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    ways, ohm = part.params["ways"], part.number("resistance_ohm")
    assert isinstance(ways, tuple)
    names = [f"{part.id}.{way}" for way in ways]
    return tuple(Branch(name, f"{name}a", f"{name}b", ohm, spread="contact") for name in names)


KIND = Kind(
    name="connector",
    model=ConnectorModel,
    pins=lambda model: tuple(f"{way}{half}" for way in _way_names(model) for half in "ab"),
    values=_values,
    symbol="connector",
    default_price=20.0,
    fit_min=30.0,
    branches=_branches,
    fault_modes=shared_out("connector", (
        FaultMode("open", 0.02,
                  lambda part, item, ohms: (Override(f"{part.id}.{item}", "open"),),
                  items="ways", repair="clean"),
        FaultMode("high-resistance", 0.05,
                  lambda part, item, ohms: (Override(f"{part.id}.{item}", "add", ohms),),
                  items="ways", ohms=_CORRODED_OHM, repair="clean", continuum=True),
    )),
)
