"""Suspects: rows of one fault folded together, and what each would show at a check."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.records import Suspect
from loomwright.diagnosis.table import CheckModel, Table, growth_of, scaled, unscaled
from loomwright.plant import NO_FAULT, Check, SeverityCell

__all__ = ["list_suspects", "predicted_value", "predictions", "severity_given"]

Array = NDArray[np.float64]

_LEAST_SHARE = 1e-6
_MOST_SUSPECTS = 60
_EDGE = 3.0**0.5  # deviations from the middle to either end of what is even
_LEAST_NOISE = 1e-6  # share of a reading's variance that is never severity
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

    Averaged over the rows and the nuisance by the belief, how severe the fault is within each row
    included: what the readings taken say of it. None where the check is impossible.
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
    mean = float((shares * _raw_given(table, belief, model, rows)).sum() / shares.sum())
    return None if np.isnan(mean) else mean


def _raw_given(table: Table, belief: Belief, model: CheckModel, rows: list[int]) -> Array:
    """Return what each row shows at a check (n_nuisance, n_rows), given the readings taken."""
    raw = model.raw[:, rows]
    if model.leaning is None or not model.leaning[rows].any():
        return raw
    leaning = model.leaning[rows] * growth_of(model.check, raw)
    moved = model.mean[:, rows] + leaning * severity_given(table, belief, rows)
    return unscaled(model.check, moved)


def severity_given(table: Table, belief: Belief, rows: list[int]) -> Array:
    """Return how severe the fault of each row is within its row (n_nuisance, n_rows).

    In deviations from the row's middle, by the readings taken as the vehicle is now: one unknown
    for each row, normal before them, that moves them all in proportion (`CheckModel.leaning`); the
    rest of their spread is noise. A reading that is likely wrong for a row says less. Never
    beyond the ends of a row that is even.
    """
    precision = np.ones((len(table.log_weights), len(rows)))
    pull = np.zeros(precision.shape)
    for reading, wrong in zip(belief.readings, belief.wrong, strict=True):
        model = table.model(reading.check)
        if model.levels is not None or model.leaning is None or not belief.repeatable(reading):
            continue
        raw, mean, sd = (part[:, rows] for part in (model.raw, model.mean, model.sd))
        leaning = model.leaning[rows] * growth_of(model.check, raw)
        noise = np.maximum(sd**2 - leaning**2, _LEAST_NOISE * sd**2)
        weight = np.nan_to_num(leaning * (1.0 - wrong[rows]) / noise)
        off = float(scaled(model.check, float(reading.value))) - mean
        pull += np.nan_to_num(weight * off)
        precision += np.nan_to_num(weight * leaning)
    return np.clip(pull / precision, -_EDGE, _EDGE)


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
