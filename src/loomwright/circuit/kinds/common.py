"""Faults and branches shared by several kinds of part."""

from __future__ import annotations

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.model import Part

__all__ = ["burnt_out", "on_branch", "plain_load", "two_points"]


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
