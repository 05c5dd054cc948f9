"""Faults that come and go: rows that are there or away, and do not change their mind quickly.

Every fault that may come and go gets two more rows: one where it is there at the next reading, and
one where it is away and the plant is healthy. Whether it is there is a hidden state of two values
that stays as it was from one reading to the next with a certain chance, and is drawn anew by the
fault's activity otherwise; both are unknown and summed over a small grid. The forward algorithm
(Rabiner 1989, from memory) gives the belief in both. It is the one model in which the order of the
readings matters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.table import CheckModel, StickyRows, Table
from loomwright.plant import Check, stirred_shares

__all__ = ["Run", "answering", "runs_of", "sticky_forward", "stirred_by"]

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Activity: share of the time a fault is there. Stay: chance that from one reading to the next
# nothing is drawn anew. Every pair alike at first; assumed.
_ACTIVITIES = (0.15, 0.3, 0.5, 0.7)
_STAYS = (0.5, 0.85)
_TOUCHES = 0.5  # of the chance that a fault is brought back: that one always there lets go; assumed


@dataclass(frozen=True, slots=True)
class Run:
    """Readings of one check one after another that agree: the merged reading, and how many.

    `moment` numbers the moments between which a fault may come or go.
    """

    reading: int
    count: int
    moment: int
    again: bool  # the same value was read before, in another run


def stirred_by(table: Table, check: Check) -> Array:
    """Return the chance (n_pairs,) that a check brings back the fault of each pair."""
    sticky = table.sticky
    assert sticky is not None
    if check.id not in sticky.stirred:
        rows = [table.rows[int(number)] for number in sticky.there]
        sticky.stirred[check.id] = np.array(stirred_shares(table.plant, rows, check))
    return sticky.stirred[check.id]


def answering(table: Table, model: CheckModel) -> CheckModel:
    """Return what a look shows while something is stirred, by rows of faults that are always there.

    A bad contact that is wiggled may touch for a moment: then the look shows a healthy plant. The
    rows that come and go are left as they are: `sticky_forward` moves them.
    """
    if model.levels is None:
        return model
    share = np.zeros(len(table.rows))
    share[1:-1] = _TOUCHES * np.array(stirred_shares(table.plant, table.rows[1:-1], model.check))
    if table.sticky is not None:
        share[table.sticky.there] = share[table.sticky.away] = 0.0
    gap = model.levels[:, :1] - model.levels
    return replace(model, levels=model.levels + share[None, :, None] * gap)


def runs_of(evidence: Sequence[Evidence], of_item: Sequence[int]) -> tuple[Run, ...]:
    """Return the readings in time: `of_item` gives the merged reading each belongs to.

    What was seen before the first instrument was used (the complaint: every function looked at
    once) is one moment.
    """
    runs: list[Run] = []
    seen: set[int] = set()
    moment, complaint, looks = 0, True, set[str]()
    for item, number in zip(evidence, of_item, strict=True):
        if runs and runs[-1].reading == number:
            runs[-1] = replace(runs[-1], count=runs[-1].count + 1)
            continue
        complaint = (complaint and item.check.instrument == "eye" and not item.check.action
                     and item.check.id not in looks)
        looks.add(item.check.id)
        moment += bool(runs) and not complaint
        runs.append(Run(number, 1, moment, number in seen))
        seen.add(number)
    return tuple(runs)


def sticky_forward(
    sticky: StickyRows, runs: Sequence[tuple[Run, Array, Array, Array]], start: Array,
    logs: list[Array], wrong: list[Array],
) -> tuple[Array, list[Array], list[Array]]:
    """Return `start`, `logs` and `wrong` with the columns of the pairs as they come and go.

    Parameters
        runs: each run with its log likelihood and the chance that it is a wrong reading,
            (n_nuisance, n_rows) as if every row were always there, and the chance (n_pairs,)
            that what was done meanwhile brings the fault back
        start: log joint before any reading (n_nuisance, n_rows)
        logs, wrong: the same for each merged reading
    The log likelihood of a reading becomes that given the readings before it, alike for both rows
    of a pair; `start` is split by where the fault is at the next reading. For the other rows too
    each run counts by itself: a mistake is not the same one after something else was read.
    """
    pair = np.stack([sticky.there, sticky.away])
    logs, wrong = [np.zeros_like(one) for one in logs], [one.copy() for one in wrong]
    chance = _Chance(start.shape[0], sticky.there.size)
    moment = 0
    for run, log, share, stirred in runs:
        chance.move(run.moment - moment)
        chance.stir(stirred)
        moment = run.moment
        given, there = chance.see(np.moveaxis(log[:, pair], 1, 0))
        # the spread of a prediction is counted once for a value, as for repeats
        known = float(log.max()) if run.again else 0.0
        log = log - known
        log[:, pair] = (given - known)[:, None, :]
        logs[run.reading] += log
        mean = there * share[:, sticky.there] + (1.0 - there) * share[:, sticky.away]
        wrong[run.reading][:, pair] = mean[:, None, :]
    chance.move(1)
    there = chance.there()
    start = start.copy()
    total = np.logaddexp(start[:, sticky.there], start[:, sticky.away])
    with np.errstate(divide="ignore"):
        start[:, sticky.there] = total + np.log(there)
        start[:, sticky.away] = total + np.log(1.0 - there)
    return start, logs, wrong


class _Chance:
    """The chance of there and away (grid, n_nuisance, n_pairs), by the readings so far."""

    def __init__(self, nuisance: int, pairs: int) -> None:
        grid = [(one, stay) for one in _ACTIVITIES for stay in _STAYS]
        self._active = np.array([one for one, _ in grid])[:, None, None]
        self._stay = np.array([stay for _, stay in grid])[:, None, None]
        even = np.full((len(grid), nuisance, pairs), 1.0 / len(grid))
        self._there, self._away = even * self._active, even * (1.0 - self._active)

    def move(self, moments: int) -> None:
        """Let some moments pass."""
        for _ in range(moments):
            drawn = (1.0 - self._stay) * (self._there + self._away)
            self._there = self._stay * self._there + drawn * self._active
            self._away = self._stay * self._away + drawn * (1.0 - self._active)

    def stir(self, share: Array) -> None:
        """Do something that brings each fault back with a chance (n_pairs,)."""
        back = share * self._away
        self._there, self._away = self._there + back, self._away - back

    def see(self, log: Array) -> tuple[Array, Array]:
        """Take a reading with log likelihood (2, n_nuisance, n_pairs), there and away.

        Return its log likelihood given those before, and the chance of there with it.
        """
        top = np.maximum(log.max(axis=0), -1e300)
        self._there = self._there * np.exp(log[0] - top)
        self._away = self._away * np.exp(log[1] - top)
        total = np.maximum((self._there + self._away).sum(axis=0), 1e-300)
        self._there, self._away = self._there / total, self._away / total
        return top + np.log(total), self.there()

    def there(self) -> Array:
        """Return the chance of there (n_nuisance, n_pairs)."""
        result: Array = self._there.sum(axis=0)
        return np.clip(result, 1e-12, 1.0 - 1e-12)
