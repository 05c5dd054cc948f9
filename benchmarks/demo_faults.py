"""Every single fault of the demo circuit, inserted one at a time and found by the engine.

Run: `python benchmarks/demo_faults.py [--every N] [--seed S] [--baselines] [--misses]`. Writes
nothing. The truth is drawn apart from the engine's table: a severity inside the fault's range,
tolerances and battery volts from another stream, a meter with noise, and wrong readings in one
stratum. Both share the circuit solver, so the figures are optimistic for a real vehicle.

The wanted answer follows the design. Where a function fails it is the inserted fault's repair.
Where all functions work and no voltage on offer is off by more than the margin of a loaded drop
(3 % of the system's volts), nobody has a complaint, so "no fault found" is right as well. Where all
work but a drop is over the margin, only the repair is right.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from loomwright.circuit import CircuitPlant, faults_of, read_circuit
from loomwright.circuit.batch import Variant
from loomwright.circuit.model import Circuit, Fault
from loomwright.circuit.plant.hypotheses import CONTINUUM, severity_range, with_ohms
from loomwright.circuit.plant.instruments import FLOATING_SPREAD_V, LEAD_SPREAD_OHM, OPEN_LINE_OHM
from loomwright.circuit.plant.solutions import Solutions
from loomwright.circuit.plant.working import against_ohms
from loomwright.diagnosis import Evidence, Settings, Table, build_table, diagnose
from loomwright.diagnosis.policies import POLICIES, Limits, run_episode
from loomwright.plant import Check

DEMO = Path(__file__).parents[1] / "src" / "loomwright" / "demo" / "tailgate_lock.yaml"
TRUTH_STREAM = 1_000_000  # tolerance seeds of the truth; the table's are below 100
MOST_READINGS = 60
INVISIBLE_SIGMAS = 3.0
MARGIN_SHARE = 0.03  # of the system's volts, as in diagnosis/noticed.py: common practice
NO_FAULT_FOUND = "no fault found"


@dataclass(frozen=True)
class Case:
    """One vehicle with one fault."""

    number: int
    fault: Fault
    variant: Variant


@dataclass(frozen=True)
class Run:
    """One way to run the cases: whose order of checks, the share of wrong readings, the seed."""

    name: str
    policy: str
    wrong: float
    seed: int
    nobody_complains: bool = False  # "no fault found" is right too


@dataclass
class Result:
    """How one case ended; `left` when the vehicle was given back as healthy."""

    case: Case
    status: str
    minutes: float
    readings: int
    right: bool
    log: list[str] = field(default_factory=list)

    @property
    def left(self) -> bool:
        """Return whether nothing was repaired because nothing seemed wrong."""
        return self.status == NO_FAULT_FOUND


class Vehicle:
    """The truth: all cases solved together, read one reading at a time with instrument noise."""

    def __init__(self, circuit: Circuit, cases: Sequence[Case]) -> None:
        self.solutions = Solutions(circuit, [case.variant for case in cases])
        self._known: dict[Check, np.ndarray] = {}

    def exact(self, check: Check) -> np.ndarray:
        """Return the reading of every case without instrument noise."""
        if check not in self._known:
            self._known[check] = self.solutions.raw(check)
        return self._known[check]

    def read(self, position: int, check: Check, rng: np.random.Generator, wrong: float
             ) -> float | str:
        """Return what the instrument shows, wrong with the given share."""
        value = float(self.exact(check)[position])
        if rng.random() < wrong:
            return self._wrong(check, value, rng)
        if check.levels:
            return check.levels[int(value)]
        if check.quantity == "resistance":
            if value > 0.5 * OPEN_LINE_OHM:
                return OPEN_LINE_OHM
            value += rng.uniform(0.0, 2.0 * LEAD_SPREAD_OHM)
        if np.isnan(value):
            value = rng.normal(0.0, FLOATING_SPREAD_V)
        value *= 1.0 + rng.normal(0.0, check.accuracy)
        return round(value / check.resolution) * check.resolution

    def _wrong(self, check: Check, value: float, rng: np.random.Generator) -> float | str:
        if check.levels:
            return str(rng.choice([level for level in check.levels
                                   if level != check.levels[int(value)]]))
        if check.quantity == "resistance":
            return float(rng.choice([0.1, OPEN_LINE_OHM, 10.0 ** rng.uniform(0.0, 6.0)]))
        value = 0.0 if np.isnan(value) else value
        sort = rng.random()
        return 0.0 if sort < 0.3 else -value if sort < 0.5 else float(rng.uniform(-2.0, 28.0))


def make_cases(circuit: Circuit, seed: int) -> list[Case]:
    """Draw a severity, tolerances and battery volts for every single fault."""
    rng = np.random.default_rng(TRUTH_STREAM + seed)
    against = against_ohms(circuit)
    cases = []
    for number, fault in enumerate(faults_of(circuit)):
        if fault.kind == CONTINUUM:
            low, high = severity_range(against.get(fault.element, np.inf))
            fault = with_ohms(fault, float(np.exp(rng.uniform(np.log(low), np.log(high)))))
        emf = float(np.clip(rng.normal(1.0, 0.02), 0.95, 1.04))
        spread_seed = TRUTH_STREAM + 1000 * seed + number
        cases.append(Case(number, fault, Variant((fault,), emf, spread_seed)))
    return cases


def invisible(plant: CircuitPlant, table: Table, vehicle: Vehicle, count: int) -> np.ndarray:
    """Return the cases that no reading on offer tells from a healthy vehicle of some battery."""
    seen = np.zeros(count, dtype=bool)
    for check, model in zip(table.checks, table.models, strict=True):
        exact = vehicle.exact(check)
        if model.levels is not None:
            healthy = model.levels[:, 0].mean(axis=0).argmax()
            seen |= exact != healthy
            continue
        value = np.where(np.isnan(exact), 0.0, exact)
        if check.quantity == "resistance":
            value = np.log10(value + 0.1 + 0.5)
        off = np.abs(value[None, :] - model.mean[:, :1]) / model.sd[:, :1]
        seen |= off.min(axis=0) > INVISIBLE_SIGMAS
    return ~seen


def over_margin(circuit: Circuit, table: Table, vehicle: Vehicle, cases: Sequence[Case]
                ) -> np.ndarray:
    """Return the cases in which a voltage on offer is off by more than the margin of a drop.

    Against the same vehicle without its fault: same battery, same tolerances.
    """
    whole = Solutions(circuit, [replace(case.variant, faults=()) for case in cases])
    found = np.zeros(len(cases), dtype=bool)
    for check in table.checks:
        if check.unit == "V" and not check.levels and check.offer:
            off = np.nan_to_num(vehicle.exact(check)) - np.nan_to_num(whole.raw(check))
            found |= np.abs(off) > MARGIN_SHARE * circuit.system_v
    return found


def run_case(table: Table, vehicle: Vehicle, start: Sequence[Check], case: Case, run: Run
             ) -> Result:
    """Take readings until the engine gives a verdict; the complaint's readings come first."""
    rng = np.random.default_rng([run.seed, case.number, 7])
    evidence = tuple(Evidence(check, vehicle.read(case.number, check, rng, 0.0))
                     for check in start)
    log: list[str] = []

    def oracle(check: Check) -> float | str:
        value = vehicle.read(case.number, check, rng, run.wrong)
        log.append(f"{check.id} = {value}")
        return value

    episode = run_episode(table, POLICIES[run.policy], oracle, rng, Limits(MOST_READINGS),
                          evidence=evidence, truth=case.fault.repair)
    found = diagnose(table, episode.readings, next_count=1)
    log.append(f"{episode.status}: {episode.repair} "
               + ", ".join(f"{s.id} {s.probability:.3f}" for s in found.suspects[:4]))
    work = table.repairs[episode.repair].minutes if episode.repair in table.repairs else 0.0
    right = episode.status == "repair" and bool(episode.right)
    right |= run.nobody_complains and episode.status == NO_FAULT_FOUND
    return Result(case, episode.status, episode.minutes - work,
                  len(episode.readings) - len(evidence), right, log)


def line(name: str, results: Sequence[Result]) -> str:
    """Return one row of the table."""
    count = max(len(results), 1)
    right = sum(one.right for one in results)
    wrong = sum(one.status == "repair" and not one.right for one in results)
    left = sum(one.left for one in results)
    open_end = sum(not one.right and not one.left for one in results) - wrong
    minutes = np.array([one.minutes for one in results] or [0.0])
    readings = np.array([one.readings for one in results] or [0.0])
    return (f"{name:<54}{len(results):>6}{100 * right / count:>9.1f}{100 * wrong / count:>9.1f}"
            f"{left:>9}{open_end:>8}{minutes.mean():>9.1f}{np.percentile(minutes, 95):>8.1f}"
            f"{readings.mean():>9.1f}")


QUIET = "all work, drops within the margin"
HEADER = (f"{'':<54}{'cases':>6}{'right %':>9}{'wrong %':>9}{'no fault':>9}{'no part':>8}"
          f"{'minutes':>9}{'p95':>8}{'readings':>9}")


def main() -> None:
    """Run the strata and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="only every Nth fault")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--baselines", action="store_true", help="other orders of checks too")
    parser.add_argument("--misses", action="store_true", help="show each wrong case's readings")
    parser.add_argument("--noisy", action="store_true", help="3 %% wrong readings too")
    given = parser.parse_args()
    circuit = read_circuit(DEMO)
    began = time.perf_counter()
    plant = CircuitPlant(circuit)
    table = build_table(plant, Settings())
    print(f"table: {len(table.rows)} rows x {len(table.checks)} checks, "
          f"{time.perf_counter() - began:.2f} s")
    cases = make_cases(circuit, given.seed)
    vehicle = Vehicle(circuit, cases)
    hidden = invisible(plant, table, vehicle, len(cases))
    start = plant.complaint_checks()
    healthy = {check: table.model(check).levels[:, 0].mean(axis=0).argmax() for check in start}
    complains = np.zeros(len(cases), dtype=bool)
    for check in start:
        complains |= vehicle.exact(check) != healthy[check]
    chosen = [case for case in cases if case.number % given.every == 0]
    print(f"{len(cases)} faults, {hidden.sum()} make no difference that any reading shows:")
    print("   ", ", ".join(case.fault.id for case in cases if hidden[case.number]) or "none")
    shown = [case for case in chosen if not hidden[case.number]]
    marked = over_margin(circuit, table, vehicle, cases)
    strata = {
        "a function fails": [case for case in shown if complains[case.number]],
        QUIET: [case for case in shown if not complains[case.number] and not marked[case.number]],
        "all work, a drop over the margin": [
            case for case in shown if not complains[case.number] and marked[case.number]],
    }
    print(HEADER)
    own = "information per minute"
    runs = [Run("engine, clean", own, 0.0, given.seed)]
    if given.noisy:
        runs.append(Run("engine, 3 % wrong", own, 0.03, given.seed))
    if given.baselines:
        runs += [Run(f"{name}, clean", name, 0.0, given.seed)
                 for name in ("random", "half-split", "likelihood only")]
    for run in runs:
        for stratum, members in strata.items():
            run = replace(run, nobody_complains=stratum == QUIET)
            results = [run_case(table, vehicle, start, case, run) for case in members]
            print(line(f"{run.name}: {stratum}", results), flush=True)
            for one in results if given.misses else ():
                if not one.right:
                    print("  miss", one.case.fault.id, *one.log, sep="\n      ")


if __name__ == "__main__":
    sys.exit(main())
