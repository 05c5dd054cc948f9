"""How long the suspects take: an update in process, and the whole cold command.

Run: `python benchmarks/latency.py [--updates N] [--starts N]`. Writes nothing but a readings file
in a temporary folder. `clock` is what a person waits, and counts on an idle machine only; `work` is
the processor's time, which a busy machine disturbs less.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from loomwright.circuit import CircuitPlant, read_circuit
from loomwright.diagnosis import Evidence, Table, build_table, diagnose
from loomwright.plant import Check

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "src" / "loomwright" / "demo" / "tailgate_lock.yaml"
READINGS = """\
- {state: locking, quantity: running, at: Y1, value: "off"}
- {state: locking, quantity: input, at: ECU.shut, value: "off", instrument: controller}
- {state: locking, quantity: voltage, at: S4.2, value: 24.9 V}
- {state: locking, quantity: voltage, at: ECU.11, value: 0 V}
"""
UPDATE_GOAL_MS, START_GOAL_MS, TABLE_GOAL_MS = 50.0, 1500.0, 600.0


Times = tuple[float, float]  # milliseconds by the clock, of processor work


def processor_s() -> float:
    """Return seconds of processor work of this process and of those it waited for."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def timed(work: Callable[[], object]) -> Times:
    """Return what some work takes."""
    began, used = time.perf_counter(), processor_s()
    work()
    return 1000.0 * (time.perf_counter() - began), 1000.0 * (processor_s() - used)


def updates(table: Table, count: int) -> list[Times]:
    """Return times of updates along simulated jobs: each answers the check proposed."""
    rng = np.random.default_rng(5)
    plant = table.plant
    assert isinstance(plant, CircuitPlant)
    faults = plant.faults()
    times: list[Times] = []
    while len(times) < count:
        row = 1 + int(rng.integers(len(faults)))
        evidence: tuple[Evidence, ...] = ()
        for check in plant.complaint_checks():
            evidence += (Evidence(check, likeliest(table, check, row)),)
        for _ in range(8):
            began, used = time.perf_counter(), time.process_time()
            found = diagnose(table, evidence)
            times.append((1000.0 * (time.perf_counter() - began),
                          1000.0 * (time.process_time() - used)))
            if found.verdict.status != "look further" or not found.next_checks:
                break
            check = found.next_checks[0].check
            evidence += (Evidence(check, likeliest(table, check, row)),)
    return times[:count]


def likeliest(table: Table, check: Check, row: int) -> float | str:
    """Return what a row most likely reads at a check."""
    model = table.model(check)
    middle = model.raw.shape[0] // 2
    if model.levels is not None:
        return check.levels[int(model.levels[middle, row].argmax())]
    return float(model.raw[middle, row])


def cold_starts(count: int, kept: bool) -> list[Times]:
    """Return times of `loomwright suspects`, interpreter start included.

    `kept`: with the predictions that an earlier start kept, or with none.
    """
    with tempfile.TemporaryDirectory() as folder:
        readings = Path(folder) / "readings.yaml"
        readings.write_text(READINGS, encoding="utf-8")
        command = [sys.executable, "-m", "loomwright", "suspects", str(DEMO),
                   "--readings", str(readings), "--json", *([] if kept else ["--no-cache"])]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"),
                       "XDG_CACHE_HOME": str(Path(folder) / "cache")}
        subprocess.run(command, env=environment, check=True, capture_output=True)
        return [timed(lambda: subprocess.run(command, env=environment, check=True,
                                             capture_output=True)) for _ in range(count)]


def row(name: str, times: list[Times], goal_ms: float) -> str:
    """Return one row of the table."""
    clock50, clock95 = np.percentile([clock for clock, _ in times], [50, 95])
    work50, work95 = np.percentile([work for _, work in times], [50, 95])
    return (f"{name:<36}{len(times):>6}{clock50:>10.0f}{clock95:>10.0f}{work50:>10.0f}"
            f"{work95:>10.0f}{goal_ms:>10.0f}")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--updates", type=int, default=300)
    parser.add_argument("--starts", type=int, default=10)
    given = parser.parse_args()
    circuit = read_circuit(DEMO)
    tables: list[Table] = []
    builds = [timed(lambda: tables.append(build_table(CircuitPlant(circuit)))) for _ in range(5)]
    table = tables[-1]
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(f"{platform.machine()}, {os.cpu_count()} processors, Python "
          f"{platform.python_version()}, numpy {np.__version__}, load {load:.1f}")
    print(f"{len(table.rows)} rows x {len(table.checks)} checks")
    print(f"{'milliseconds':<36}{'times':>6}{'clock 50':>10}{'clock 95':>10}{'work 50':>10}"
          f"{'work 95':>10}{'goal':>10}")
    print(row("table built", builds, TABLE_GOAL_MS))
    print(row("suspects updated after a reading", updates(table, given.updates), UPDATE_GOAL_MS))
    for kept, name in ((False, "cold `suspects`, nothing kept"),
                       (True, "the same, predictions kept")):
        print(row(name, cold_starts(given.starts, kept), START_GOAL_MS))


if __name__ == "__main__":
    main()
