"""Other priors on the same predictions: what closed jobs taught."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from loomwright.diagnosis.table import Table
from loomwright.errors import UsageError
from loomwright.plant import Hypothesis

__all__ = ["with_priors"]


def with_priors(table: Table, rows: Sequence[Hypothesis]) -> Table:
    """Return the table with the priors of some rows, which must be its own in the same order.

    The shares of no fault and of the unmodelled fault stay. Nothing is predicted again. Raises
    UsageError where the rows are not those of the table.
    """
    own = table.rows[1:-1]
    if [(row.fault_id, row.severity) for row in rows] != [(r.fault_id, r.severity) for r in own]:
        raise UsageError("These priors are not for the rows of this table.")
    moved = np.log([row.prior for row in rows]) - np.log([row.prior for row in own])
    log = table.log_prior[1:-1] + moved
    log += np.log(np.exp(table.log_prior[1:-1]).sum()) - np.log(np.exp(log).sum())
    log_prior = np.concatenate([table.log_prior[:1], log, table.log_prior[-1:]])
    return replace(table, rows=(table.rows[0], *rows, table.rows[-1]), log_prior=log_prior,
                   _wider={}, _left={})
