"""Small jobs whose least minutes can be computed: the engine beside exact dynamic programming.

Run `PYTHONPATH=src:. python -m benchmarks.diagnosis.small [--circuits N] [--write]`. Of every
circuit of the evaluation one job: a state in which a function should work and does not, at most ten
repairs drawn by their priors from those that would explain it, the nine checks that part them best,
each reading cut into the steps that one look tells apart (certain outcomes, no wrong readings).
Faults that agree at all nine are one row, that of the likeliest repair: the others are left out.
Minutes are those of checks with reach and set-up, repairs and comebacks; every outcome is followed,
weighed by the priors.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.diagnosis.cases import Bench, make_bench
from benchmarks.diagnosis.families import FAMILIES
from loomwright.diagnosis import Evidence, Settings, Table, build_table, diagnose
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.diagnosis.telling_apart import split_bits, steps_of
from loomwright.diagnosis.whole_job import JobMinutes, Move, least_minutes, minutes_of_policy
from loomwright.plant import Check, Hypothesis

__all__ = ["POLICIES", "Worked", "small_table", "table_lines", "worked"]

_CHECKS = 9
_REPAIRS = 10
_FAILS = 0.3  # a fault whose function still works with more than this explains no complaint
_SURE = 0.95
_DRAWS = 1000
_README = Path(__file__).with_name("README.md")
_BEGIN, _END = "<!-- optimum begin -->", "<!-- optimum end -->"
_SETTINGS = Settings(wrong_reading=0.0, unmodelled_prior=0.0, complaint_no_fault=0.0)

Steps = NDArray[np.int64]


def _engine(table: Table, evidence: tuple[Evidence, ...]) -> Check | str:
    """Return what the engine does next."""
    found = diagnose(table, evidence, next_count=1)
    if found.verdict.status == "repair" or not found.next_checks:
        return found.verdict.repair
    return found.next_checks[0].check


def _plain(table: Table, evidence: tuple[Evidence, ...]) -> Check | str:
    """Return what information per minute does next, and stop above 0.95."""
    found = diagnose(table, evidence, next_count=1)
    shares: dict[str, float] = {}
    for one in found.suspects:
        shares[one.repair] = shares.get(one.repair, 0.0) + one.probability
    lead = max(shares, key=lambda name: shares[name])
    if shares[lead] > _SURE or not found.next_checks:
        return lead
    return found.next_checks[0].check


POLICIES: dict[str, Move] = {"engine": _engine, "information per minute, p > 0.95": _plain}


@dataclass(frozen=True, slots=True)
class Worked:
    """One small job: rows and checks, the least minutes, and the minutes of each policy."""

    family: str
    rows: int
    checks: int
    least: JobMinutes
    policies: dict[str, JobMinutes]


def small_table(bench: Bench, rng: np.random.Generator) -> Table | None:
    """Return the table of a small job of a circuit; None where its faults need no search."""
    table, weights = bench.table, np.exp(bench.table.log_weights)
    looks = [check for check in bench.plant.complaint_checks()
             if bench.circuit.should[check.state].get(check.at) not in (None, "off")]
    look = looks[int(rng.integers(len(looks)))]
    levels = table.model(look).levels
    assert levels is not None
    works = (weights @ levels.swapaxes(0, 1))[:, look.levels.index(bench.circuit.should[
        look.state][look.at])]
    rows = _drawn(table, np.flatnonzero(works[1:-1] < _FAILS) + 1, rng)
    columns = [n for n, check in enumerate(table.checks) if check.offer and check.risk < 2
               and (check.state == look.state or check.setup == "isolated")]
    steps = {n: _steps(steps_of(table.models[n], weights), rows) for n in columns}
    chosen = _picked(table, rows, steps)
    built = build_table(_plant(table, rows, {n: steps[n] for n in chosen}), _SETTINGS)
    return built if len(built.classes) > 3 else None


def _drawn(table: Table, rows: Steps, rng: np.random.Generator) -> Steps:
    """Return the rows of at most ten repairs, drawn by their priors."""
    shares = np.bincount(table.class_of[rows], np.exp(table.log_prior[rows]))
    some = np.flatnonzero(shares)
    count = min(_REPAIRS, len(some))
    kept = rng.choice(some, count, replace=False, p=shares[some] / shares.sum())
    found: Steps = rows[np.isin(table.class_of[rows], kept)]
    return found


def _steps(steps: Steps, rows: Steps) -> Steps:
    """Return the steps of the healthy row and of the rows, numbered without gaps."""
    found: Steps = np.unique(steps[np.concatenate([[0], rows])], return_inverse=True)[1]
    return found


def _picked(table: Table, rows: Steps, steps: dict[int, Steps]) -> list[int]:
    """Return nine checks, each the one that parts the repairs most beside those before it."""
    shares = np.exp(table.log_prior[rows])
    classes = table.class_of[rows]
    known, chosen = np.zeros(len(rows), dtype=np.int64), list[int]()
    for _ in range(_CHECKS):
        told = {n: _told(known * 100 + one[1:], classes, shares)
                for n, one in steps.items() if n not in chosen and one[1:].max() > 0}
        if not told:
            break
        best = max(told, key=lambda n: (told[n], -n))
        chosen.append(best)
        known = np.unique(known * 100 + steps[best][1:], return_inverse=True)[1]
    return chosen


def _told(groups: Steps, classes: Steps, shares: NDArray[np.float64]) -> float:
    """Return the information of a grouping about the classes [bit]."""
    pairs = np.unique(groups * 10_000 + classes, return_inverse=True)[1]
    both = np.unique(groups, return_inverse=True)[1]
    return split_bits(both, shares) - split_bits(pairs, shares)


def _plant(table: Table, rows: Steps, steps: dict[int, Steps]) -> MatrixPlant:
    """Return a plant of certain outcomes: rows that agree are one, of the likeliest repair."""
    merged: dict[tuple[int, ...], dict[str, Hypothesis]] = {}
    for place, row in enumerate(rows.tolist(), start=1):
        group = merged.setdefault(tuple(int(one[place]) for one in steps.values()), {})
        share, fault = float(np.exp(table.log_prior[row])), table.rows[row]
        known = group.get(fault.repair)
        group[fault.repair] = replace(known, prior=known.prior + share) if known else Hypothesis(
            f"{fault.fault_id} {place}", fault.element, fault.kind, fault.repair, share)
    faults = {kind: max(group.values(), key=lambda one: one.prior)
              for kind, group in merged.items()}
    shown = [tuple(int(one[0]) for one in steps.values()), *faults]
    checks, chances = [], {}
    for place, (column, one) in enumerate(steps.items()):
        count = int(one.max()) + 1
        checks.append(replace(table.checks[column], unit="", quantity="test",
                              levels=tuple(f"step {n}" for n in range(count))))
        chances[place] = np.eye(count)[[row[place] for row in shown]][None]
    blank = np.full((1, len(shown), len(checks)), np.nan)
    return MatrixPlant(tuple(faults.values()), table.repairs, tuple(checks), blank, blank,
                       np.ones(1), chances, table.places, table.setups)


def worked(family: int, circuit: int, seed: int) -> Worked | None:
    """Return the small job of one circuit of a family."""
    bench = make_bench(FAMILIES[family], 1000 * seed + circuit)
    table = small_table(bench, np.random.default_rng([seed, family, circuit, 57]))
    if table is None:
        return None
    found = {name: minutes_of_policy(table, move) for name, move in POLICIES.items()}
    return Worked(FAMILIES[family].name, len(table.rows) - 2, len(table.checks),
                  least_minutes(table), found)


def _ratio(jobs: Sequence[Worked], name: str, of: Callable[[JobMinutes], float]) -> str:
    """Return a policy's mean over the least, with its bootstrap interval over jobs."""
    mine = np.array([of(one.policies[name]) for one in jobs])
    least = np.array([of(one.least) for one in jobs])
    which = np.random.default_rng(2).integers(0, len(jobs), (_DRAWS, len(jobs)))
    low, high = np.percentile(mine[which].mean(axis=1) / least[which].mean(axis=1), [2.5, 97.5])
    return f"{mine.mean() / least.mean():.4f} ({low:.4f}-{high:.4f})"


def table_lines(jobs: Sequence[Worked]) -> list[str]:
    """Return the Markdown table: minutes of the optimum and of each policy over it."""
    lines = [f"{len(jobs)} small jobs of {len({one.family for one in jobs})} families, "
             f"{np.mean([one.rows for one in jobs]):.0f} rows and "
             f"{np.mean([one.checks for one in jobs]):.1f} checks on average.", "",
             "| policy | checks min | repairs and comebacks min | total min | total over the least "
             "(95 % interval) | checks over the least (95 % interval) | worst job, total |",
             "|---|---|---|---|---|---|---|"]
    rows = [("dynamic programming", [one.least for one in jobs])]
    rows += [(name, [one.policies[name] for one in jobs]) for name in POLICIES]
    for name, minutes in rows:
        least = name not in POLICIES
        worst = max(one.total / job.least.total for one, job in zip(minutes, jobs, strict=True))
        lines.append(
            f"| {name} | {np.mean([one.checks for one in minutes]):.2f} | "
            f"{np.mean([one.repairs for one in minutes]):.2f} | "
            f"{np.mean([one.total for one in minutes]):.2f} | "
            f"{'1' if least else _ratio(jobs, name, lambda one: one.total)} | "
            f"{'1' if least else _ratio(jobs, name, lambda one: one.checks)} | {worst:.2f} |")
    return lines


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--circuits", type=int, default=10, help="of each family")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    parser.add_argument("--write", action="store_true", help="put the table into README.md")
    given = parser.parse_args()
    tasks = [(family, circuit) for circuit in range(given.circuits)
             for family in range(len(FAMILIES))]
    with ProcessPoolExecutor(given.jobs) as pool:
        waiting = [pool.submit(worked, *task, given.seed) for task in tasks]
        jobs = [one for job in waiting if (one := job.result()) is not None]
    text = "\n".join(table_lines(jobs))
    print(text)
    if given.write:
        before, rest = _README.read_text("utf-8").split(_BEGIN)
        _README.write_text(f"{before}{_BEGIN}\n{text}\n{_END}{rest.split(_END)[1]}", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
