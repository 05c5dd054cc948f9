"""How large a circuit may be here: what a search of it takes grows with faults times readings.

A search keeps a prediction of every fault for every reading. A circuit of a few kilobytes with a
hundred lamps would fill gigabytes and stop the program for everybody who uses it, so a circuit is
counted before anything is solved.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.errors import UsageError

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit

__all__ = ["MOST_PREDICTIONS", "check_size", "check_unless_large"]

# Faults times readings offered. A million takes some 15 s and 4 GB (measured: 120 lamps, 1.8
# million, 24 s and 8 GB); the demonstration's tailgate has 155,000, the largest template 300,000.
MOST_PREDICTIONS = 1_000_000
_MOST_VOLTS = 5_000  # points times states; beyond, even counting the readings takes long


def check_size(circuit: Circuit) -> None:
    """Raise UsageError where a search of a circuit would take too long, or too much memory.

    Nothing is solved for it: points, states, faults and the readings that may be offered are
    counted.
    """
    from loomwright.circuit import CircuitPlant, faults_of

    points, states = len(circuit.points()), max(1, len(circuit.states))
    if points * states > _MOST_VOLTS:
        raise _too_large(f"{points} points in {states} state{'s' if states > 1 else ''}")
    faults = len(faults_of(circuit))
    readings = len({check.id for check in CircuitPlant(circuit).maker.candidates()})
    if faults * readings > MOST_PREDICTIONS:
        raise _too_large(f"{faults} faults and {readings} readings that could tell them apart")


def check_unless_large(circuit: Circuit, large: bool) -> None:
    """Raise UsageError for a circuit over the limit, and say how it is searched all the same.

    For a command on one's own machine, where nobody else waits; `large` lets every size pass.
    """
    if large:
        return
    try:
        check_size(circuit)
    except UsageError as error:
        raise UsageError(error.message, next_step=f"{error.next_step} With --large it is searched "
                         "all the same; a million pairs of a fault and a reading take "
                         "4 GB of memory or more."
                         ) from error


def _too_large(what: str) -> UsageError:
    return UsageError(
        f"This circuit is too large to be searched here: it has {what}.",
        next_step="Keep to the part of the vehicle that the job is about: one load or function, "
                  "its feed, its earth and what switches it.")
