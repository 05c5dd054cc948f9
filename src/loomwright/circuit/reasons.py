"""Reasons a solution cannot be trusted, in physical words."""

from __future__ import annotations

from loomwright.circuit.batch import BatchResult
from loomwright.circuit.model import Circuit, Part
from loomwright.errors import SolveError

__all__ = ["HUGE_A", "SHORTED_SHARE", "check_trustworthy"]

HUGE_A = 1e5  # no vehicle battery delivers more; assumed
SHORTED_SHARE = 0.7  # of the short-circuit current; cranking draws well under half of it; assumed


def _most_a(circuit: Circuit, part: Part) -> float:
    """Return the current no battery of a circuit should see [A].

    Without a fault inserted that is a part of what it gives with its posts shorted: the file joins
    the posts, so the file is wrong. With a fault such a current may be what is asked about.
    """
    resistance_ohm = part.number("resistance_ohm")
    if circuit.faults or resistance_ohm <= 0:
        return HUGE_A
    return min(HUGE_A, SHORTED_SHARE * part.number("emf_v") / resistance_ohm)


def check_trustworthy(result: BatchResult) -> None:
    """Refuse a solution no vehicle could have.

    Raises
        SolveError: batteries shorted through almost no resistance, or volts that do not settle
    """
    huge = [name for name, part in result.circuit.parts.items() if part.kind == "battery"
            and name in result.part_amps
            and abs(float(result.part_amps[name][0])) > _most_a(result.circuit, part)]
    if len(huge) > 1:
        raise SolveError([f"Batteries {', '.join(huge)} drive each other through almost no "
                          "resistance"],
                         next_step="Check how their posts are joined.")
    if huge:
        raise SolveError([f"Battery {huge[0]} is joined post to post through almost no resistance"],
                         next_step=f"Check what is wired between {huge[0]}.+ and {huge[0]}.-.")
    if not bool(result.settled[0]):
        raise SolveError([f"The volts of state '{result.state}' do not settle"],
                         next_step="Check the values of lamps, diodes and motors.")
