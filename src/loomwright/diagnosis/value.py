"""Is another check worth its minutes? Cost of repairing now against looking two checks ahead.

The cost of stopping is the expected cost of trying repairs in the order probability per cost, each
wrong one priced with part, fitting and comeback. With the comeback in that cost the order is
optimal for single faults and independent costs (the p/c rule of decision-theoretic troubleshooting:
two neighbours are better exchanged exactly where p / (c + comeback) rises).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.choose import Option, Position
from loomwright.diagnosis.outlook import LiveRows, outcome_shares
from loomwright.diagnosis.table import NO_REPAIR, UNMODELLED, Table

__all__ = [
    "CheckWorth",
    "best_worth",
    "class_minutes",
    "repair_cost",
    "repair_minutes",
    "stop_cost",
]

Array = NDArray[np.float64]

_UNMODELLED_MIN = 240.0  # assumed: minutes to search a fault that no row describes
_NO_FAULT_MIN = 1.0
_TRIED = 6  # repairs tried one after another before the search of last resort
_FIRST = 6  # checks looked at on the first step
_SECOND = 6


@dataclass(frozen=True, slots=True)
class CheckWorth:
    """Minutes saved by a check looked at two steps ahead; above 0 it is worth taking."""

    option: Option
    net_min: float


def repair_minutes(table: Table, repair: str) -> float:
    """Return what one try of a repair costs in minutes: fitting, and the part at labour rate."""
    if repair == NO_REPAIR:
        return _NO_FAULT_MIN
    if repair == UNMODELLED.repair:
        return _UNMODELLED_MIN
    known = table.repairs[repair]
    price_min = known.price / table.settings.labour_rate_per_min
    return max(known.minutes + price_min, 0.1)


def repair_cost(shares: Array, minutes: Array, comeback_min: float) -> Array:
    """Return expected minutes of repairing in p/c order for each row of class shares (n, classes).

    Every try costs its minutes; while the fault remains after it, a comeback is added: c is both.
    """
    tried = min(_TRIED, shares.shape[1])
    rate = -shares / (minutes + comeback_min)[None, :]
    order = np.argsort(rate, axis=1, kind="stable")[:, :tried]
    hit = np.take_along_axis(shares, order, axis=1)
    left_after = np.maximum(shares.sum(axis=1, keepdims=True) - np.cumsum(hit, axis=1), 0.0)
    left_before = left_after + hit
    cost = (left_before * minutes[order] + left_after * comeback_min).sum(axis=1)
    result: Array = cost + left_after[:, -1] * _UNMODELLED_MIN
    return result


def class_minutes(table: Table, live: LiveRows) -> Array:
    """Return minutes of one try of each class present (n_classes,)."""
    return np.array([repair_minutes(table, table.classes[number]) for number in live.classes])


def stop_cost(table: Table, live: LiveRows) -> float:
    """Return expected minutes [min] when no further check is taken."""
    minutes = class_minutes(table, live)
    return float(repair_cost(live.class_weight[None], minutes, table.settings.comeback_min)[0])


def best_worth(table: Table, live: LiveRows, ranked: Sequence[Option]) -> CheckWorth | None:
    """Return the check with the greatest net value over two steps, or None without checks.

    For each of the first checks and each of its outcomes, either repair at once or take the best
    second check and then repair. Work is bounded: 6 x 6 checks, 14 outcomes each.
    """
    if not ranked:
        return None
    minutes = class_minutes(table, live)
    comeback = table.settings.comeback_min
    now = float(repair_cost(live.class_weight[None], minutes, comeback)[0])
    chosen = list(ranked[: max(_FIRST, _SECOND)])
    shares = [outcome_shares(table, live, option.column) for option in chosen]
    worths = []
    for number, option in enumerate(chosen[:_FIRST]):
        weighted = shares[number] * live.weight[:, None]
        after = repair_cost(np.add.reduceat(weighted, live.starts, axis=0).T, minutes, comeback)
        for other, second in enumerate(chosen[:_SECOND]):
            if other != number:
                pair = _pair_cost(live, weighted, shares[other], minutes, comeback)
                extra = _second_minutes(table, option, second)
                after = np.minimum(after, extra * weighted.sum(axis=0) + pair)
        worths.append(CheckWorth(option, now - option.minutes - float(after.sum())))
    return max(worths, key=lambda worth: worth.net_min)


def _second_minutes(table: Table, first: Option, second: Option) -> float:
    """Return minutes of the second check, its place already reached when the first is there."""
    same_place = Position().after(first.check).sees(second.check)
    saved = table.places.get(second.check.place, 0.0) if same_place else 0.0
    alone = second.check.minutes
    if first.check.opened and first.check.opened == second.check.opened:
        saved, alone = saved + second.check.opening_min, alone - second.check.opening_min
    return max(second.minutes - saved, alone)


def _pair_cost(
    live: LiveRows, weighted: Array, second: Array, minutes: Array, comeback_min: float
) -> Array:
    """Return unnormalised cost after two checks, for each outcome of the first."""
    ends = np.append(live.starts[1:], live.index.size)
    joint = np.stack(
        [weighted[a:b].T @ second[a:b] for a, b in zip(live.starts, ends, strict=True)], axis=-1
    )
    first_outcomes, second_outcomes, classes = joint.shape
    cost = repair_cost(joint.reshape(-1, classes), minutes, comeback_min)
    result: Array = cost.reshape(first_outcomes, second_outcomes).sum(axis=1)
    return result
