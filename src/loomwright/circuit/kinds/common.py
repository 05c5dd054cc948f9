"""Faults and branches shared by several kinds of part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.model import Part
from loomwright.errors import QuantityError
from loomwright.units import parse_quantity

__all__ = [
    "CLAMP_FAULTS", "WORD_LIMIT", "Reads", "burnt_out", "clamp_items", "on_branch", "plain_load",
    "state_quantity", "two_points",
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
