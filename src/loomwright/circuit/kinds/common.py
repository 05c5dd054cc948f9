"""Faults and branches shared by several kinds of part."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import Ohms, PartModel, Watts, with_defaults
from loomwright.circuit.model import ParamValue, Part
from loomwright.errors import QuantityError
from loomwright.units import parse_quantity

__all__ = [
    "CLAMP_FAULTS", "WORD_LIMIT", "PlainLoadModel", "Reads", "burnt_out", "clamp_items",
    "on_branch", "plain_load", "plain_load_values", "state_quantity", "two_points",
]

WORD_LIMIT = 60  # characters of a state's word


def two_points(part: Part) -> tuple[str, str]:
    """Return the points of a part with two pins."""
    first, second = part.points()
    return first, second


def on_branch(kind: str, prior: float, act: str, value: float = 0.0) -> FaultMode:
    """Return a fault of the whole part that acts on its one branch."""
    return FaultMode(kind, prior, lambda part, item, ohms: (Override(part.id, act, value),))


def burnt_out(kind: str, prior: float) -> FaultMode:
    """Return the fault of a load that no longer conducts."""
    return on_branch(kind, prior, "open")


class PlainLoadModel(PartModel):
    """Keys of a load of constant resistance, given by its power or its resistance."""

    power: Watts | None = None  # at system volts
    resistance: Ohms | None = None


def plain_load_values(
    usual_w: float,
) -> Callable[[PlainLoadModel, float], tuple[Mapping[str, ParamValue], frozenset[str]]]:
    """Return how such a load gets its values; `usual_w` [W at system volts] where none is given."""

    def values(model: PlainLoadModel, system_v: float
               ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
        power = usual_w if model.power is None else model.power
        found, assumed = with_defaults(
            {"resistance_ohm": model.resistance}, {"resistance_ohm": system_v**2 / power}
        )
        return found, assumed if model.power is None else frozenset()

    return values


def plain_load(part: Part, system_v: float) -> tuple[Branch, ...]:
    """Return a load of constant resistance: i = v / R."""
    a, b = two_points(part)
    ohm = part.number("resistance_ohm")
    return (Branch(part.id, a, b, ohm, spread="load", rated_v=system_v),)


@dataclass(frozen=True, slots=True)
class Reads:
    """The word of a state that a part follows, its unit, and what yes and no (or nothing) mean."""

    word: str
    unit: str
    yes: float
    no: float


def state_quantity(conditions: Mapping[str, str], reads: Reads) -> float:
    """Return the quantity that a state gives for a word, in the unit that the part reads."""
    text = conditions.get(reads.word, "no")
    word = text.strip().lower()
    if word in {"yes", "on", "true"}:
        return reads.yes
    try:
        return reads.no if word in {"no", "off", "false"} else parse_quantity(text, reads.unit)
    except QuantityError:
        return reads.no  # the reader refuses such a text; a circuit made by hand gets the default


_CLAMP_SHORTED_OHM = 0.02  # assumed
# An open clamp changes no steady reading: the spark it should stop is gone in milliseconds.
CLAMP_FAULTS = (
    FaultMode("shorted", 0.003,
              lambda part, item, ohms: (
                  Override(f"{part.id}.{item}", "shunt", _CLAMP_SHORTED_OHM),),
              items="clamps"),
)


def clamp_items(fitted: bool) -> tuple[str, ...]:
    """Return what a coil's clamp diode is called in fault ids; nothing where there is none."""
    return ("clamp",) if fitted else ()
