"""Reasons a solution cannot be trusted, in physical words."""

from __future__ import annotations

from loomwright.circuit.batch import BatchResult
from loomwright.errors import SolveError

__all__ = ["HUGE_A", "check_trustworthy"]

HUGE_A = 1e5  # no vehicle battery delivers more; assumed


def check_trustworthy(result: BatchResult) -> None:
    """Refuse a solution no vehicle could have.

    Raises
        SolveError: batteries shorted through almost no resistance, or volts that do not settle
    """
    huge = [name for name, part in result.circuit.parts.items() if part.kind == "battery"
            and name in result.part_amps and abs(float(result.part_amps[name][0])) > HUGE_A]
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
