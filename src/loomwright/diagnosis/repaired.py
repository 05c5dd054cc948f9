"""What a repair leaves: a row of several faults becomes the row of those not yet mended.

Persistence: a repair changes the plant, not what was believed of its other faults (Breese and
Heckerman, Decision-theoretic troubleshooting, 1996).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.table import Table
from loomwright.plant import Hypothesis

__all__ = ["folded", "healed", "left_after", "mean_by_row", "mended", "repairs_done"]

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


def _singles(row: Hypothesis) -> tuple[Hypothesis, ...]:
    return row.parts or (row,)


def left_after(table: Table, done: Collection[str]) -> Ints:
    """Return, for every row, the row that describes the plant once the repairs are done.

    Every fault mended: the no-fault row. A remainder that has no row of its own: the unmodelled.
    The table keeps the last few.
    """
    key = tuple(sorted(set(done)))
    return table.left(key, lambda: _left_after(table, key))


def _left_after(table: Table, done: Collection[str]) -> Ints:
    index = {row.parts or (row,): number for number, row in enumerate(table.rows)}
    last = len(table.rows) - 1
    found = np.arange(len(table.rows), dtype=np.int64)
    for number, row in enumerate(table.rows[1:-1], start=1):
        rest = tuple(one for one in _singles(row) if one.repair not in done)
        found[number] = index.get(rest, last) if rest else 0
    return found


def mended(table: Table, done: Collection[str]) -> NDArray[np.bool_]:
    """Return which rows have no fault left once the repairs are done; never the no-fault row."""
    gone: NDArray[np.bool_] = np.equal(left_after(table, done), 0)
    gone[0] = False
    return gone


def healed(values: Array, left: Ints) -> Array:
    """Return row-wise values (n_nuisance, n_rows) as predicted for what each row became."""
    return np.ascontiguousarray(values[:, left])


def folded(values: Array, left: Ints) -> Array:
    """Return masses (n_nuisance, n_rows) moved to the row that each row became."""
    result = np.zeros_like(values)
    stay = left == np.arange(left.size)
    result[:, stay] = values[:, stay]
    for number in np.flatnonzero(~stay).tolist():
        result[:, left[number]] += values[:, number]
    return result


def mean_by_row(values: Array, weight: Array, left: Ints) -> Array:
    """Return values (n_nuisance, n_rows) averaged by weight over the rows that became one."""
    total = folded(weight, left)
    mean = folded(values * weight, left) / np.maximum(total, 1e-300)
    return np.where(total > 0.0, mean, values)


def repairs_done(after: Sequence[str], rejected: Sequence[str]) -> tuple[str, ...]:
    """Return the repairs done by now, each once."""
    return tuple(dict.fromkeys((*after, *rejected)))
