"""The least minutes a whole job can take where outcomes are certain: exact dynamic programming.

Minutes are those of checks (reach of a place once, changes of set-up), of repairs tried in the
order probability per cost, and of comebacks, so that stopping early is weighed too. A yardstick
for the choosers, on few checks; not used while working a job.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from loomwright.diagnosis.choose import Position, minutes_for
from loomwright.diagnosis.optimal import CertainTable, Rows, certain_table
from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.value import repair_cost, repair_minutes
from loomwright.errors import UsageError
from loomwright.plant import Check

__all__ = ["JobMinutes", "Move", "least_minutes", "minutes_of_policy"]

MOST_CHECKS = 9
_MOST_ROWS = 64
_START = Position()

# What a policy does next: a check, or the name of the repair with which it stops ('': none known).
Move = Callable[[Table, tuple[Evidence, ...]], Check | str]


@dataclass(frozen=True, slots=True)
class JobMinutes:
    """Expected minutes [min] of a whole job: of its checks, and of repairs with comebacks."""

    checks: float
    repairs: float

    @property
    def total(self) -> float:
        """Return all minutes."""
        return self.checks + self.repairs


@dataclass(frozen=True, eq=False)
class _Job:
    certain: CertainTable
    _best: dict[tuple[Rows, Position], tuple[float, float]] = field(default_factory=dict)

    def share(self, rows: Rows) -> float:
        return sum(self.certain.shares[row] for row in rows)

    def stopped(self, rows: Rows, first: str = "") -> float:
        """Return unnormalised minutes of repairing, `first` before the others."""
        table, shares = self.certain.table, dict[str, float]()
        for row in sorted(rows):
            name = table.classes[int(table.class_of[row])]
            shares[name] = shares.get(name, 0.0) + self.certain.shares[row]
        comeback, spent = table.settings.comeback_min, 0.0
        if first:
            left = sum(shares.values()) - shares.pop(first, 0.0)
            spent = self.share(rows) * repair_minutes(table, first) + left * comeback
        if not shares:
            return spent
        minutes = np.array([repair_minutes(table, name) for name in shares])
        rest = repair_cost(np.array([list(shares.values())]), minutes, comeback)
        return spent + float(rest[0])

    def after(self, rows: Rows, column: int, position: Position) -> tuple[float, Position]:
        """Return unnormalised minutes of a check, and where it leaves the technician."""
        check = self.certain.table.checks[column]
        minutes = minutes_for(self.certain.table, check, position) * self.share(rows)
        return minutes, position.after(check)

    def best(self, rows: Rows, position: Position) -> tuple[float, float]:
        """Return least unnormalised minutes (checks, repairs)."""
        if (rows, position) not in self._best:
            self._best[rows, position] = self._search(rows, position)
        return self._best[rows, position]

    def _search(self, rows: Rows, position: Position) -> tuple[float, float]:
        least = (0.0, self.stopped(rows))
        if self.certain.decided(rows):
            return least
        for column in range(len(self.certain.table.checks)):
            parts = self.certain.split(rows, column)
            if len(parts) < 2:
                continue
            checks, there = self.after(rows, column, position)
            repairs = 0.0
            for part in parts.values():
                more = self.best(part, there)
                checks, repairs = checks + more[0], repairs + more[1]
            if checks + repairs < sum(least) - 1e-12:
                least = (checks, repairs)
        return least

    def worked(self, rows: Rows, position: Position, evidence: tuple[Evidence, ...], move: Move
               ) -> tuple[float, float]:
        """Return unnormalised minutes (checks, repairs) of a policy."""
        wanted = move(self.certain.table, evidence)
        if isinstance(wanted, str):
            return 0.0, self.stopped(rows, wanted)
        column = self.certain.table.checks.index(wanted)
        checks, there = self.after(rows, column, position)
        repairs = 0.0
        for level, part in self.certain.split(rows, column).items():
            more = self.worked(part, there, (*evidence, Evidence(wanted, level)), move)
            checks, repairs = checks + more[0], repairs + more[1]
        return checks, repairs


def _job(table: Table) -> _Job:
    if len(table.checks) > MOST_CHECKS:
        raise UsageError(f"A whole job is worked exactly with at most {MOST_CHECKS} checks, "
                         f"not {len(table.checks)}.")
    return _Job(certain_table(table, _MOST_ROWS))


def _of(job: _Job, minutes: tuple[float, float]) -> JobMinutes:
    total = sum(job.certain.shares.values())
    return JobMinutes(minutes[0] / total, minutes[1] / total)


def least_minutes(table: Table) -> JobMinutes:
    """Return the least expected minutes of a whole job, by dynamic programming over sets of rows.

    Raises UsageError with more than 9 checks or 64 rows, or outcomes that are not certain.
    """
    job = _job(table)
    return _of(job, job.best(frozenset(job.certain.shares), _START))


def minutes_of_policy(table: Table, move: Move) -> JobMinutes:
    """Return the expected minutes of a whole job under a policy, every outcome followed.

    Raises as `least_minutes` does.
    """
    job = _job(table)
    return _of(job, job.worked(frozenset(job.certain.shares), _START, (), move))
