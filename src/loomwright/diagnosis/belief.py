"""Bayes' rule over the table: the likelihood of each reading and the belief after all of them."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.free_sources import FreeFit
from loomwright.diagnosis.records import Evidence, Settings
from loomwright.diagnosis.repaired import (
    folded,
    healed,
    left_after,
    mean_by_row,
    mended,
    repairs_done,
)
from loomwright.diagnosis.sticky import answering, runs_of, sticky_forward, stirred_by
from loomwright.diagnosis.table import CheckModel, Table, scaled
from loomwright.errors import UnknownNameError, UsageError
from loomwright.plant import Check

__all__ = [
    "Belief",
    "Reading",
    "believe",
    "check_evidence",
    "log_likelihood",
    "merge_repeats",
]

Array = NDArray[np.float64]

# Shares of a wrong reading: at 0 and at the top of the span (a probe that does not touch: 0 V, or
# OL on ohms), leads swapped (which ohms do not notice); the rest is anything (uniform). Assumed;
# the answer hardly moves with them (docs/models/diagnosis.md).
_WRONG_SHARES = (0.25, 0.0, 0.15)
_WRONG_OHMS_SHARES = (0.1, 0.4, 0.0)
_WRONG_OPEN_SHARE = 0.8  # of wrong continuity readings: silence, from a probe that does not touch
_ZERO_SD_SHARE = 0.001  # of the span, at least: how near 0 a probe that does not touch reads
_ZERO_SD_RESOLUTIONS = 2.0
# A repeat of a wrong reading is wrong in the same way this often (the same wrong pin): repeats
# are strong evidence, but never as strong as independent readings.
_REPEATS_THE_MISTAKE = 0.2
_LEAST_WRONG_SHARE = 0.04
_AGREE_SDS = 3.0
_FAR_BELOW_EVEN = 0.3
_MISSEEN = 0.05  # a level below this chance is seen by mistake, which repeats make rarer too
_FAILED_REPAIR_ODDS = 20.0  # what a failed confident repair multiplies the unmodelled odds by
_CONFIDENT_BEFORE = 0.5
_KEPT = 64  # likelihoods of readings, the last ones used
_SMALL = 30_000  # nuisance values times rows up to which they are kept: half a megabyte each


@dataclass(frozen=True, slots=True)
class Reading:
    """Readings of one check that agree, taken as one: mean value or level, and their indices.

    `after` are the repairs already done when they were taken.
    """

    check: Check
    value: float | str
    indices: tuple[int, ...]
    after: tuple[str, ...] = ()

    @property
    def sort(self) -> tuple[Check, tuple[str, ...]]:
        """Return what two readings must share to be repeats: the check, and the repairs done."""
        return self.check, self.after

    @property
    def repeat_factor(self) -> float:
        """Return what agreeing repeats multiply the chance of a mistake by."""
        repeats: float = _REPEATS_THE_MISTAKE ** (len(self.indices) - 1)
        return max(repeats, _LEAST_WRONG_SHARE)

    def wrong_share(self, settings: Settings) -> float:
        """Return the probability that all readings merged here are wrong alike."""
        return settings.wrong_reading * self.repeat_factor


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """The belief after some readings.

    `joint` (n_nuisance, n_rows) sums to one; `rows` and `classes` are its sums. `wrong` holds for
    each reading the probability (n_rows,) that it is a wrong reading, if that row is true.
    `start` is the log joint before any reading. After repairs all rows describe the plant as it is
    now: `left` says which row each became (None: no repairs), and what was a row of several faults
    is counted there; `start` and `log_likelihoods` stay by the rows as they were.
    `free` are unknown currents between two points, fitted once nothing listed explains the
    readings; they stand beside the rows.
    `fits` is False when no row at all allows the readings (exact tables only).
    """

    joint: Array
    rows: Array
    classes: Array
    readings: tuple[Reading, ...]
    wrong: tuple[Array, ...]
    log_likelihoods: tuple[Array, ...]
    fits: bool
    start: Array
    left: NDArray[np.int64] | None = None
    free: FreeFit | None = None

    @property
    def log_evidence(self) -> float:
        """Return the log likelihood of all readings, over the rows by their priors."""
        joint = self.start + sum(self.log_likelihoods, np.zeros_like(self.start))
        top = float(joint.max())
        return top + math.log(float(np.exp(joint - top).sum())) if math.isfinite(top) else top

    def repeatable(self, reading: Reading) -> bool:
        """Return whether a reading can be taken again: no repair has been done since."""
        return len(reading.after) == max(len(other.after) for other in self.readings)


def check_evidence(evidence: Sequence[Evidence]) -> None:
    """Raise UsageError for a reading that is not finite, UnknownNameError for an unknown level."""
    for number, item in enumerate(evidence, start=1):
        check, value = item.check, item.value
        if check.levels:
            if value not in check.levels:
                raise UnknownNameError(f"level at {check.at}", str(value), check.levels)
        elif isinstance(value, str) or not math.isfinite(value):
            raise UsageError(
                f"Reading {number} ({check.quantity} at {check.at}) is '{value}', "
                f"not a finite number in {check.unit or 'its unit'}.",
                next_step="Enter the number shown by the instrument.",
            )


def _agree(check: Check, first: float, second: float) -> bool:
    """Return whether two readings differ by no more than the instrument explains."""
    size = max(abs(first), abs(second))
    sd = math.hypot(check.resolution, check.accuracy * size)
    return abs(first - second) <= _AGREE_SDS * math.sqrt(2.0) * sd + 1e-12


def merge_repeats(evidence: Sequence[Evidence]) -> tuple[Reading, ...]:
    """Merge agreeing repeats of the same check, so that the model's spread is counted once.

    Repeats that disagree stay separate readings, and so does each wiggle: a trial of its own. The
    result does not depend on the order.
    """
    by_check: dict[tuple[Check, tuple[str, ...], int], list[int]] = {}
    for index, item in enumerate(evidence):
        trial = index if item.check.action else -1
        by_check.setdefault((item.check, item.after, trial), []).append(index)
    readings: list[Reading] = []
    for (check, _, _), indices in by_check.items():
        ordered = sorted(indices, key=lambda i: (evidence[i].value, i))
        cluster = [ordered[0]]
        for index in ordered[1:]:
            if _same(check, evidence[cluster[0]].value, evidence[index].value):
                cluster.append(index)
                continue
            readings.append(_merged(check, cluster, evidence))
            cluster = [index]
        readings.append(_merged(check, cluster, evidence))
    return tuple(sorted(readings, key=lambda reading: min(reading.indices)))


def _same(check: Check, first: float | str, second: float | str) -> bool:
    if isinstance(first, str) or isinstance(second, str):
        return first == second
    return _agree(check, first, second)


def _merged(check: Check, cluster: Sequence[int], evidence: Sequence[Evidence]) -> Reading:
    values = [evidence[index].value for index in cluster]
    after = evidence[cluster[0]].after
    if check.levels:
        return Reading(check, values[0], tuple(sorted(cluster)), after)
    mean = math.fsum(float(value) for value in values) / len(values)
    return Reading(check, mean, tuple(sorted(cluster)), after)


def _log_normal(value: float, mean: Array | float, sd: Array | float) -> Array:
    z = (value - np.asarray(mean)) / sd
    result: Array = -0.5 * z * z - np.log(np.asarray(sd) * math.sqrt(2.0 * math.pi))
    return result


def _log(value: Array) -> Array:
    with np.errstate(divide="ignore"):
        result: Array = np.log(value)
    return result


def log_likelihood(
    model: CheckModel, reading: Reading, settings: Settings
) -> tuple[Array, Array]:
    """Return the log likelihood of a reading and the probability that it is a wrong reading.

    Both have shape (n_nuisance, n_rows). Mixture of a right reading (normal, or the predicted
    level probabilities) and a wrong one (0, leads swapped, uniform over the span). Where a row
    says nothing (NaN, and the unmodelled row) the reading is uniform over the span.
    """
    share = reading.wrong_share(settings)
    if model.levels is not None:
        uniform = 1.0 / len(model.check.levels)
        by_mistake = _seen_by_mistake(model.check, str(reading.value))
        column = model.check.levels.index(str(reading.value))
        right = model.levels[:, :, column]
        slip = right < min(_MISSEEN, _FAR_BELOW_EVEN * uniform)
        right = np.where(slip, right * reading.repeat_factor, right)
        silent = np.isnan(right)
        total = np.where(silent, uniform, (1.0 - share) * right + share * by_mistake)
        with np.errstate(invalid="ignore", divide="ignore"):
            missed = np.where(slip, (1.0 - share) * right, 0.0)
            wrong = np.where(silent | (total <= 0.0), 0.0, (share * by_mistake + missed) / total)
        return _log(total), wrong
    return _log_numeric(model, float(reading.value), share)


@functools.lru_cache(maxsize=_KEPT)
def _known_likelihood(
    model: CheckModel, reading: Reading, settings: Settings
) -> tuple[Array, Array]:
    """Return `log_likelihood`, kept: a job asks for all its readings again after each new one."""
    log, wrong = log_likelihood(model, reading, settings)
    log.setflags(write=False)
    wrong.setflags(write=False)
    return log, wrong


def _seen_by_mistake(check: Check, level: str) -> float:
    """Return how likely a wrong reading is this level: evenly, but a buzzer rather stays silent."""
    if check.quantity == "continuity" and len(check.levels) == 2:
        return _WRONG_OPEN_SHARE if level == "open" else 1.0 - _WRONG_OPEN_SHARE
    return 1.0 / len(check.levels)


def _log_numeric(model: CheckModel, raw_value: float, share: float) -> tuple[Array, Array]:
    value = float(scaled(model.check, raw_value))
    low, high = model.span
    width = high - low
    silent = np.isnan(model.mean)
    mean, sd = np.where(silent, 0.0, model.mean), np.where(silent, 1.0, model.sd)
    log_right = math.log1p(-share) + _log_normal(value, mean, sd) if share < 1.0 else -np.inf
    zero_sd = max(_ZERO_SD_SHARE * width, _ZERO_SD_RESOLUTIONS * model.check.resolution)
    at_zero = np.exp(_log_normal(value, float(scaled(model.check, 0.0)), zero_sd))
    at_top = np.exp(_log_normal(value, high, zero_sd))
    swapped = np.exp(_log_normal(value, -mean, np.hypot(sd, zero_sd)))
    zero, top, swap = _WRONG_OHMS_SHARES if model.check.quantity == "resistance" else _WRONG_SHARES
    known = zero * at_zero + top * at_top + swap * swapped
    log_wrong = _log(share * (known + (1.0 - zero - top - swap) / width))
    total = np.where(silent, -math.log(width), np.logaddexp(log_right, log_wrong))
    wrong = np.where(silent, 0.0, np.exp(log_wrong - np.where(silent, 0.0, total)))
    return total, wrong


def _normalised(log_joint: Array) -> tuple[Array, bool]:
    top = float(np.max(log_joint))
    if not math.isfinite(top):
        return np.full_like(log_joint, 1.0 / log_joint.size), False
    joint = np.exp(log_joint - top)
    return joint / joint.sum(), True


def _class_sums(table: Table, rows: Array) -> Array:
    sums = np.bincount(table.class_of, weights=rows, minlength=len(table.classes))
    return sums.astype(float)


def believe(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str] = ()
) -> Belief:
    """Return the belief after the evidence, by Bayes' rule with the nuisance marginalised jointly.

    `rejected` repairs were done and did not help: their faults are gone, so a row that they mend
    altogether is removed, a row of several faults is counted as what it left, and each that had
    been the confident choice raises the odds of an unmodelled fault.
    Raises UsageError on a value that is no reading, UnknownNameError on an unknown repair.
    """
    check_evidence(evidence)
    readings = merge_repeats(evidence)
    for name in (*rejected, *(name for reading in readings for name in reading.after)):
        if name not in table.repairs:
            raise UnknownNameError("repair", name, table.repairs)
    parts = [_of_reading(table, reading) for reading in readings]
    start = table.log_weights[:, None] + table.log_prior[None, :]
    if table.sticky is not None and readings:
        start, parts = _come_and_go(table, evidence, readings, start, parts)
    logs = tuple(log for log, _ in parts)
    if rejected:
        failed = sum(_was_confident(table, start, readings, logs, name) for name in set(rejected))
        start = np.where(mended(table, set(rejected))[None, :], -np.inf, start)
        start[:, -1] += failed * math.log(_FAILED_REPAIR_ODDS)
    joint, fits = _normalised(start + sum(logs) if logs else start)
    done = repairs_done([name for reading in readings for name in reading.after], rejected)
    left = left_after(table, done) if done else None
    return _belief(table, readings, (start, joint, left, fits), parts)


def _come_and_go(
    table: Table, evidence: Sequence[Evidence], readings: Sequence[Reading], start: Array,
    parts: Sequence[tuple[Array, Array]],
) -> tuple[Array, list[tuple[Array, Array]]]:
    """Return start and readings' parts with the rows that come and go taken in order of time."""
    assert table.sticky is not None
    owner = {index: n for n, reading in enumerate(readings) for index in reading.indices}
    runs = []
    for run in runs_of(evidence, [owner[index] for index in range(len(evidence))]):
        whole = readings[run.reading]
        alike = run.count == len(whole.indices)
        part = replace(whole, indices=whole.indices[:run.count])
        log, wrong_share = parts[run.reading] if alike else _of_reading(table, part)
        runs.append((run, log, wrong_share, stirred_by(table, whole.check)))
    logs, wrong = [log for log, _ in parts], [share for _, share in parts]
    start, logs, wrong = sticky_forward(table.sticky, runs, start, logs, wrong)
    return start, list(zip(logs, wrong, strict=True))


def _belief(
    table: Table,
    readings: tuple[Reading, ...],
    state: tuple[Array, Array, NDArray[np.int64] | None, bool],
    parts: Sequence[tuple[Array, Array]],
) -> Belief:
    """Return the belief by the rows as the plant is now."""
    start, joint, left, fits = state
    shares = [share for _, share in parts]
    if left is not None:
        shares = [mean_by_row(share, joint, left) for share in shares]
        joint = folded(joint, left)
    rows = joint.sum(axis=0)
    nuisance = joint / np.maximum(rows, 1e-300)
    wrong = tuple((nuisance * share).sum(axis=0) for share in shares)
    logs = tuple(log for log, _ in parts)
    sums = _class_sums(table, rows)
    return Belief(joint, rows, sums, readings, wrong, logs, fits, start, left)


def _of_reading(table: Table, reading: Reading) -> tuple[Array, Array]:
    """Return log likelihood and wrong share of a reading, of each row as it then was."""
    model = table.model(reading.check)
    likelihood = _known_likelihood if model.raw.size <= _SMALL else log_likelihood
    if reading.check.action:
        model, likelihood = answering(table, model), log_likelihood
    log, wrong = likelihood(model, reading, table.settings)
    if not reading.after:
        return log, wrong
    left = left_after(table, reading.after)
    return healed(log, left), healed(wrong, left)


def _was_confident(
    table: Table,
    start: Array,
    readings: Sequence[Reading],
    logs: Sequence[Array],
    repair: str,
) -> bool:
    """Return whether a repair had half the belief or more by the readings taken before it."""
    before = [log for reading, log in zip(readings, logs, strict=True)
              if repair not in reading.after]
    joint, _ = _normalised(start + sum(before) if before else start)
    shares = _class_sums(table, joint.sum(axis=0))
    return float(shares[table.classes.index(repair)]) >= _CONFIDENT_BEFORE \
        if repair in table.classes else False
