"""Rows for something that the plant does not list, at a point it can name.

One row for everything unmodelled is not enough: a load tapped in reads much like a short or a bad
wire nearby, and that modelled fault then wins. So a plant may offer rows for what it does not list;
they join the table once a repair leads, before any is advised, and count as unmodelled.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.misfit import misfit_probability
from loomwright.diagnosis.table import NO_REPAIR, UNMODELLED, Table
from loomwright.diagnosis.wider import NewRows, with_rows
from loomwright.plant import unlisted_rows

__all__ = ["unmodelled_share", "with_unlisted"]

_KEY = "unlisted"
# These rows are asked for from this belief in one repair, or in nothing modelled, or below this
# chance of as many wrong readings as the modelled rows need; all assumed.
_LEADS = 0.5
_UNKNOWN = 0.1
_SUSPICIOUS = 0.05


def with_unlisted(table: Table, belief: Belief) -> Table:
    """Return the table with the plant's rows for what it does not list, once they matter.

    That is when one repair has half the belief, the unmodelled row a tenth, or the readings need
    more wrong ones than is likely. Predicted once for each table and kept.
    """
    if not belief.readings or table.settings.unlisted_prior <= 0.0:
        return table
    shares = dict(zip(table.classes, belief.classes.tolist(), strict=True))
    shares.pop(NO_REPAIR, None)
    unknown = shares.pop(UNMODELLED.repair)
    calm = max(shares.values(), default=0.0) < _LEADS and unknown < _UNKNOWN
    if calm and misfit_probability(table, belief) >= _SUSPICIOUS:
        return table
    return table.derived(_KEY, lambda: _built(table))


def _built(table: Table) -> Table:
    rows = tuple(unlisted_rows(table.plant))
    if not rows:
        return table
    prior = np.array([row.prior for row in rows])
    log = np.log(table.settings.unlisted_prior * prior / prior.sum())
    wide = with_rows(table, NewRows(rows, log, tuple(UNMODELLED.repair for _ in rows)))
    return replace(wide, base=None)  # rows of several faults are added to this one


def unmodelled_share(table: Table, belief: Belief) -> float:
    """Return the belief that something unmodelled is wrong, wherever it is."""
    return float(belief.classes[table.classes.index(UNMODELLED.repair)])
