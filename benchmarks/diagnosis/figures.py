"""Figures of outcomes with their intervals: shares, minutes, calibration."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from benchmarks.diagnosis.job import Outcome

__all__ = ["calibration_error", "calibration_floor", "confident_wrong", "escalated", "exonerated",
           "header", "interval", "share_right", "stratum_lines", "verdict_error"]

_DRAWS = 1000
_SURE = 0.95
_EXONERATED = 0.01
_ESCALATE_MIN = 40.0
_BINS = 10

Measure = Callable[[Outcome], float]


def interval(values: Sequence[float], seed: int = 1) -> tuple[float, float, float]:
    """Return mean and the 95 % bootstrap interval over cases.

    All values alike give no spread: then the rule of three widens a share of 0 or 1.
    """
    data = np.asarray(values, dtype=float)
    if data.size == 0:
        return float("nan"), float("nan"), float("nan")
    rng = np.random.default_rng(seed)
    means = data[rng.integers(0, data.size, (_DRAWS, data.size))].mean(axis=1)
    low, high = (float(one) for one in np.percentile(means, [2.5, 97.5]))
    mean = float(data.mean())
    if mean in (0.0, 1.0) and np.isin(data, (0.0, 1.0)).all():
        low, high = max(mean - 3.0 / data.size, 0.0), min(mean + 3.0 / data.size, 1.0)
    return mean, low, high


def calibration_error(outcomes: Sequence[Outcome]) -> float:
    """Return the expected calibration error of the leading class after every reading.

    The mean over ten equal bins of |mean probability - share right|, weighted by the bins' counts.
    """
    return _error(_pairs(outcomes))


def calibration_floor(outcomes: Sequence[Outcome], draws: int = 50) -> float:
    """Return what that error would be on average if every probability were exactly true.

    So few answers leave each bin a chance deviation. Answers of one job are drawn with one luck.
    """
    rng = np.random.default_rng(3)
    pairs = _pairs(outcomes)
    if not len(pairs):
        return float("nan")
    jobs = np.repeat(np.arange(len(outcomes)), [len(one.lead) for one in outcomes])
    errors = []
    for _ in range(draws):
        luck = rng.random(len(outcomes))[jobs]
        errors.append(_error(np.column_stack([pairs[:, 0], luck < pairs[:, 0]])))
    return float(np.mean(errors))


def verdict_error(outcomes: Sequence[Outcome]) -> float:
    """Return that error of the first repairs advised: their probability against how many mend."""
    advised = [one for one in outcomes if one.first]
    return _error(np.array([(one.confidence, float(one.first in one.case.repairs))
                            for one in advised], dtype=float).reshape(len(advised), 2))


def _pairs(outcomes: Sequence[Outcome]) -> np.ndarray:
    found = [pair for one in outcomes for pair in one.lead]
    return np.array(found, dtype=float).reshape(len(found), 2)


def _error(pairs: np.ndarray) -> float:
    if not len(pairs):
        return float("nan")
    which = np.minimum((pairs[:, 0] * _BINS).astype(int), _BINS - 1)
    gap = np.bincount(which, pairs[:, 0] - pairs[:, 1], minlength=_BINS)
    return float(np.abs(gap).sum() / len(pairs))


def share_right(one: Outcome) -> float:
    """Return 1 where the job ended as it should at its first verdict."""
    sort = one.case.stratum.sort
    if sort == "none":
        return float(one.status == "no fault found" and one.wrong_parts == 0)
    if sort == "unmodelled":
        return float(one.wrong_parts == 0 and one.escalated_min is not None)
    if sort == "twins":
        return float(one.case.twins <= set(one.named))
    return float(one.first in one.case.repairs)


def confident_wrong(one: Outcome) -> float:
    """Return 1 where a repair was advised above 0.95 and was none of the vehicle's."""
    return float(bool(one.first) and one.confidence > _SURE
                 and one.first not in one.case.repairs)


def exonerated(one: Outcome) -> float:
    """Return 1 where the true repairs had less than 1 % together when the search first ended."""
    return float(one.true_share < _EXONERATED)


def escalated(one: Outcome) -> float:
    """Return 1 where the job was handed on as not explained within 40 minutes."""
    return float(one.escalated_min is not None and one.escalated_min <= _ESCALATE_MIN)


_MEASURES: tuple[tuple[str, Measure, float], ...] = (
    ("right %", share_right, 100.0),
    ("sure&wrong %", confident_wrong, 100.0),
    ("exonerated %", exonerated, 100.0),
    ("wrong repairs", lambda one: float(one.wrong_parts), 1.0),
    ("cured %", lambda one: float(one.cured), 100.0),
    ("find min", lambda one: one.find_min, 1.0),
    ("total min", lambda one: one.total_min, 1.0),
    ("charged min", lambda one: one.charged_min, 1.0),
    ("proof refused though cured %", lambda one: float(one.false_alarm), 100.0),
    ("proved though not cured %", lambda one: float(one.proved and not one.cured), 100.0),
    ("proof min", lambda one: one.proof_min, 1.0),
    ("handed on <= 40 min %", escalated, 100.0),
)


def stratum_lines(name: str, outcomes: Sequence[Outcome]) -> list[str]:
    """Return the Markdown row of one stratum and policy."""
    cells = []
    for _, measure, scale in _MEASURES:
        mean, low, high = (scale * one for one in interval([measure(one) for one in outcomes]))
        digits = 2 if scale == 1.0 and mean < 10.0 else 1
        cells.append(f"{mean:.{digits}f} ({low:.{digits}f}-{high:.{digits}f})")
    cells.append(f"{verdict_error(outcomes):.3f}")
    cells.append(f"{calibration_error(outcomes):.3f} ({calibration_floor(outcomes):.3f})")
    return [f"| {name} | {len(outcomes)} | {' | '.join(cells)} |"]


def header() -> list[str]:
    """Return the Markdown header of the table."""
    names = ["stratum", "cases", *(name for name, _, _ in _MEASURES),
             "calibration error of verdicts", "after every reading (chance alone)"]
    return [f"| {' | '.join(names)} |", "|" + "---|" * len(names)]
