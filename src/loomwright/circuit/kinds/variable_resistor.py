"""A resistance that follows a quantity of the state: what a sender and a thermistor share."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.common import Reads, on_branch, state_quantity, two_points
from loomwright.circuit.model import Part

__all__ = ["variable_branches", "variable_faults"]

_SHORTED_OHM = 0.5  # assumed
_JOINT_OHM = 1e-3  # of the slider or the contact, while it is good; assumed


def variable_branches(part: Part, base_ohm: float, reads: Reads, ohm: Callable[[float], float],
                      joint: str) -> tuple[Branch, ...]:
    """Return a resistance `ohm(quantity)` [ohm] in series with a joint that may go bad.

    Parameters
        base_ohm: what the tolerance is of, and the ohms where no state says more
        reads: the state's word and unit
        joint: what the joint is called in fault acts
    """
    a, b = two_points(part)
    inside = f"{part.id}.inside"

    def by_state(conditions: Mapping[str, str]) -> tuple[float, float, float]:
        return ohm(state_quantity(conditions, reads)) / base_ohm, 1.0, 1.0

    return (Branch(part.id, a, inside, base_ohm, spread="load", by_state=by_state),
            Branch(f"{part.id}.{joint}", inside, b, _JOINT_OHM))


def variable_faults(joint: str, bad_ohm: float, open_prior: float, bad_prior: float
                    ) -> tuple[FaultMode, ...]:
    """Return the faults: open, shorted, and a bad joint of `bad_ohm` [ohm] where none is named."""
    return (
        on_branch("open", open_prior, "open"),
        on_branch("shorted", 0.01, "shunt", _SHORTED_OHM),
        FaultMode("high-resistance", bad_prior,
                  lambda part, item, ohms: (Override(f"{part.id}.{joint}", "add", ohms),),
                  ohms=bad_ohm, continuum=True),
    )
