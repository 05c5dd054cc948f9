"""Which single faults of a circuit no reading shows, and which no reading tells apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.plant import CircuitPlant
from loomwright.plant import NO_FAULT, Check, Hypothesis, Prediction

__all__ = ["Separation", "separation_of"]

Array = NDArray[np.float64]

_SIGMAS = 3.0  # readings further apart than this tell two faults apart
_LEVEL_SHIFT = 0.3  # or a share of a level
_OFFSET_OHM = 0.5  # resistances are compared on log10(ohm + 0.5)


@dataclass(frozen=True, slots=True)
class Separation:
    """Faults that no check shows, and groups that no check tells apart, by fault id.

    A group holds faults of at least two repairs: what one repair mends need not be told apart.
    """

    hidden: tuple[str, ...]
    alike: tuple[tuple[str, ...], ...]


def separation_of(plant: CircuitPlant) -> Separation:
    """Return what no reading on a circuit can show, over every check a person could take.

    Two faults are told apart where some check's predicted readings are more than three standard
    deviations apart, tolerances and the meter's resolution included. A high resistance stands
    for itself by the highest of its severities.
    """
    rows = _worst_rows(plant)
    checks = tuple({one.id: one for one in plant.maker.candidates()}.values())
    prediction = plant.predict((NO_FAULT, *rows), checks)
    apart = np.zeros((len(rows) + 1, len(rows) + 1), np.bool_)
    for number, check in enumerate(checks):
        apart |= _apart(check, number, prediction)
    hidden = {row.fault_id for row, seen in zip(rows, apart[0, 1:], strict=True) if not seen}
    shown = [number for number, row in enumerate(rows) if row.fault_id not in hidden]
    groups = _groups(shown, ~apart[1:, 1:])
    alike = tuple(tuple(rows[number].fault_id for number in group) for group in groups
                  if len({rows[number].repair for number in group}) > 1)
    return Separation(tuple(row.fault_id for row in rows if row.fault_id in hidden), alike)


def _worst_rows(plant: CircuitPlant) -> tuple[Hypothesis, ...]:
    """Return one row for every fault."""
    cells: dict[str, list[Hypothesis]] = {}
    for row in plant.faults():
        cells.setdefault(row.fault_id, []).append(row)
    return tuple(rows[-1] for rows in cells.values())


def _apart(check: Check, number: int, prediction: Prediction) -> NDArray[np.bool_]:
    """Return which pairs of rows one check tells apart."""
    node = len(prediction.weights) // 2
    if check.levels:
        levels = prediction.levels[number][node]
        shift: Array = 0.5 * np.abs(levels[:, None] - levels[None, :]).sum(axis=2)
        return shift > _LEVEL_SHIFT
    mean, spread = prediction.mean[node, :, number], prediction.spread[node, :, number]
    noise2 = spread**2 + check.resolution**2 + (check.accuracy * mean) ** 2
    if check.quantity == "resistance":
        size = mean + _OFFSET_OHM
        noise2 = noise2 / (size * np.log(10.0)) ** 2
        mean = np.log10(size)
    far: NDArray[np.bool_] = (np.abs(mean[:, None] - mean[None, :])
                              > _SIGMAS * np.sqrt(noise2[:, None] + noise2[None, :]))
    return far


def _groups(numbers: list[int], joined: NDArray[np.bool_]) -> list[list[int]]:
    """Return the numbers in groups, two in one where a chain of joined pairs leads over."""
    left, found = dict.fromkeys(numbers), []
    while left:
        waiting, group = [next(iter(left))], []
        while waiting:
            row = waiting.pop()
            if row in left:
                del left[row]
                group.append(row)
                waiting += [int(other) for other in np.flatnonzero(joined[row])]
        found.append(sorted(group))
    return found
