"""What opens when overloaded: keys, law and values that a fuse and a circuit breaker share."""

from __future__ import annotations

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import Amps, Ohms, PartModel, with_defaults
from loomwright.circuit.kinds.common import two_points
from loomwright.circuit.model import ParamValue, Part

__all__ = ["ProtectionModel", "contact_branch", "protection_values"]


class ProtectionModel(PartModel):
    """Keys of a part that opens above a rating."""

    rating: Amps | None = None
    resistance: Ohms | None = None


def protection_values(model: ProtectionModel, usual_a: float, ohm_times_amps: float
                      ) -> tuple[dict[str, ParamValue], frozenset[str]]:
    """Return rating and resistance; where not given `usual_a` [A], and ohms in inverse proportion.

    `ohm_times_amps` [V] is what it drops at its rating.
    """
    rating = usual_a if model.rating is None else model.rating
    return with_defaults(
        {"rating_a": model.rating, "resistance_ohm": model.resistance},
        {"rating_a": rating, "resistance_ohm": ohm_times_amps / rating},
    )


def contact_branch(part: Part, system_v: float) -> tuple[Branch, ...]:
    """Return a resistance between two pins, with the tolerance of a contact."""
    a, b = two_points(part)
    return (Branch(part.id, a, b, part.number("resistance_ohm"), spread="contact"),)
