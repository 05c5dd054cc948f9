"""Run the evaluation: `python -m benchmarks.diagnosis [--cases N] [--strata NAME;NAME] ...`."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

from benchmarks.diagnosis import results
from benchmarks.diagnosis.cases import STRATA, Bench, make_bench, make_case
from benchmarks.diagnosis.families import FAMILIES
from benchmarks.diagnosis.figures import share_right
from benchmarks.diagnosis.job import BASELINES, ENGINE, Outcome, work
from benchmarks.diagnosis.plan import COMPARED, Task, fingerprint, planned
from benchmarks.diagnosis.report import page, write


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=24, help="cases of each family (full: 300)")
    parser.add_argument("--compared", type=int, default=10**6,
                        help="cases of each family that the rules of thumb work too")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=1e9, help="stop after this long")
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    parser.add_argument("--strata", default="", help="parts of strata's names, ';' between")
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "evaluation",
                        help="folder of results: a run of the same code goes on from there")
    parser.add_argument("--misses", action="store_true", help="tell every job that went wrong")
    parser.add_argument("--write", action="store_true", help="put the tables into README.md")
    return parser.parse_args()


def _run(given: argparse.Namespace) -> list[Outcome]:
    """Work what is not in the file yet, circuit by circuit over all families, and return all."""
    path = given.work / f"{fingerprint()}-{given.seed}.jsonl"
    known = results.load(path)
    tasks = list(planned(given.cases, given.seed, given.strata))
    names = {(FAMILIES[task.family].name, *case) for task in tasks for case in task.cases}
    left = [(task, _policies(given, task, known)) for task in tasks]
    left = [(task, wanted) for task, wanted in left if wanted]
    print(f"{path}: {len(known)} jobs known, {len(left)} circuits to go", file=sys.stderr)
    began = time.monotonic()
    with ProcessPoolExecutor(given.jobs) as pool:
        waiting = [pool.submit(_worked, task, wanted) for task, wanted in left]
        for count, done in enumerate(as_completed(waiting), start=1):
            outcomes = done.result()
            results.append(path, outcomes)
            known.update({results.key_of(one): one for one in outcomes})
            if time.monotonic() - began > given.seconds:
                print(f"stopped after {count} of {len(left)} circuits", file=sys.stderr)
                pool.shutdown(cancel_futures=True)
                break
    return [one for key, one in sorted(known.items()) if key[:3] in names]


def _policies(
    given: argparse.Namespace, task: Task, known: dict[results.Key, Outcome]
) -> list[tuple[str, int, str]]:
    """Return (stratum, number, policy) not worked yet."""
    family = FAMILIES[task.family].name
    wanted = [(name, number, policy) for name, number in task.cases
              for policy in (ENGINE, *(BASELINES if name == COMPARED else ()))
              if policy == ENGINE or number < given.compared]
    return [one for one in wanted if (family, *one) not in known]


def _worked(task: Task, wanted: Sequence[tuple[str, int, str]]) -> list[Outcome]:
    """Return the jobs of one circuit."""
    bench = make_bench(FAMILIES[task.family], 1000 * task.seed + task.circuit)
    return [one for item in wanted if (one := _job(bench, task.seed, item)) is not None]


def _job(bench: Bench, seed: int, item: tuple[str, int, str]) -> Outcome | None:
    name, number, policy = item
    stratum = next(one for one in STRATA if one.name == name)
    case = make_case(bench, stratum, number, seed)
    return None if case is None else work(case, policy, seed)


def _miss(one: Outcome) -> str:
    facts = one.case
    lines = [f"\n{facts.stratum.name} | {facts.family} {facts.number} | truth "
             f"{', '.join(facts.truth) or 'healthy'} | {one.status} '{one.first}' at "
             f"{one.confidence:.3f}, truth {one.true_share:.4f}, {one.find_min:.0f} min"]
    return "\n".join([*lines, *(f"    {line}" for line in one.log)])


def main() -> int:
    """Print the figures of every stratum as Markdown."""
    given = _arguments()
    began = time.monotonic()
    outcomes = _run(given)
    if given.misses:
        missed = [one for one in outcomes if one.policy == ENGINE and
                  (not share_right(one) or one.wrong_parts or not one.cured)]
        print("\n".join(map(_miss, missed)))
    text = page(outcomes)
    print(text)
    if given.write:
        write(text)
    print(f"{len(outcomes)} jobs, {time.monotonic() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
