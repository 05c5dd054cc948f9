"""Which checks are worth offering: those whose reading some fault would change, each once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.plant.predictions import Sample
from loomwright.plant import Check

__all__ = ["signature", "worth_offering"]

_SIGMAS = 3.0
_LEVEL_STEPS = 4
_STEP_SIGMAS = 4.0  # readings closer than this many standard deviations count as the same
_MOST_STEPS = 12


def signature(check: Check, sample: Sample) -> NDArray[np.int16]:
    """Return, for every row, by how many steps its reading stands off the no-fault reading.

    Steps grow with the distance (a square root), so that two checks with the same signature tell
    the same faults apart about as well.
    """
    if sample.levels is not None:
        middle = sample.levels[len(sample.levels) // 2]
        return np.round((middle - middle[0]) * _LEVEL_STEPS).astype(np.int16).ravel()
    node = len(sample.mean) // 2
    mean, spread = sample.mean[node], sample.spread[node]
    if check.quantity == "resistance":
        off = 2.0 * np.log10((mean + 0.5) / (mean[0] + 0.5)) * _STEP_SIGMAS
    else:
        noise = np.sqrt(spread[0] ** 2 + check.resolution**2 + (check.accuracy * mean[0]) ** 2)
        off = (mean - mean[0]) / noise
    steps = np.sign(off) * np.floor(np.sqrt(np.abs(off) / _STEP_SIGMAS))
    result: NDArray[np.int16] = np.clip(steps, -_MOST_STEPS, _MOST_STEPS).astype(np.int16)
    return result


def worth_offering(checks: Sequence[Check], samples: Sequence[Sample]) -> list[int]:
    """Return the numbers of the checks to offer, in their order.

    Left out: checks that no fault moves, and of checks at the same points in several states that
    tell the same faults apart, all but the quickest.
    """
    best: dict[tuple[object, ...], int] = {}
    for number, (check, sample) in enumerate(zip(checks, samples, strict=True)):
        steps = signature(check, sample)
        if not steps.any():
            continue
        key = (check.quantity, check.at, check.to, steps.tobytes())
        known = best.get(key)
        if known is None or check.minutes < checks[known].minutes:
            best[key] = number
    return sorted(best.values())
