"""Tables with rows of faults that come and go, and with looks that may bring such a fault back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Reading
from loomwright.diagnosis.sticky import stirred_by
from loomwright.diagnosis.table import CheckModel, StickyRows, Table
from loomwright.diagnosis.wider import NewRows, with_rows
from loomwright.plant import Check, intermittent_shares, stirring_checks

__all__ = ["with_sticky", "with_stirring"]

THERE, AWAY = "there now", "away now"
_KEY = "sticky"
_SHOWS = 0.2  # a fault shows a function as it was seen from this chance on


def with_sticky(table: Table, failing: Sequence[Reading]) -> Table:
    """Return the table with two rows for every fault that may come and go and be what was seen.

    `failing` are the functions seen failing: a fault that shows none of them is left out. The rows
    predict what that fault and what a healthy plant predict, so nothing is solved. Kept by the
    table. Itself where the plant knows no such fault.
    """
    key = (_KEY, *sorted((one.check.id, str(one.value)) for one in failing))
    return table.derived(key, lambda: _built(table, failing))


def _built(table: Table, failing: Sequence[Reading]) -> Table:
    shares = np.array([0.0, *intermittent_shares(table.plant, table.rows[1:-1]), 0.0])
    own = np.flatnonzero((shares > 0.0) & _shows(table, failing))
    if own.size == 0:
        return table
    log = table.log_prior[own] + np.log(shares[own]) - np.log(2.0)
    rows = [replace(table.rows[int(number)], variant=f"{table.rows[int(number)].variant} {name}")
            for name in (THERE, AWAY) for number in own]
    stand_in = np.concatenate([own, np.zeros(own.size, dtype=np.int64)])
    new = NewRows(tuple(rows), np.concatenate([log, log]), tuple(row.repair for row in rows),
                  stand_in)
    first = len(table.rows) - 1
    there = np.arange(first, first + own.size)
    wide = with_rows(table, new, ())
    return replace(wide, sticky=StickyRows(there, there + own.size))


def _shows(table: Table, failing: Sequence[Reading]) -> NDArray[np.bool_]:
    """Return which rows show one of the failing functions as it was seen."""
    found = np.zeros(len(table.rows), dtype=np.bool_)
    for one in failing:
        levels = table.model(one.check).levels
        if levels is not None:
            column = one.check.levels.index(str(one.value))
            mean = np.exp(table.log_weights) @ levels[:, :, column]
            found |= mean > _SHOWS
    return found


def with_stirring(table: Table, looks: Sequence[Check]) -> Table:
    """Return the table with looks at the same functions during which something is stirred.

    What a row of a fault that is away shows there: the fault with the chance that it is brought
    back, else a healthy plant. Kept by the table.
    """
    key = (_KEY, *(look.id for look in looks))
    return table.derived(key, lambda: _stirred(table, looks))


def _stirred(table: Table, looks: Sequence[Check]) -> Table:
    offered = [(look, one) for look in looks for one in stirring_checks(table.plant, look)]
    models = [_stirred_model(table, look, one) for look, one in offered]
    return replace(
        table, checks=(*table.checks, *(one for _, one in offered)),
        models=(*table.models, *models), _grid=[], _shifts=[], _chances=[], _wider={})


def _stirred_model(table: Table, look: Check, check: Check) -> CheckModel:
    """Return what a look shows while something is stirred, from that of the plain look."""
    model, sticky = table.model(look), table.sticky
    assert sticky is not None
    assert model.levels is not None
    share = stirred_by(table, check)[None, :, None]
    levels = model.levels.copy()
    levels[:, sticky.away] += share * (levels[:, sticky.there] - levels[:, sticky.away])
    return replace(model, check=check, levels=levels)
