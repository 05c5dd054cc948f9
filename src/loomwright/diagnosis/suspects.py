"""Suspects: rows of one fault folded together, and what each would show at a check."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.records import Suspect
from loomwright.diagnosis.table import Table
from loomwright.plant import NO_FAULT, Check, SeverityCell

__all__ = ["list_suspects", "predicted_value", "predictions"]

Array = NDArray[np.float64]

_LEAST_SHARE = 1e-6
_MOST_SUSPECTS = 60
_TAIL = 0.1  # severity is given from the 10th to the 90th percentile of its cells


def _severity(table: Table, rows: Sequence[int], belief: Belief) -> SeverityCell | None:
    """Return the severity as posterior-weighted low, mid (log mean) and high [ohm]."""
    cells = [(table.rows[n].severity, float(belief.rows[n])) for n in rows]
    known = sorted(
        ((cell, share) for cell, share in cells if cell is not None),
        key=lambda pair: pair[0].mid_ohm,
    )
    total = sum(share for _, share in known)
    if not known or total <= 0.0:
        return None
    reached = np.cumsum([share for _, share in known]) / total
    last = len(known) - 1
    low = known[min(int(np.searchsorted(reached, _TAIL)), last)][0].low_ohm
    high = known[min(int(np.searchsorted(reached, 1.0 - _TAIL)), last)][0].high_ohm
    logs = sum(share * np.log(max(cell.mid_ohm, 1e-9)) for cell, share in known)
    mid = float(np.exp(logs / total))
    return SeverityCell(low, float(np.clip(mid, low, high)), high)


def list_suspects(table: Table, belief: Belief) -> tuple[Suspect, ...]:
    """Return the faults by falling probability; ties in the plant's own order."""
    found = []
    for fault_id, rows in table.fault_rows.items():
        probability = float(belief.rows[list(rows)].sum())
        if probability >= _LEAST_SHARE:
            first = table.rows[rows[0]]
            found.append((probability, rows, first, fault_id))
    found.sort(key=lambda item: -item[0])
    return tuple(
        Suspect(
            id=fault_id,
            element=row.element,
            kind=row.kind,
            probability=probability,
            severity=_severity(table, rows, belief),
            repair=row.repair,
        )
        for probability, rows, row, fault_id in found[:_MOST_SUSPECTS]
    )


def predicted_value(
    table: Table, belief: Belief, check: Check, rows: Sequence[int]
) -> float | str | None:
    """Return what a group of rows would show at a check: mean number, likeliest level, or None.

    Averaged over the rows and the nuisance by the belief; None where the check is impossible.
    """
    model, rows = table.model(check), list(rows)
    shares = belief.joint[:, rows]
    if shares.sum() <= 0.0:  # a ruled-out row still has a prediction: use its prior
        prior = np.exp(table.log_prior[rows])
        prior = prior if prior.sum() > 0.0 else np.ones(len(rows))
        shares = np.exp(table.log_weights)[:, None] * prior[None, :]
    if model.levels is not None:
        chances = (shares[:, :, None] * model.levels[:, rows, :]).sum(axis=(0, 1))
        if np.isnan(chances).any():
            return None
        return check.levels[int(np.argmax(chances))]
    mean = float((shares * model.raw[:, rows]).sum() / shares.sum())
    return None if np.isnan(mean) else mean


def predictions(
    table: Table, belief: Belief, check: Check, suspects: Sequence[Suspect]
) -> Mapping[str, float | str]:
    """Return what each suspect, while it is there, and a healthy plant would show at a check."""
    away = set() if table.sticky is None else set(table.sticky.away.tolist())
    wanted: dict[str, Sequence[int]] = {
        s.id: [row for row in table.fault_rows[s.id] if row not in away] for s in suspects}
    wanted[NO_FAULT.fault_id] = [0]
    shown = {name: predicted_value(table, belief, check, rows) for name, rows in wanted.items()}
    return {name: value for name, value in shown.items() if value is not None}
