"""When every function was seen working: faults that nobody could notice count as no fault."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.table import Table
from loomwright.plant import Check

__all__ = ["all_seen_working", "as_noticed", "noticed_rows"]

_FAILS_SHARE = 0.3  # chance of another level than healthy from which a function counts as failing
_DRAIN_A = 0.05  # common practice: what a parked vehicle may take
_DROP_SHARE = 0.03  # of the system's volts: common practice allows 3 % of drop in a feed


def _functions(table: Table) -> tuple[Check, ...]:
    """Return the looks at functions of a plant that knows them (circuits do), else none."""
    listed = getattr(table.plant, "complaint_checks", None)
    return tuple(listed()) if callable(listed) else ()


def _healthy_level(table: Table, check: Check) -> str:
    levels = table.model(check).levels
    assert levels is not None
    return check.levels[int((np.exp(table.log_weights) @ levels[:, 0]).argmax())]


def all_seen_working(table: Table, belief: Belief) -> bool:
    """Return whether every function worked when it was last looked at.

    Functions are those of the plant's `complaint_checks`; False where it has none.
    """
    functions = _functions(table)
    if not functions or not all(one.levels for one in functions):
        return False
    seen: dict[str, tuple[int, set[float | str]]] = {}
    for reading in belief.readings:
        before, values = seen.get(reading.check.id, (-1, set()))
        done = len(reading.after)
        if done >= before:  # the newest looks at it; a repair since then breaks nothing else
            kept = values if done == before else set()
            seen[reading.check.id] = (done, kept | {reading.value})
    return all(seen.get(one.id, (0, set()))[1] == {_healthy_level(table, one)}
               for one in functions)


def noticed_rows(table: Table) -> NDArray[np.bool_]:
    """Return which rows (n_rows,) make a function fail or move a voltage by over 3 % of the system.

    So does one that adds over 50 mA to what an ammeter in series with the battery shows.

    The system's volts are the highest healthy reading of the table. The unmodelled row counts as
    noticed, the no-fault row never does; so does a row that says nothing of a check.
    """
    weights = np.exp(table.log_weights)
    found = np.zeros(len(table.rows), dtype=np.bool_)
    for check in _functions(table):
        levels = table.model(check).levels
        assert levels is not None
        shares = np.einsum("k,khm->hm", weights, levels)
        healthy = int(shares[0].argmax())
        found |= shares[:, healthy] < 1.0 - _FAILS_SHARE
    for model in table.models:
        if model.check.unit == "A" and model.check.instrument == "meter" and model.check.offer:
            amps = weights @ model.raw
            found |= np.abs(amps - amps[0]) > _DRAIN_A
    volts = [weights @ model.raw for model in table.models
             if model.check.unit == "V" and not model.check.levels and model.check.offer
             and model.check.quantity != "ac voltage"]  # of no load
    if volts:
        means = np.stack(volts)
        moved = np.abs(means - means[:, :1]) > _DROP_SHARE * np.nanmax(np.abs(means[:, 0]))
        found |= moved.any(axis=0)
    found[0], found[-1] = False, True
    return found


def as_noticed(table: Table, belief: Belief) -> tuple[Table, Belief]:
    """Return table and belief with the rows that nobody notices in the class of no fault.

    Only while every function was seen working; otherwise both unchanged. No repair is then advised
    for such a fault, and no check is taken to find it.
    """
    if not all_seen_working(table, belief):
        return table, belief
    classes = np.where(noticed_rows(table), table.class_of, 0)
    sums = np.bincount(classes, weights=belief.rows, minlength=len(table.classes)).astype(float)
    return replace(table, class_of=classes), replace(belief, classes=sums)
