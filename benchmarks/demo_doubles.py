"""Two faults at once on the demo circuit, worked to the end: are both cured, with how many parts?

Run: `python benchmarks/demo_doubles.py [--cases N] [--singles-only]`. Writes nothing. Each
fault of a pair alone makes a function of `should` fail. A repair is proved as the engine asks; a
failed proof goes back into the job, a person agreeing to the next part. `--singles-only` leaves out
rows of several faults and works on with the readings since the last repair alone.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from demo_faults import DEMO, Case, Vehicle, make_cases

from loomwright.circuit import CircuitPlant, read_circuit
from loomwright.circuit.batch import Variant
from loomwright.diagnosis import Evidence, Table, build_table, diagnose, judge_proof, proof_checks
from loomwright.diagnosis.choose import minutes_for, position_after
from loomwright.plant import Check

MOST_READINGS = 90
MOST_REPAIRS = 5
PROOF_ROUNDS = 4


@dataclass
class Job:
    """One vehicle while it is worked on: its variants stand one after the other from `first`."""

    truth: tuple[str, str]
    first: int
    rng: np.random.Generator
    readings: list[Evidence] = field(default_factory=list)
    done: list[str] = field(default_factory=list)
    rejected: list[str] = field(default_factory=list)
    minutes: float = 0.0
    proved: bool = False

    @property
    def position(self) -> int:
        """Return the variant it is now: both faults, only the second, only the first, none."""
        return self.first + sum(2**n for n, name in enumerate(self.truth) if name in self.done)

    @property
    def wrong(self) -> int:
        """Return how many repairs mended nothing."""
        return sum(name not in self.truth for name in self.done)


def take(job: Job, table: Table, vehicle: Vehicle, check: Check, wrong: float) -> Evidence:
    """Take a reading of the vehicle as it is and pay its minutes."""
    job.minutes += minutes_for(table, check, position_after(job.readings))
    value = vehicle.read(job.position, check, job.rng, wrong)
    item = Evidence(check, value, tuple(job.done))
    job.readings.append(item)
    return item


def prove(job: Job, table: Table, vehicle: Vehicle, wrong: float) -> bool | None:
    """Take the proof of the last repair; None when it stays open."""
    repair = job.done[-1]
    before = [one for one in job.readings if len(one.after) == len(job.done) - 1]
    after: list[Evidence] = []
    wanted = proof_checks(table, repair, before)
    proof = None
    for _ in range(PROOF_ROUNDS):
        after += [take(job, table, vehicle, check, wrong) for check in wanted]
        proof = judge_proof(table, repair, after, evidence_before=before)
        wanted = proof.missing
        if proof.holds or proof.failed or not wanted:
            break
    return True if proof and proof.holds else False if proof and proof.failed else None


def work(job: Job, table: Table, vehicle: Vehicle, singles: bool, wrong: float) -> None:
    """Work one job to its end."""
    while len(job.readings) < MOST_READINGS and len(job.done) < MOST_REPAIRS:
        evidence = job.readings
        if singles:
            evidence = [Evidence(one.check, one.value) for one in evidence
                        if one.after == tuple(job.done)]
        found = diagnose(table, evidence, rejected=job.rejected, next_count=1,
                         allow_second_part=bool(job.rejected))
        if found.verdict.status == "repair":
            job.done.append(found.verdict.repair)
            job.minutes += table.repairs[found.verdict.repair].minutes
            held = prove(job, table, vehicle, wrong)
            job.proved = held is True
            if held is not False:
                return
            job.rejected.append(job.done[-1])
        elif found.verdict.status == "look further" and found.next_checks:
            take(job, table, vehicle, found.next_checks[0].check, wrong)
        elif found.verdict.status == "unexplained" and found.next_checks:
            before = len(job.readings)
            take(job, table, vehicle, found.next_checks[0].check, wrong)
            if before > MOST_READINGS // 2:
                return
        else:
            return


def make_jobs(plant: CircuitPlant, count: int, seed: int) -> tuple[list[Job], Vehicle]:
    """Draw pairs of faults that each make a function fail, and solve what they may become."""
    circuit, start = plant.circuit, plant.complaint_checks()
    cases = make_cases(circuit, seed)
    alone = Vehicle(circuit, cases)
    healthy = Vehicle(circuit, [Case(0, cases[0].fault, Variant(()))])
    fails = np.zeros(len(cases), dtype=bool)
    for check in start:
        fails |= alone.exact(check) != healthy.exact(check)[0]
    rng = np.random.default_rng([seed, 77])
    shown = [case for case in cases if fails[case.number]]
    variants, jobs = [], []
    while len(jobs) < count:
        one, two = (shown[int(n)] for n in rng.choice(len(shown), 2, replace=False))
        if one.fault.repair == two.fault.repair or one.fault.element == two.fault.element:
            continue
        emf, spread = one.variant.emf_factor, one.variant.spread_seed
        for faults in ((one.fault, two.fault), (two.fault,), (one.fault,), ()):
            variants.append(Case(len(variants), one.fault, Variant(faults, emf, spread)))
        truth = (one.fault.repair, two.fault.repair)
        jobs.append(Job(truth, 4 * len(jobs), np.random.default_rng([seed, len(jobs), 8])))
    return jobs, Vehicle(circuit, variants)


def line(name: str, jobs: Sequence[Job]) -> str:
    """Return one row of the table."""
    cured = np.mean([all(name in job.done for name in job.truth) for job in jobs])
    false = np.mean([job.proved and not all(n in job.done for n in job.truth) for job in jobs])
    wrong = np.mean([job.wrong for job in jobs])
    minutes = np.mean([job.minutes for job in jobs])
    return (f"{name:<24}{len(jobs):>6}{100 * cured:>14.1f}{100 * false:>16.1f}{wrong:>13.2f}"
            f"{minutes:>9.1f}")


def main() -> None:
    """Work the jobs and print the row."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--wrong", type=float, default=0.0, help="share of wrong readings")
    parser.add_argument("--singles-only", action="store_true")
    parser.add_argument("--misses", action="store_true")
    given = parser.parse_args()
    plant = CircuitPlant(read_circuit(DEMO))
    if given.singles_only:
        plant.predicts_several = False
    table = build_table(plant)
    jobs, vehicle = make_jobs(plant, given.cases, given.seed)
    slowest = 0.0
    for job in jobs:
        for check in plant.complaint_checks():
            take(job, table, vehicle, check, 0.0)
        job.minutes = 0.0
        began = time.perf_counter()
        work(job, table, vehicle, given.singles_only, given.wrong)
        slowest = max(slowest, time.perf_counter() - began)
        if given.misses and (job.wrong or set(job.truth) - set(job.done)):
            print("  ", job.truth, job.done, len(job.readings), job.proved, flush=True)
    print(f"{'':<24}{'cases':>6}{'both cured %':>14}{'falsely proved %':>16}{'wrong parts':>13}"
          f"{'minutes':>9}")
    print(line("singles only" if given.singles_only else "several faults", jobs))
    print(f"slowest job {slowest:.1f} s")


if __name__ == "__main__":
    sys.exit(main())
