"""The page of figures: strata, families, rules of thumb and goals, as Markdown."""

from __future__ import annotations

import os
import platform
from collections import defaultdict
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from benchmarks.diagnosis.cases import STRATA
from benchmarks.diagnosis.families import FAMILIES
from benchmarks.diagnosis.figures import (
    calibration_error,
    calibration_floor,
    confident_wrong,
    escalated,
    exonerated,
    header,
    interval,
    share_right,
    stratum_lines,
    verdict_error,
)
from benchmarks.diagnosis.job import BASELINES, ENGINE, Outcome
from benchmarks.diagnosis.plan import COMPARED, fingerprint

__all__ = ["page", "write"]

_README = Path(__file__).with_name("README.md")
_BEGIN, _END = "<!-- figures begin -->", "<!-- figures end -->"
Groups = dict[tuple[str, str], list[Outcome]]


def page(outcomes: Sequence[Outcome]) -> str:
    """Return all tables of a run."""
    found: Groups = defaultdict(list)
    for one in outcomes:
        found[one.case.stratum.name, one.policy].append(one)
    own = [one for one in outcomes if one.policy == ENGINE]
    lines = [_about(own, outcomes), "", *_strata(found), "", *_families(own), "",
             *_compared(found), "", *_goals(found), "", _speed(own)]
    return "\n".join(lines)


def write(text: str) -> None:
    """Put the tables between the marks of README.md."""
    before, rest = _README.read_text("utf-8").split(_BEGIN)
    _README.write_text(f"{before}{_BEGIN}\n{text}\n{_END}{rest.split(_END)[1]}", "utf-8")


def _about(own: Sequence[Outcome], every: Sequence[Outcome]) -> str:
    families = len({one.case.family for one in own})
    return (f"{len(own)} vehicles of {families} families, {len(every)} jobs with the rules; source "
            f"`{fingerprint()}`, {platform.machine()}, {os.cpu_count()} processors, Python "
            f"{platform.python_version()}, numpy {np.__version__}. Rows with a dash: the rules on "
            "the same vehicles as the row above.")


def _strata(found: Groups) -> list[str]:
    lines = header()
    for stratum in STRATA:
        for policy in (ENGINE, *BASELINES):
            outcomes = found.get((stratum.name, policy))
            if outcomes:
                name = stratum.name if policy == ENGINE else f"- {policy}"
                lines += stratum_lines(name, outcomes)
    return lines


def _families(own: Sequence[Outcome]) -> list[str]:
    lines = ["Single faults of every stratum by family:", "",
             "| family | cases | right % | sure&wrong % | total min |", "|---|---|---|---|---|"]
    for family in FAMILIES:
        mine = [one for one in own
                if one.case.family == family.name and one.case.stratum.sort == "single"]
        cells = [_cell(mine, share_right, 100.0), _cell(mine, confident_wrong, 100.0),
                 _cell(mine, lambda one: one.total_min)]
        lines.append(f"| {family.name} | {len(mine)} | {' | '.join(cells)} |")
    return lines


def _cell(outcomes: Sequence[Outcome], measure: Callable[[Outcome], float], scale: float = 1.0
          ) -> str:
    mean, low, high = (scale * one for one in interval([measure(one) for one in outcomes]))
    return f"{mean:.1f} ({low:.1f}-{high:.1f})"


def _compared(found: Groups) -> list[str]:
    """Return the policies beside one another, paired by case."""
    lines = []
    own = {(one.case.family, one.case.number): one for one in found.get((COMPARED, ENGINE), [])}
    for policy in BASELINES:
        other = {(one.case.family, one.case.number): one
                 for one in found.get((COMPARED, policy), [])}
        both = sorted(own.keys() & other.keys())
        if both:
            plain = _saved([own[key].total_min for key in both],
                           [other[key].total_min for key in both])
            full = _saved([own[key].charged_min for key in both],
                          [other[key].charged_min for key in both])
            lines.append(f"- {COMPARED}, against '{policy}' ({len(both)} vehicles): {plain} fewer "
                         f"minutes to find and mend; {full} with comebacks and uncured jobs "
                         "charged")
    return lines


def _saved(own: Sequence[float], other: Sequence[float]) -> str:
    """Return the share saved of the means with its paired bootstrap interval, in words."""
    mine, theirs = np.array(own), np.array(other)
    which = np.random.default_rng(2).integers(0, len(mine), (1000, len(mine)))
    saved = 100.0 * (1.0 - mine[which].mean(axis=1) / theirs[which].mean(axis=1))
    low, high = np.percentile(saved, [2.5, 97.5])
    return f"{100.0 * (1.0 - mine.mean() / theirs.mean()):.1f} % ({low:.1f} to {high:.1f})"


def _goals(found: Groups) -> list[str]:
    """Return every goal beside what was reached, and whether the figure itself meets it."""
    lines = ["| goal | stratum | here (95 % interval) | met |", "|---|---|---|---|"]
    clean, usual, bad = "single, no wrong readings", COMPARED, "single, 10 % wrong"
    rows: list[tuple[str, str, Callable[[Outcome], float], float, float]] = [
        ("single right >= 99 %", clean, share_right, 99.0, 100.0),
        ("single right >= 99 %", usual, share_right, 99.0, 100.0),
        ("sure and wrong <= 0.5 %", clean, confident_wrong, -0.5, 100.0),
        ("sure and wrong <= 0.5 %", usual, confident_wrong, -0.5, 100.0),
        ("exonerated <= 0.5 %", usual, exonerated, -0.5, 100.0),
        ("exonerated <= 2 %", bad, exonerated, -2.0, 100.0),
        ("doubles cured >= 97 %", "doubles", lambda one: float(one.cured), 97.0, 100.0),
        ("doubles <= 0.1 wrong repairs", "doubles", lambda one: one.wrong_parts, -0.1, 1.0),
        ("unmodelled <= 0.5 wrong repairs", "unmodelled", lambda one: one.wrong_parts, -0.5, 1.0),
        ("unmodelled handed on in 40 min >= 95 %", "unmodelled", escalated, 95.0, 100.0),
    ]
    for goal, stratum, measure, limit, scale in rows:
        outcomes = found.get((stratum, ENGINE), [])
        if outcomes:
            mean, low, high = (scale * x for x in interval([measure(one) for one in outcomes]))
            met = mean >= limit if limit > 0.0 else mean <= -limit
            lines.append(f"| {goal} | {stratum} | {mean:.2f} ({low:.2f}-{high:.2f}) | "
                         f"{'yes' if met else 'no'} |")
    both = [*found.get((clean, ENGINE), []), *found.get((usual, ENGINE), [])]
    for what, error in (("of verdicts", verdict_error(both)),
                        (f"after every reading (chance alone {calibration_floor(both):.3f})",
                         calibration_error(both))):
        lines.append(f"| calibration error <= 0.01 | single, clean and 3 % wrong | {error:.3f} "
                     f"{what} | {'yes' if error <= 0.01 else 'no'} |")
    return lines


def _speed(own: Sequence[Outcome]) -> str:
    times = [ms for one in own for ms in one.answer_ms]
    if not times:
        return ""
    p50, p99 = np.percentile(times, [50, 99])
    return (f"{len(times)} answers (belief, verdict, next checks, explanation): p50 {p50:.0f} ms, "
            f"p99 {p99:.0f} ms, longest {max(times)} ms of processor time.")
