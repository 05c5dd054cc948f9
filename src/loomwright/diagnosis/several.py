"""Rows of several faults at once, made when no single fault explains the readings.

Conflict-directed, best first (after de Kleer and Williams 1987, and Reiter 1987). A reading that a
row misses is a conflict: one of the faults that would move this reading is present beside it. A set
of faults has to hit every conflict of its members; sets are ordered by prior times an optimistic
likelihood, the best are predicted by the plant itself, and what the readings leave is appended.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief, Reading, believe
from loomwright.diagnosis.misfit import misfit_probability
from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.repaired import left_after
from loomwright.diagnosis.table import CheckModel, Table
from loomwright.diagnosis.wider import NewRows, with_rows
from loomwright.plant import Hypothesis, predicts_several

__all__ = ["needs_several", "searched", "since_repair", "widened"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_MOST_FAULTS = 3
_MOST_SETS = 320  # sets predicted by the plant in all
_PAIRS = 160  # pairs predicted at most, and as many sets of three
_MOST_ADDED = 40  # rows appended; each is predicted at every check
_LARGEST_PRIOR_SUM = 0.2  # priors of second faults are scaled to at most this together
_SUSPICIOUS = 0.05  # chance of so many wrong readings below which sets are looked for
_NOTHING_FITS = 0.003
_DOUBTFUL_UNMODELLED = 0.2
_KEPT_LOG = -9.0  # a row is worth appending down to exp(-9) of the best one
_PROMISING_LOG = -14.0  # optimistic scores below exp(-14) of the best are not predicted
_TOGETHER_LOG = -3.0  # two faults that move one reading may fit it together: at best this good
_MOVED_SDS = 1.5  # loose: a reading two faults share may fit neither alone
_MOVED_SHARE = 0.3
_WRONG = 0.5
_MOST_JOINED = 160  # rows of what was mended and what remains
_MOST_REPAIRS = 2  # the last so many repairs are joined to what remains
_SEEDS = 12  # pairs that grow a third fault


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Rows and how each meets every reading, arrays (n_rows, n_readings).

    `log` likelihood with the nuisance marginalised, `moved` away from healthy, `missed` when the
    reading would have to be wrong; `log_prior` (n_rows,) on the table's scale.
    """

    rows: tuple[Hypothesis, ...]
    log_prior: Array
    log: Array
    moved: Flags
    missed: Flags


def needs_several(table: Table, belief: Belief, rejected: Sequence[str]) -> bool:
    """Return whether rows of several faults should be looked for.

    After a repair that did not cure, and where no single row, nor an unlisted path, explains the
    readings. Where the settings ask for it also earlier, when the readings need more wrong ones
    than is likely or the unmodelled fault is in play. That is off by default: there they rather
    explain a reading that no single row predicts well (docs/models/diagnosis.md).
    """
    if not belief.readings or not predicts_several(table.plant):
        return False
    if bool(rejected) or belief.left is not None:
        return True
    misfit = misfit_probability(table, belief)
    if misfit < _NOTHING_FITS:
        return True
    if not table.settings.several_before_repair:
        return False
    return misfit < _SUSPICIOUS or float(belief.rows[-1]) > _DOUBTFUL_UNMODELLED


def since_repair(
    table: Table, evidence: Sequence[Evidence], belief: Belief
) -> tuple[Evidence, ...] | None:
    """Return the readings since the last repair when all together fit no row; None when they do.

    Readings from before a repair speak of another vehicle. No set that was looked at joins the two,
    so only those of the vehicle as it is now are worth believing.
    """
    done = evidence[-1].after if evidence else ()
    if all(item.after == done for item in evidence):
        return None
    if misfit_probability(table, belief) >= _NOTHING_FITS:
        return None
    return tuple(item for item in evidence if item.after == done)


def widened(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str], belief: Belief
) -> Table:
    """Return the table with rows of two or three faults where they are called for, else itself.

    `belief` is that of the table after the evidence. At most 320 sets are predicted, 40 rows kept.
    The answer depends on nothing but the arguments; the last few are remembered.
    """
    if not needs_several(table, belief, rejected):
        return table
    return searched(table, evidence, rejected, belief)


def searched(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str], belief: Belief
) -> Table:
    """Return the table with rows of two or three faults, called for or not; see `widened`."""
    if not belief.readings or not predicts_several(table.plant):
        return table
    key = (frozenset((item, list(evidence).count(item)) for item in evidence), tuple(rejected))
    return table.derived(key, lambda: _search(table, evidence, rejected, belief))


def _search(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str], belief: Belief
) -> Table:
    if belief.left is not None:
        return _after_repairs(table, evidence, rejected, belief)
    singles = _rows_of(table, belief, range(1, len(table.rows) - 1))
    healthy = _rows_of(table, belief, [0])
    odds = _seconds(table, belief, rejected)
    possible = np.where(np.isfinite(odds), singles.log_prior, -np.inf)
    pairs = _best_sets(replace(singles, log_prior=possible), singles, healthy, odds, _PAIRS)
    if not pairs.rows:
        return table
    checks = [item.check for item in evidence]
    stage = with_rows(table, pairs, checks)
    seen = believe(stage, evidence, rejected)
    new = pairs
    triples = _triples(table, stage, seen, (singles, healthy), rejected)
    if triples.rows:
        new = _joined(pairs, triples)
        stage = with_rows(table, new, checks)
        seen = believe(stage, evidence, rejected)
    kept = _kept(stage, seen, len(table.rows) - 1)
    if not kept:
        return table
    return with_rows(table, _with_classes(stage, seen, new, kept, len(table.rows) - 1))


def _after_repairs(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str], belief: Belief
) -> Table:
    """Return the table with what was mended joined to every row that fits what is read since."""
    done = evidence[-1].after if evidence else ()
    if not done or all(item.after == done for item in evidence):
        return table
    now = believe(table, [item for item in evidence if item.after == done], rejected)
    mass = _mass(now)
    likely = np.argsort(-mass[1:-1], kind="stable")[:_MOST_SETS] + 1
    likely = likely[mass[likely] > float(mass[1:-1].max()) + _PROMISING_LOG]
    odds = _seconds(table, belief, ())
    mended = [_mended_rows(table, evidence, name) for name in done[-_MOST_REPAIRS:]]
    rows: dict[tuple[Hypothesis, ...], tuple[Hypothesis, float, int]] = {}
    for number in likely:
        row, prior = table.rows[number], float(table.log_prior[number])
        for count in range(len(mended)):
            for gone in _choices(mended, count + 1):
                found = row
                for one in gone:
                    found = _set_of(found, table.rows[one])
                if len(set(found.element.split("+"))) == len(gone) + 1 <= _MOST_FAULTS:
                    log = prior + sum(float(odds[one - 1]) for one in gone)
                    rows.setdefault(found.parts, (found, log, int(number)))
    kept = list(rows.values())[:_MOST_JOINED]
    if not kept:
        return table
    new = NewRows(
        tuple(row for row, _, _ in kept), np.array([log for _, log, _ in kept]),
        tuple(row.repair for row, _, _ in kept), np.array([rest for _, _, rest in kept]),
    )
    return with_rows(table, new, [item.check for item in evidence if item.after != done])


def _choices(mended: Sequence[Sequence[int]], count: int) -> Iterator[tuple[int, ...]]:
    """Give one row each of so many repairs, in every way."""
    for repairs in itertools.combinations(mended, count):
        yield from itertools.product(*repairs)


def _mended_rows(table: Table, evidence: Sequence[Evidence], repair: str) -> list[int]:
    """Return the likeliest row of a repair by the readings before it, and that of another fault.

    What remained may have made the mended thing look like another fault of the same wire or part.
    """
    before = [item for item in evidence if repair not in item.after]
    mass = _mass(believe(table, before))
    own = [n for n, row in enumerate(table.rows) if row.repair == repair and not row.parts]
    best = max(own, key=lambda number: float(mass[number]))
    others = [n for n in own if table.rows[n].fault_id != table.rows[best].fault_id]
    return [best, *([max(others, key=lambda n: float(mass[n]))] if others else [])]


def _triples(
    table: Table,
    stage: Table,
    seen: Belief,
    known: tuple[_Rows, _Rows],
    rejected: Sequence[str],
) -> NewRows:
    """Return sets of three where the best pairs still miss a reading."""
    singles, healthy = known
    first = len(table.rows) - 1
    mass = _mass(seen)[first:-1]
    order = [first + int(n) for n in np.argsort(-mass, kind="stable")[:_SEEDS]]
    seeds = _rows_of(stage, seen, order)
    if not seeds.missed.any(axis=1).all():
        return NewRows((), np.zeros(0), ())
    room = _MOST_SETS - _PAIRS
    return _best_sets(seeds, singles, healthy, _seconds(table, seen, rejected), room)


def _joined(first: NewRows, second: NewRows) -> NewRows:
    log_prior = np.concatenate([first.log_prior, second.log_prior])
    return NewRows((*first.rows, *second.rows), log_prior, (*first.repairs, *second.repairs))


def _mass(belief: Belief) -> Array:
    """Return the unnormalised log mass of every row as it was, before repairs."""
    joint = belief.start + sum(belief.log_likelihoods, np.zeros_like(belief.start))
    top = np.maximum(joint.max(axis=0), -1e300)
    result: Array = top + np.log(np.maximum(np.exp(joint - top).sum(axis=0), 1e-300))
    return result


def _rows_of(table: Table, belief: Belief, numbers: Sequence[int]) -> _Rows:
    """Return how some rows of a table meet the readings."""
    index = list(numbers)
    weights = table.log_weights[:, None]
    log, moved, missed = [], [], []
    for reading, likelihood, wrong in zip(
            belief.readings, belief.log_likelihoods, belief.wrong, strict=True):
        part = likelihood[:, index] + weights
        top = np.maximum(part.max(axis=0), -1e300)
        log.append(top + np.log(np.exp(part - top).sum(axis=0)))
        then = np.array(left_after(table, reading.after)[index]) if reading.after else index
        moved.append(_moved(table.model(reading.check), then))
        missed.append(_missed(table, reading, log[-1]) | (wrong[index] > _WRONG))
    rows = tuple(table.rows[number] for number in index)
    shape = (len(belief.readings), len(index))
    return _Rows(
        rows, table.log_prior[index], np.reshape(log, shape).T,
        np.reshape(moved, shape).T, np.reshape(missed, shape).T,
    )


def _moved(model: CheckModel, rows: Sequence[int] | NDArray[np.int64]) -> Flags:
    """Return whether each row moves a check away from what a healthy plant shows."""
    middle = len(model.mean) // 2
    if model.levels is not None:
        levels = model.levels[middle]
        shift = 0.5 * np.abs(levels[rows] - levels[0]).sum(axis=1)
        return np.asarray(np.nan_to_num(shift, nan=1.0) > _MOVED_SHARE)
    mean, sd = model.mean[middle], model.sd[middle]
    off = np.abs(mean[rows] - mean[0])
    return np.asarray(np.nan_to_num(off, nan=np.inf) > _MOVED_SDS * np.nan_to_num(sd[0]))


def _missed(table: Table, reading: Reading, log: Array) -> Flags:
    """Return which rows need the reading to be a wrong one."""
    check = reading.check
    low, high = table.model(check).span
    even = -np.log(len(check.levels)) if check.levels else -np.log(high - low)
    return np.asarray(log < even + np.log(2.0 * reading.wrong_share(table.settings)))


def _seconds(table: Table, belief: Belief, rejected: Sequence[str]) -> Array:
    """Return log odds of each single row as a further fault; -inf when it can be none.

    A repair already done is part of a set only where readings from before it are given.
    """
    before = {name for name in rejected
              if any(reading.after for reading in belief.readings)
              and any(name not in reading.after for reading in belief.readings)}
    rows = table.rows[1 : len((table.base or table).rows) - 1]
    odds = np.array([row.prior for row in rows], dtype=float)
    odds *= min(1.0, _LARGEST_PRIOR_SUM / float(odds.sum()))
    out = np.array([row.repair not in table.repairs
                    or (row.repair in rejected and row.repair not in before) for row in rows])
    result: Array = np.where(out, -np.inf, np.log(odds))
    return result


def _best_sets(
    first: _Rows, singles: _Rows, healthy: _Rows, odds: Array, most: int
) -> NewRows:
    """Return the most promising sets of one of `first` and a single row, best first.

    Half of them by the better of two members wherever both move a reading, half also where they
    may fit it together though neither does alone.
    """
    prior = first.log_prior[:, None] + odds[None, :]
    prior = np.where(_allowed(first, singles), prior, -np.inf)
    strict, hopeful = prior.copy(), prior.copy()
    for number in range(healthy.log.shape[1]):
        one, other = first.log[:, [number]], singles.log[:, number][None, :]
        moves, stirs = first.moved[:, [number]], singles.moved[:, number][None, :]
        top = max(float(singles.log[:, number].max()), float(first.log[:, number].max()))
        alone = np.where(moves, one, np.where(stirs, other, healthy.log[0, number]))
        better = np.where(moves & stirs, np.maximum(one, other), alone)
        strict += better
        hopeful += np.where(moves & stirs, np.maximum(better, top + _TOGETHER_LOG), alone)
    rows: dict[tuple[Hypothesis, ...], tuple[Hypothesis, float]] = {}
    for score, room in ((strict, most // 2), (hopeful, most)):
        for place in np.argsort(-score, axis=None, kind="stable")[: 2 * most]:
            a, b = divmod(int(place), score.shape[1])
            if score[a, b] > score.max() + _PROMISING_LOG and len(rows) < room:
                row = _set_of(first.rows[a], singles.rows[b])
                rows.setdefault(row.parts, (row, float(prior[a, b])))
    found = list(rows.values())
    return NewRows(
        tuple(row for row, _ in found), np.array([log for _, log in found]),
        tuple(row.repair for row, _ in found),
    )


def _allowed(first: _Rows, singles: _Rows) -> Flags:
    """Return which sets are minimal: other elements, and neither member explains all alone."""
    taken = [set(row.element.split("+")) for row in first.rows]
    mended = [{one.repair for one in (row.parts or (row,))} for row in first.rows]
    apart = np.array([
        [row.element not in names and row.repair not in repairs for row in singles.rows]
        for names, repairs in zip(taken, mended, strict=True)
    ])
    few = np.array([len(row.parts or (row,)) < _MOST_FAULTS for row in first.rows], dtype=bool)
    missing = np.array([one.any() for one in first.missed], dtype=bool)
    beside = np.array([one.any() for one in singles.missed], dtype=bool)
    return np.asarray(apart & np.logical_and.outer(few & missing, beside))


def _set_of(first: Hypothesis, second: Hypothesis) -> Hypothesis:
    """Return the row of several faults, its parts in a fixed order."""
    parts = sorted((*(first.parts or (first,)), second), key=lambda row: row.fault_id)
    cells = [row.severity for row in parts if row.severity is not None]
    return Hypothesis(
        fault_id="+".join(row.fault_id for row in parts),
        element="+".join(row.element for row in parts),
        kind="+".join(row.kind for row in parts),
        repair=parts[0].repair,
        prior=float(np.prod([row.prior for row in parts])),
        severity=cells[0] if len(cells) == 1 else None,
        parts=tuple(parts),
    )


def _kept(stage: Table, seen: Belief, first: int) -> list[int]:
    """Return which new rows the readings leave, the likeliest first."""
    mass = _mass(seen)
    best = float(mass.max())
    order = np.argsort(-mass[first:-1], kind="stable")[:_MOST_ADDED]
    return [int(number) for number in order if mass[first + int(number)] > best + _KEPT_LOG]


def _with_classes(
    stage: Table, seen: Belief, new: NewRows, kept: Sequence[int], first: int
) -> NewRows:
    """Return the kept rows; each counts for the repair that most of the belief asks for.

    So that sets which share a fault agree on mending that one first.
    """
    mass = _mass(seen)
    weight = np.exp(mass - mass.max())
    wanted = dict.fromkeys(stage.repairs, 0.0)
    for number, row in enumerate(stage.rows[1:-1], start=1):
        for one in row.parts or (row,):
            if one.repair in wanted:
                wanted[one.repair] += float(weight[number])
    rows = []
    for number in kept:
        row = new.rows[number]
        names = [one.repair for one in row.parts]
        best = max(names, key=lambda name: (wanted[name], -stage.repairs[name].minutes))
        rows.append(Hypothesis(row.fault_id, row.element, row.kind, best, row.prior,
                               row.severity, row.parts))
    return NewRows(tuple(rows), new.log_prior[list(kept)], tuple(row.repair for row in rows))
