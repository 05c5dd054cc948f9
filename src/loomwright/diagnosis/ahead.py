"""The best plan where few useful checks are left: dynamic programming over what they may show.

Each check has few outcomes here (its levels, or a number cut into bins), wrong readings included.
At every point either the repairs are tried in the order probability per cost, or the check is
taken after which the least minutes are expected. What is known depends on which outcomes were
seen, not on their order, so every such set is worked once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.choose import Option, Position, minutes_for
from loomwright.diagnosis.outlook import LiveRows, binned_shares
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.value import class_minutes, repair_cost

__all__ = ["Plan", "best_plan"]

Array = NDArray[np.float64]
Seen = frozenset[tuple[int, int]]  # (number of the check, outcome)

_MOST_CHECKS = 9
_MOST_NODES = 800  # worked within some 30 ms
_LEAST_MASS = 1e-3  # outcomes rarer than this end the plan


@dataclass(frozen=True, slots=True)
class Plan:
    """The first check of the best plan and the minutes it saves against repairing at once.

    `option` saves most; `net_min` is 0 or less where repairing at once is best.
    """

    option: Option
    net_min: float


class _TooLargeError(Exception):
    """More sets of outcomes than may be worked."""


@dataclass(eq=False)
class _Search:
    table: Table
    live: LiveRows
    options: Sequence[Option]
    shares: Array  # (n_checks, n_live, n_outcomes)
    minutes: Array  # of each class
    known: dict[tuple[Seen, Position], float] = field(default_factory=dict)

    def stopped(self, weight: Array) -> tuple[float, float]:
        """Return unnormalised minutes of repairing now, and at least so many by any plan."""
        classes = np.add.reduceat(weight, self.live.starts)
        comeback = self.table.settings.comeback_min
        now = float(repair_cost(classes[None], self.minutes, comeback)[0])
        return now, float(classes @ self.minutes)

    def step(self, number: int, weight: Array, seen: Seen, position: Position) -> float:
        """Return unnormalised minutes of a check and the best plan after each outcome."""
        check = self.options[number].check
        there = position.after(check)
        cost = minutes_for(self.table, check, position) * float(weight.sum())
        for outcome, after in enumerate((weight[:, None] * self.shares[number]).T):
            if after.any():
                cost += self.least(after, seen | {(number, outcome)}, there)
        return cost

    def least(self, weight: Array, seen: Seen, position: Position) -> float:
        """Return unnormalised minutes of the best plan."""
        key = (seen, position)
        if key not in self.known:
            if len(self.known) >= _MOST_NODES:
                raise _TooLargeError
            self.known[key] = self._searched(weight, seen, position)
        return self.known[key]

    def _searched(self, weight: Array, seen: Seen, position: Position) -> float:
        best, bound = self.stopped(weight)
        mass = float(weight.sum())
        if mass < _LEAST_MASS:
            return best
        taken = {number for number, _ in seen}
        for number, option in enumerate(self.options):
            room = best - bound - minutes_for(self.table, option.check, position) * mass
            if number not in taken and room > 0.0:
                best = min(best, self.step(number, weight, seen, position))
        return best


def best_plan(
    table: Table, live: LiveRows, ranked: Sequence[Option], position: Position
) -> Plan | None:
    """Return the best plan's first check, or None where more than 9 checks or too many sets.

    Exact for outcomes in bins, one reading of a check, and a battery that no reading tells of.
    """
    if not 0 < len(ranked) <= _MOST_CHECKS:
        return None
    shares = binned_shares(table, live, [one.column for one in ranked])
    search = _Search(table, live, ranked, shares, class_minutes(table, live))
    now, _ = search.stopped(live.weight)
    try:
        costs = [search.step(number, live.weight, frozenset(), position)
                 for number in range(len(ranked))]
    except _TooLargeError:
        return None
    best = int(np.argmin(costs))
    return Plan(ranked[best], now - costs[best])
