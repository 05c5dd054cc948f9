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

__all__ = ["LiveRows", "class_gains", "coarse_gains", "live_rows", "outcome_shares"]

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Floats = NDArray[np.float32]

_PRUNE = 1e-6  # rows with less than this share of the belief cannot matter to the choice
_PRUNE_NUISANCE = 2e-3  # nor can a nuisance value (battery volts) that hardly any row still allows
_MOST_ROWS = 600
_BIN_BUDGET = 900_000  # normal distribution look-ups allowed per call, about 15 ms
_MOST_EDGES = 13
_ROUGH_STEPS = (np.float32(-0.8), np.float32(0.0), np.float32(0.8))
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


def _moments(table: Table, live: LiveRows, columns: Sequence[int]) -> tuple[Array, Array]:
    """Return mean and standard deviation (n_checks, n_live) over the nuisance left."""
    mean_grid, variance_grid = table.grid()
    nuisance = np.flatnonzero(live.nuisance.max(axis=1) > _PRUNE_NUISANCE)
    wanted = np.ix_(np.asarray(columns, dtype=np.int64), nuisance, live.index)
    mean_all, variance = mean_grid[wanted], variance_grid[wanted]
    shares = live.nuisance[nuisance].astype(np.float32)
    shares = (shares / shares.sum(axis=0))[None]
    mean = (shares * mean_all).sum(axis=1)
    mean_all -= mean[:, None]
    variance += np.square(mean_all, out=mean_all)
    variance *= shares
    return mean, np.sqrt(np.maximum(variance.sum(axis=1), 1e-18))


def _edges(mean: Array, sd: Array, weight: Array, count: int) -> Array:
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
        return np.nan_to_num(sorted_mean[:, :1])
    widest = np.argpartition(-score, n_gap - 1, axis=1)[:, :n_gap]
    at_gaps = np.take_along_axis(middles, widest, axis=1)
    wanted = (np.arange(count - n_gap) + 0.5) / max(count - n_gap, 1)
    place = (cumulative[:, :, None] < wanted).sum(axis=1).clip(0, mean.shape[1] - 1)
    at_quantiles = np.take_along_axis(sorted_mean, place, axis=1)
    edges = np.concatenate([at_gaps, at_quantiles], axis=1)
    fallback = np.nan_to_num(sorted_mean[:, :1])
    return np.sort(np.where(np.isnan(edges), fallback, edges), axis=1)


def _uniform_below(table: Table, columns: Sequence[int], edges: Array) -> Array:
    """Return the share (n_checks, n_edges) of wrong readings below each edge, zeros included."""
    spans = np.array([table.models[column].span for column in columns])
    zero = np.array([float(scaled(table.checks[column], 0.0)) for column in columns])
    low, high = spans[:, :1], spans[:, 1:]
    flat = np.clip((edges - low) / (high - low), 0.0, 1.0)
    result: Array = 0.75 * flat + 0.25 * (edges > zero[:, None])
    return result


def _below(table: Table, live: LiveRows, columns: Sequence[int], count: int) -> Array:
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
    result: Array = np.where(silent[:, :, None], wrong, mixed)
    return result


def _from_below(below: Array) -> Array:
    """Return bin shares from cumulative ones, along the last axis."""
    shape = (*below.shape[:-1], 1)
    one, zero = np.ones(shape, below.dtype), np.zeros(shape, below.dtype)
    result: Array = np.diff(np.concatenate([zero, below, one], axis=-1), axis=-1)
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
    return np.asarray(_from_below(_below(table, live, [column], _MOST_EDGES))[0], dtype=float)


def _information(joint: Array) -> Array:
    """Return the mutual information [bit] of (..., n_classes, n_outcomes) joint shares."""
    joint = np.maximum(joint, 0.0)
    joint = joint / joint.sum(axis=(-2, -1), keepdims=True)
    parts = joint.sum(axis=-1, keepdims=True) * joint.sum(axis=-2, keepdims=True)
    ratio = np.where(joint > 1e-14, joint / np.maximum(parts, 1e-30), 1.0)
    result: Array = (joint * np.log2(ratio)).sum(axis=(-2, -1))
    return np.maximum(result, 0.0)


def class_gains(table: Table, live: LiveRows, columns: Sequence[int]) -> Array:
    """Return the expected information [bit] about the repair class of each check in `columns`."""
    gains = np.zeros(len(columns))
    numeric = [n for n, column in enumerate(columns) if not table.checks[column].levels]
    room = _BIN_BUDGET // max(len(numeric) * live.index.size, 1)
    if numeric:
        count = int(np.clip(room, 3, _MOST_EDGES))
        below = _below(table, live, [columns[n] for n in numeric], count)
        gains[numeric] = _information(_class_bins(live, below))
    for n, column in enumerate(columns):
        if table.checks[column].levels:
            weighted = _level_shares(table, live, column) * live.weight[:, None]
            gains[n] = _information(np.add.reduceat(weighted, live.starts, axis=0))
    return gains


def _class_bins(live: LiveRows, below: Array) -> Array:
    """Return (n_checks, n_classes, n_bins) joint shares from (n_checks, n_live, n_edges)."""
    weighted = below * live.weight.astype(np.float32)[None, :, None]
    sums = np.add.reduceat(weighted, live.starts, axis=1)
    whole = np.broadcast_to(live.class_weight[None, :, None], (*sums.shape[:2], 1))
    zero = np.zeros_like(whole)
    result: Array = np.diff(np.concatenate([zero, sums, whole], axis=2), axis=2)
    return result


def coarse_gains(table: Table, live: LiveRows, columns: Sequence[int]) -> Array:
    """Return a rough expected information [bit] of each check, fast enough for hundreds.

    Three edges around the mean of the predictions, a straight ramp instead of the normal
    distribution, and one distribution of the nuisance for all rows.
    """
    gains = np.zeros(len(columns))
    numeric = [n for n, column in enumerate(columns) if not table.checks[column].levels]
    if numeric:
        mean, sd = _rough_moments(table, live, [columns[n] for n in numeric])
        silent = np.isnan(mean)
        mean = np.where(silent, np.float32(0.0), mean)
        weight = (live.weight * ~silent).astype(np.float32)
        weight /= np.maximum(weight.sum(axis=1, keepdims=True), np.float32(1e-12))
        centre = (weight * mean).sum(axis=1, keepdims=True)
        width = np.sqrt((weight * (mean - centre) ** 2).sum(axis=1, keepdims=True))
        slope = np.float32(0.36) / np.where(silent, np.float32(1e6), sd)  # density near the middle
        ramps = [
            np.clip((centre + step * width - mean) * slope + np.float32(0.5), 0.0, 1.0)
            for step in _ROUGH_STEPS
        ]
        gains[numeric] = _information(_class_bins(live, np.stack(ramps, axis=2)))
    rest = [n for n, column in enumerate(columns) if table.checks[column].levels]
    gains[rest] = class_gains(table, live, [columns[n] for n in rest])
    return gains


def _rough_moments(table: Table, live: LiveRows, columns: Sequence[int]) -> tuple[Floats, Floats]:
    """Return mean and standard deviation (n_checks, n_live), all rows with the same nuisance."""
    shares = (live.nuisance @ live.weight).astype(np.float32)
    middle, shift, second = table.shifts()
    used = np.flatnonzero(shares > _PRUNE_NUISANCE)
    part = slice(int(used[0]), int(used[-1]) + 1)  # a slice copies nothing
    shares, shift, second = shares[part] / shares[part].sum(), shift[part], second[part]
    offset = np.tensordot(shares, shift, axes=1)
    variance = np.tensordot(shares, second, axes=1) - offset**2
    wanted = np.ix_(np.asarray(columns, dtype=np.int64), live.index)
    mean: Floats = (middle + offset)[wanted]
    return mean, np.sqrt(np.maximum(variance[wanted], np.float32(1e-18)))
