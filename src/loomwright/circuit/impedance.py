"""Resistances seen at every point of a factored batch, found in one pass over the factor.

The entries of the inverse that lie inside the elimination's pattern follow from one another, last
node first (the recursion of Takahashi, Fagan and Chen, 1973, from memory): with
V_i = I_i / d_i + sum_k s_ik V_k, Z_ij = sum_k s_ik Z_kj and Z_ii = 1 / d_i + sum_k s_ik Z_ik.
So every point against the reference, and every pair that a branch joins, costs one pass together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.elimination import Factor, Plan

__all__ = ["Impedances", "impedances"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Impedances:
    """Z [ohm] inside the pattern: `own` (n_rows, B) and `shared` (n_entries, B)."""

    plan: Plan
    own: Array
    shared: Array

    def between(self, first: int, second: int) -> Array | None:
        """Return the resistance seen between two nodes (B,), or None outside the pattern."""
        a, b = int(self.plan.row_of[first]), int(self.plan.row_of[second])
        if a < 0 or b < 0:
            row = max(a, b)
            return np.zeros(self.own.shape[1]) if row < 0 else self.own[row]
        entry = self.plan.entry_of.get((min(a, b), max(a, b)))
        if entry is None:
            return None
        found: Array = self.own[a] + self.own[b] - 2 * self.shared[entry]
        return np.maximum(found, 0.0)


def impedances(factor: Factor) -> Impedances:
    """Return the resistances inside the pattern of a factored batch."""
    plan = factor.plan
    count = factor.totals[0].shape[-1]
    own = np.empty((plan.size, count))
    shared = np.empty((len(plan.entry_of), count))
    steps = zip(reversed(plan.steps), reversed(factor.shares), reversed(factor.totals), strict=True)
    for step, share, total in steps:
        mine = shared[step.first:step.last].reshape(share.shape)
        mine[:] = share * own[step.others]
        for number, (left, right) in enumerate(zip(step.left, step.right, strict=True)):
            between = shared[step.pairs[:, number]]
            mine[:, left] += share[:, right] * between
            mine[:, right] += share[:, left] * between
        own[step.first_row:step.last_row] = 1.0 / total + (share * mine).sum(axis=1)
    return Impedances(plan, own, shared)
