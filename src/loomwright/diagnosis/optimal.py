"""Exact test sequencing for small tables of certain outcomes, by dynamic programming.

Objective: expected minutes of checks until one repair class is left (or a group that no check can
split), as in Pattipati and Alexandridis, IEEE Transactions on Systems, Man and Cybernetics 20,
1990. A yardstick for the choosers, not used while working a job.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.table import Table
from loomwright.errors import UsageError
from loomwright.plant import Check

__all__ = ["CertainTable", "Rows", "certain_table", "expected_minutes", "optimal_minutes"]

Rows = frozenset[int]
Chooser = Callable[[Table, tuple[Evidence, ...]], Check | None]

_MOST_ROWS = 20
_CERTAIN = 1.0 - 1e-9


@dataclass(frozen=True, eq=False)
class CertainTable:
    """Rows with prior shares and, for each check, the level each row shows for certain."""

    table: Table
    shares: dict[int, float]
    outcomes: tuple[dict[int, str], ...]
    _best: dict[Rows, tuple[float, int]] = field(default_factory=dict, repr=False)

    def split(self, rows: Rows, column: int) -> dict[str, Rows]:
        """Return the rows parted by the level they show at a check."""
        parts: dict[str, set[int]] = {}
        for row in sorted(rows):
            parts.setdefault(self.outcomes[column][row], set()).add(row)
        return {level: frozenset(part) for level, part in parts.items()}

    def decided(self, rows: Rows) -> bool:
        """Return whether all rows ask for the same repair."""
        return len({int(self.table.class_of[row]) for row in rows}) < 2

    def best(self, rows: Rows) -> tuple[float, int]:
        """Return the least unnormalised cost (share x minutes) of parting rows, and the check."""
        if self.decided(rows):
            return 0.0, -1
        if rows not in self._best:
            self._best[rows] = self._search(rows)
        return self._best[rows]

    def _search(self, rows: Rows) -> tuple[float, int]:
        share = sum(self.shares[row] for row in rows)
        found: list[tuple[float, int]] = []
        for column, check in enumerate(self.table.checks):
            parts = self.split(rows, column)
            if len(parts) > 1:
                rest = sum(self.best(part)[0] for part in parts.values())
                found.append((check.minutes * share + rest, column))
        return min(found, default=(0.0, -1))


def certain_table(table: Table, most_rows: int = _MOST_ROWS) -> CertainTable:
    """Return a table of certain outcomes; UsageError when it is too large or not certain."""
    shares = np.exp(table.log_prior)
    rows = [int(row) for row in np.flatnonzero(shares > 0.0)]
    if len(rows) > most_rows:
        raise UsageError(f"Exact sequencing takes at most {most_rows} rows, not {len(rows)}.")
    outcomes = []
    for check, model in zip(table.checks, table.models, strict=True):
        if model.levels is None or model.levels.shape[0] != 1:
            raise UsageError(f"Check '{check.id}' has no certain levels.")
        top = model.levels[0].argmax(axis=1)
        if not np.all(model.levels[0, rows, top[rows]] >= _CERTAIN):
            raise UsageError(f"Check '{check.id}' is not certain for every row.")
        outcomes.append({row: check.levels[int(top[row])] for row in rows})
    return CertainTable(table, {row: float(shares[row]) for row in rows}, tuple(outcomes))


def optimal_minutes(table: Table) -> tuple[float, Check | None]:
    """Return the least expected minutes of checks to name the repair class, and the first check."""
    certain = certain_table(table)
    cost, column = certain.best(frozenset(certain.shares))
    total = sum(certain.shares.values())
    return cost / total, table.checks[column] if column >= 0 else None


def expected_minutes(table: Table, choose: Chooser) -> float:
    """Return the expected minutes of checks of a chooser on a table of certain outcomes."""
    certain = certain_table(table)
    everything = frozenset(certain.shares)
    total = sum(certain.shares.values())
    return _cost(certain, everything, (), choose) / total


def _cost(
    certain: CertainTable, rows: Rows, evidence: Sequence[Evidence], choose: Chooser
) -> float:
    if certain.decided(rows):
        return 0.0
    check = choose(certain.table, tuple(evidence))
    if check is None:
        return 0.0
    share = sum(certain.shares[row] for row in rows)
    parts = certain.split(rows, certain.table.checks.index(check))
    rest = sum(
        _cost(certain, part, (*evidence, Evidence(check, level)), choose)
        for level, part in parts.items()
    )
    return check.minutes * share + rest
