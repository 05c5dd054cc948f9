"""Which rows no reading tells apart, and which check splits the rest best per minute."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.table import CheckModel

__all__ = ["Steps", "groups_of", "split_bits", "steps_of"]

Array = NDArray[np.float64]
Steps = NDArray[np.int64]

_APART_SDS = 3.0  # two readings further apart than this are told apart by one look; assumed


def _flat(model: CheckModel, weights: Array) -> tuple[Array, Array]:
    """Return mean and deviation of every row, the unknown battery volts included."""
    mean = np.einsum("n,nr->r", weights, model.mean)
    square = np.einsum("n,nr->r", weights, model.sd**2 + model.mean**2)
    return mean, np.sqrt(np.maximum(square - mean**2, 0.0))


def steps_of(model: CheckModel, weights: Array) -> Steps:
    """Return for every row which of the tellable readings of a check it gives (0, 1, 2 ...).

    Rows sorted by their reading belong together until a gap is wider than three deviations of
    both neighbours; of a check with levels, rows with the same likeliest level.

    Parameters
        model: predictions of one check (n_nuisance, n_rows)
        weights: of the nuisance (n_nuisance,), summing to one
    """
    if model.levels is not None:
        likely: Steps = np.einsum("n,nrl->rl", weights, model.levels).argmax(axis=1)
        return likely
    mean, sd = _flat(model, weights)
    order = np.argsort(mean, kind="stable")
    gap = np.diff(mean[order]) > _APART_SDS * np.hypot(sd[order][1:], sd[order][:-1])
    steps = np.empty(len(mean), dtype=np.int64)
    steps[order] = np.concatenate([[0], np.cumsum(gap)])
    return steps


def groups_of(steps: Sequence[Steps], count: int) -> tuple[tuple[int, ...], ...]:
    """Return the rows in groups that no check tells apart: the same step at every check."""
    found: dict[tuple[int, ...], list[int]] = {}
    for row in range(count):
        found.setdefault(tuple(int(one[row]) for one in steps), []).append(row)
    return tuple(tuple(rows) for rows in found.values())


def split_bits(steps: Steps, shares: Array) -> float:
    """Return the entropy [bit] of a check's outcome: what it is expected to tell of the rows."""
    mass = np.bincount(steps, weights=shares)
    mass = mass[mass > 0] / mass.sum()
    return float(max(-(mass * np.log2(mass)).sum(), 0.0))
