"""What makes a repair safe for the fewest minutes: a reading again, or one more that agrees.

A repair hangs on a reading when it would not be sure without it. Repeating each such reading is one
way out; often one other reading, such as the drop across the suspect part, answers for several.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief, Reading, log_likelihood
from loomwright.diagnosis.choose import Position, minutes_for
from loomwright.diagnosis.explain import joint_without
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.value import repair_minutes
from loomwright.plant import Check

__all__ = ["cheapest_confirmation", "taken_once"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

# The numbers below are assumed.
_SAFE_WITHOUT = 0.9  # a repair that keeps so much without a reading does not hang on it
_MOST_REPEATS = 3  # repeats taken before a repair may rest on what it has
_HARDLY_WRONG = 1e-3  # share of wrong readings below which nothing is confirmed
# Stakes are counted as if so many readings were wrong, whatever the settings assume: the share is
# an assumption, and where it is too low (three times as many) a part is changed in vain. Chosen by
# paired runs of benchmarks/diagnosis, 3 and 10 % of the readings wrong: less costs right repairs,
# more costs minutes and gains nothing beyond chance (docs/models/diagnosis.md).
_DOUBTED_SHARE = 0.1
_EVALUATED = 8  # other checks looked at in full
_APART_SDS = 3.0  # standard deviations from which two outcomes are told apart
_SURE_LEVEL = 0.8  # chance of a level from which it is expected
_HANDS_OFF_RISK = 2


@dataclass(frozen=True, slots=True, eq=False)
class _Hanging:
    """A reading that a repair hangs on: the joint belief without it, and the minutes at stake."""

    reading: Reading
    joint: Array  # (n_nuisance, n_rows), sums to one
    averted_min: float


@dataclass(frozen=True, slots=True, eq=False)
class _Stake:
    """What a confirmation is for: the repair's rows, their likeliest, and what it hangs on."""

    mine: Mask
    nuisance: int  # of the likeliest row
    lead: int
    hanging: Sequence[_Hanging]


def taken_once(belief: Belief, reading: Reading, most: int = 1) -> bool:
    """Return whether a reading was taken at most so often, and never contradicted."""
    taken = [other.sort for other in belief.readings]
    once = len(reading.indices) <= most and taken.count(reading.sort) == 1
    return once and belief.repeatable(reading)


def cheapest_confirmation(
    table: Table, belief: Belief, position: Position, repairs: Sequence[str]
) -> Check | None:
    """Return the check that averts most loss per minute, None when none repays its minutes.

    The loss that hangs on a reading: a tenth (so many readings may be wrong), times what the
    repairs lose without it, times the minutes of a wrong repair and its comeback. A repeat averts
    that of its reading. Another check averts it for each reading without which the repairs would
    still have 0.9 once that check shows what their likeliest row says. None after three repeats.
    """
    mine = np.array([row.repair in repairs for row in table.rows])
    hanging = _hanging(table, belief, mine, repairs[0])
    if not hanging:
        return None
    worth = [one.averted_min / minutes_for(table, one.reading.check, position)
             for one in hanging]
    best = int(np.argmax(worth))
    chosen, rate = hanging[best].reading.check, worth[best]
    whole = sum(one.averted_min for one in hanging)
    stake = _Stake(mine, *_lead(belief, mine), hanging)
    for column, minutes in _candidates(table, belief, position, stake):
        if whole / minutes > rate:
            averted = _averted(table, column, stake)
            if averted / minutes > rate:
                chosen, rate = table.checks[column], averted / minutes
    return chosen if rate > 1.0 else None


def _hanging(table: Table, belief: Belief, mine: Mask, repair: str) -> list[_Hanging]:
    """Return the readings taken once without which the rows `mine` have less than 0.9."""
    wrong = max(table.settings.wrong_reading, _DOUBTED_SHARE)
    again = sum(len(one.indices) - 1 for one in belief.readings if belief.repeatable(one))
    if again >= _MOST_REPEATS or table.settings.wrong_reading < _HARDLY_WRONG:
        return []
    loss_min = repair_minutes(table, repair) + table.settings.comeback_min
    found = []
    for number, reading in enumerate(belief.readings):
        if taken_once(belief, reading):
            joint = joint_without(belief, number)
            lost = 1.0 - float(joint[:, mine].sum())
            if lost > 1.0 - _SAFE_WITHOUT:
                found.append(_Hanging(reading, joint, wrong * lost * loss_min))
    return found


def _lead(belief: Belief, mine: Mask) -> tuple[int, int]:
    """Return the nuisance value and the row in which the belief in `mine` is greatest."""
    masked = np.where(mine, belief.joint, -1.0)
    nuisance, row = np.unravel_index(int(masked.argmax()), masked.shape)
    return int(nuisance), int(row)


def _candidates(
    table: Table, belief: Belief, position: Position, stake: _Stake
) -> list[tuple[int, float]]:
    """Return (column, minutes) of the checks that part the repair from most rivals per minute.

    The rival of a hanging reading is the likeliest other row without it.
    """
    rivals = [int(np.where(stake.mine, 0.0, one.joint.sum(axis=0)).argmax())
              for one in stake.hanging]
    parted = [_apart(table, stake.nuisance, stake.lead, rival) for rival in rivals]
    count = np.sum(parted, axis=0)
    taken = {reading.check.id for reading in belief.readings}
    found = []
    for column in np.flatnonzero(count):
        check = table.checks[column]
        if check.offer and check.risk < _HANDS_OFF_RISK and check.id not in taken:
            minutes = minutes_for(table, check, position)
            found.append((-float(count[column]) / minutes, int(column), minutes))
    return [(column, minutes) for _, column, minutes in sorted(found)[:_EVALUATED]]


def _apart(table: Table, nuisance: int, row: int, other: int) -> NDArray[np.int64]:
    """Return for every column whether two rows show clearly different readings (1) or not (0)."""
    mean, variance = table.grid()
    gap = np.abs(mean[:, nuisance, row] - mean[:, nuisance, other])
    room = _APART_SDS * np.sqrt(variance[:, nuisance, row] + variance[:, nuisance, other])
    found: NDArray[np.int64] = np.where(gap > room, 1, 0)
    for columns, chances in table.chances().values():
        one, two = chances[:, :, nuisance, row], chances[:, :, nuisance, other]
        surely = one.max(axis=1) > _SURE_LEVEL
        found[columns] = (one.argmax(axis=1) != two.argmax(axis=1)) & surely
    return found


def _averted(table: Table, column: int, stake: _Stake) -> float:
    """Return the loss averted when a check shows what the repair's likeliest row says [min]."""
    check, model = table.checks[column], table.models[column]
    value: float | str = float(model.raw[stake.nuisance, stake.lead])
    if model.levels is not None:
        value = check.levels[int(model.levels[stake.nuisance, stake.lead].argmax())]
    log, _ = log_likelihood(model, Reading(check, value, (0,)), table.settings)
    likelihood = np.exp(log - log.max())
    averted = 0.0
    for one in stake.hanging:
        joint = one.joint * likelihood
        if float(joint[:, stake.mine].sum()) >= _SAFE_WITHOUT * float(joint.sum()):
            averted += one.averted_min
    return averted
