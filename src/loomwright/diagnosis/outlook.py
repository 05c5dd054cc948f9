"""What each check would probably show: outcome bins and their probabilities per row.

A number is cut into bins at the quantiles and the widest gaps of the predicted means; the share of
a bin is a difference of normal distributions plus the wrong-reading floor. Cutting loses a little
information, so a gain computed here is a lower bound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.table import Table, scaled

__all__ = [
    "PRUNE_NUISANCE",
    "LiveRows",
    "binned_shares",
    "class_bins",
    "class_gains",
    "information",
    "level_gains",
    "live_rows",
    "nuisance_left",
    "outcome_shares",
]

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Floats = NDArray[np.float32]

_PRUNE = 1e-6  # rows with less than this share of the belief cannot matter to the choice
PRUNE_NUISANCE = 2e-3  # nor can a nuisance value (battery volts) that hardly any row still allows
_MOST_ROWS = 600
_BIN_BUDGET = 900_000  # normal distribution look-ups allowed per call, about 15 ms
_MOST_EDGES = 13
_PHI_STEP = 1.0 / 256.0
_PHI_REACH = 6.0


def _phi_table() -> NDArray[np.float32]:
    """Return the standard normal distribution on a fine grid (integrated, ends set to 0 and 1)."""
    z = np.arange(-_PHI_REACH, _PHI_REACH + _PHI_STEP / 2, _PHI_STEP)
    density = np.exp(-0.5 * z * z)
    total = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0)])
    result: NDArray[np.float32] = (total / total[-1]).astype(np.float32)
    return result


_PHI = _phi_table()


def _phi(z: NDArray[np.float32]) -> NDArray[np.float32]:
    index = np.clip(z * np.float32(1.0 / _PHI_STEP) + np.float32(len(_PHI) // 2 + 0.5), 0, 3072)
    result: NDArray[np.float32] = _PHI.take(index.astype(np.int32))
    return result


@dataclass(frozen=True, slots=True, eq=False)
class LiveRows:
    """The rows that still matter, sorted by class: index, weight, class and nuisance shares."""

    index: Ints
    weight: Array
    class_of: Ints
    starts: Ints  # first live row of each class present
    classes: Ints  # the classes present
    nuisance: Array  # (n_nuisance, n_live), each column sums to one

    @property
    def class_weight(self) -> Array:
        """Return the belief in each class present."""
        return np.add.reduceat(self.weight, self.starts)


def live_rows(table: Table, belief: Belief, prune: float = _PRUNE) -> LiveRows:
    """Return the rows above the pruning limit; when too many, light rows stand for their like.

    Thinning is systematic within the class order, so each class keeps its weight to one step.
    """
    index = np.flatnonzero(belief.rows > prune)
    if index.size == 0:
        index = np.array([int(np.argmax(belief.rows))])
    index = index[np.argsort(table.class_of[index], kind="stable")]
    weight = belief.rows[index]
    if index.size > _MOST_ROWS:
        index, weight = _thinned(index, weight)
    class_of = table.class_of[index]
    starts = np.flatnonzero(np.concatenate([[True], class_of[1:] != class_of[:-1]]))
    nuisance = belief.joint[:, index] / np.maximum(belief.rows[index], 1e-300)
    return LiveRows(index, weight / weight.sum(), class_of, starts, class_of[starts], nuisance)


def _thinned(index: Ints, weight: Array) -> tuple[Ints, Array]:
    ordered = np.sort(weight)[::-1]
    step = float(ordered[_MOST_ROWS // 2 :].sum() / (_MOST_ROWS // 2))
    heavy = weight >= step
    light = np.where(heavy, 0.0, weight)
    ticks = np.floor(np.cumsum(light) / step + 0.5)
    picked = np.diff(ticks, prepend=0.0) > 0
    keep = heavy | picked
    return index[keep], np.where(heavy, weight, step)[keep]


def _moments(table: Table, live: LiveRows, columns: Sequence[int]) -> tuple[Floats, Floats]:
    """Return mean and standard deviation (n_checks, n_live) over the nuisance left."""
    mean_grid, variance_grid = table.grid()
    nuisance, shares = nuisance_left(live)
    wanted = np.asarray(columns, dtype=np.int64)[:, None] * mean_grid.shape[1] + nuisance
    mean_all, variance = (
        grid.reshape(-1, grid.shape[2]).take(wanted.ravel(), axis=0).take(live.index, axis=1)
        .reshape(*wanted.shape, -1) for grid in (mean_grid, variance_grid))
    mean: Floats = np.einsum("ckr,kr->cr", mean_all, shares)
    mean_all -= mean[:, None]
    variance += np.square(mean_all, out=mean_all)
    total: Floats = np.einsum("ckr,kr->cr", variance, shares)
    return mean, np.sqrt(np.maximum(total, np.float32(1e-18)))


def nuisance_left(live: LiveRows) -> tuple[Ints, Floats]:
    """Return the nuisance values that still matter, and their shares (n_left, n_live)."""
    left = np.flatnonzero(live.nuisance.max(axis=1) > PRUNE_NUISANCE)
    shares = live.nuisance[left].astype(np.float32)
    return left, shares / shares.sum(axis=0)


def _edges(mean: Floats, sd: Floats, weight: Array, count: int) -> Array:
    """Return (n_checks, count) bin edges at quantiles and at the widest gaps between means."""
    order = np.argsort(mean, axis=1)
    sorted_mean = np.take_along_axis(mean, order, axis=1)
    sorted_sd = np.take_along_axis(sd, order, axis=1)
    tempered = np.sqrt(weight)[order]
    cumulative = np.cumsum(tempered, axis=1) / tempered.sum(axis=1, keepdims=True)
    middles = 0.5 * (sorted_mean[:, 1:] + sorted_mean[:, :-1])
    gap = np.diff(sorted_mean, axis=1) / (sorted_sd[:, 1:] + sorted_sd[:, :-1])
    balance = np.minimum(cumulative[:, :-1], 1.0 - cumulative[:, :-1])
    score = np.nan_to_num(np.minimum(gap, 4.0) * np.sqrt(np.maximum(balance, 0.0)), nan=-1.0)
    n_gap = min(count // 2 + 1, score.shape[1])
    if n_gap == 0:
        only: Array = np.nan_to_num(sorted_mean[:, :1])
        return only
    widest = np.argpartition(-score, n_gap - 1, axis=1)[:, :n_gap]
    at_gaps = np.take_along_axis(middles, widest, axis=1)
    wanted = (np.arange(count - n_gap) + 0.5) / max(count - n_gap, 1)
    place = (cumulative[:, :, None] < wanted).sum(axis=1).clip(0, mean.shape[1] - 1)
    at_quantiles = np.take_along_axis(sorted_mean, place, axis=1)
    edges = np.concatenate([at_gaps, at_quantiles], axis=1)
    fallback = np.nan_to_num(sorted_mean[:, :1])
    result: Array = np.sort(np.where(np.isnan(edges), fallback, edges), axis=1)
    return result


def _uniform_below(table: Table, columns: Sequence[int], edges: Array) -> Array:
    """Return the share (n_checks, n_edges) of wrong readings below each edge, zeros included."""
    spans = np.array([table.models[column].span for column in columns])
    zero = np.array([float(scaled(table.checks[column], 0.0)) for column in columns])
    low, high = spans[:, :1], spans[:, 1:]
    flat = np.clip((edges - low) / (high - low), 0.0, 1.0)
    result: Array = 0.75 * flat + 0.25 * (edges > zero[:, None])
    return result


def _below(table: Table, live: LiveRows, columns: Sequence[int], count: int) -> Floats:
    """Return P(reading below edge) with shape (n_checks, n_live, n_edges)."""
    mean, sd = _moments(table, live, columns)
    edges = _edges(mean, sd, live.weight, count)
    silent = np.isnan(mean)
    low = np.float32(0.0)
    centre = np.where(silent, low, mean).astype(np.float32)[:, :, None]
    inverse = (1.0 / np.where(silent, 1.0, sd)).astype(np.float32)[:, :, None]
    right = _phi((edges.astype(np.float32)[:, None, :] - centre) * inverse)
    wrong = _uniform_below(table, columns, edges).astype(np.float32)[:, None, :]
    share = np.float32(table.settings.wrong_reading)
    mixed = (1 - share) * right + share * wrong
    result: Floats = np.where(silent[:, :, None], wrong, mixed)
    return result


def _from_below(below: Floats) -> Floats:
    """Return bin shares from cumulative ones, along the last axis."""
    shape = (*below.shape[:-1], 1)
    one, zero = np.ones(shape, below.dtype), np.zeros(shape, below.dtype)
    result: Floats = np.diff(np.concatenate([zero, below, one], axis=-1), axis=-1)
    return result


def _level_shares(table: Table, live: LiveRows, column: int) -> Array:
    """Return P(level) (n_live, n_levels) of a category check with the wrong-reading floor."""
    levels = table.models[column].levels
    assert levels is not None
    uniform = 1.0 / levels.shape[2]
    mixed = np.einsum("kh,khm->hm", live.nuisance, levels[:, live.index, :])
    share = table.settings.wrong_reading
    result: Array = np.where(
        np.isnan(mixed), uniform, (1.0 - share) * mixed + share * uniform
    )
    return result


def outcome_shares(table: Table, live: LiveRows, column: int) -> Array:
    """Return P(outcome | row) of one check with shape (n_live, n_outcomes)."""
    if table.checks[column].levels:
        return _level_shares(table, live, column)
    result: Array = _from_below(_below(table, live, [column], _MOST_EDGES))[0].astype(np.float64)
    return result


def binned_shares(table: Table, live: LiveRows, columns: Sequence[int], edges: int = 4) -> Array:
    """Return P(outcome | row) of checks in few bins (n_checks, n_live, n_bins), unused bins 0."""
    numeric = [n for n, column in enumerate(columns) if not table.checks[column].levels]
    widest = max(edges + 1, *(len(table.checks[column].levels) for column in columns))
    found = np.zeros((len(columns), live.index.size, widest))
    if numeric:
        shares = _from_below(_below(table, live, [columns[n] for n in numeric], edges))
        found[numeric, :, :shares.shape[2]] = shares
    for n, column in enumerate(columns):
        if table.checks[column].levels:
            named = _level_shares(table, live, column)
            found[n, :, :named.shape[1]] = named
    return found


def information(joint: Array | Floats) -> Array | Floats:
    """Return the mutual information [bit] of (..., n_classes, n_outcomes) joint shares."""
    joint = np.maximum(joint, joint.dtype.type(0.0))
    joint /= joint.sum(axis=(-2, -1), keepdims=True)
    parts = joint.sum(axis=-1, keepdims=True) * joint.sum(axis=-2, keepdims=True)
    parts = np.maximum(parts, joint.dtype.type(1e-30))
    ratio = np.divide(joint, parts, out=np.ones_like(joint), where=joint > 1e-14)
    ratio = np.log2(ratio, out=ratio)
    result: Array | Floats = np.einsum("...co,...co->...", joint, ratio)
    return np.maximum(result, 0.0)


def class_gains(table: Table, live: LiveRows, columns: Sequence[int]) -> Array:
    """Return the expected information [bit] about the repair class of each check in `columns`."""
    gains = np.zeros(len(columns))
    numeric = [n for n, column in enumerate(columns) if not table.checks[column].levels]
    room = _BIN_BUDGET // max(len(numeric) * live.index.size, 1)
    if numeric:
        count = int(np.clip(room, 3, _MOST_EDGES))
        below = _below(table, live, [columns[n] for n in numeric], count)
        gains[numeric] = information(class_bins(live, below))
    if len(numeric) < len(columns):
        named = [n for n, column in enumerate(columns) if table.checks[column].levels]
        gains[named] = level_gains(table, live, [columns[n] for n in named])
    return gains


def level_gains(table: Table, live: LiveRows, columns: Sequence[int]) -> Array:
    """Return the expected information [bit] of category checks about the repair class."""
    wanted = np.asarray(columns, dtype=np.int64)
    gains = np.zeros(len(columns))
    left, shares = nuisance_left(live)
    wrong = table.settings.wrong_reading
    for count, (known, chances) in table.chances().items():
        place = np.flatnonzero(np.isin(wanted, known))
        if not place.size:
            continue
        asked = chances[np.searchsorted(known, wanted[place])].take(live.index, axis=3)
        mixed = np.einsum("kr,cmkr->cmr", shares, asked[:, :, left])
        seen = np.where(np.isnan(mixed), 1.0 / count, (1.0 - wrong) * mixed + wrong / count)
        # classes and outcomes may change places: the information of two is mutual
        gains[place] = information(np.add.reduceat(seen * live.weight, live.starts, axis=2))
    return gains


def class_bins(live: LiveRows, below: Floats) -> Floats:
    """Return (n_checks, n_classes, n_bins) joint shares from (n_checks, n_live, n_edges)."""
    weighted = below * live.weight.astype(np.float32)[None, :, None]
    sums = np.add.reduceat(weighted, live.starts, axis=1)
    joint = np.empty((*sums.shape[:2], sums.shape[2] + 1), dtype=np.float32)
    joint[..., 0] = sums[..., 0]
    np.subtract(sums[..., 1:], sums[..., :-1], out=joint[..., 1:-1])
    joint[..., -1] = live.class_weight.astype(np.float32) - sums[..., -1]
    return joint
