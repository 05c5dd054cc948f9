"""Cost of one variant in one state beside ngspice, in the same run.

Run: `python benchmarks/batch.py [--nodes 40 300 2000] [--full]`; needs numba, ngspice and its
shared library. Relays, rules and fuses stand as the healthy circuit has them, which is all that
ngspice can do; `--full` measures them following as well.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time

import numpy as np

from benchmarks.batch_circuits import harness, workload_faults
from benchmarks.batch_ngspice import Session, alterable, run_once, session_netlist
from loomwright.circuit.batch import solve_batch
from loomwright.circuit.exchange import node_names, spice_text
from loomwright.circuit.model import Circuit, Fault
from loomwright.circuit.sweep import Reading, sweep
from loomwright.circuit.values import Variant

STATE = "state 0"
SAMPLE = 60


def ours_us(circuit: Circuit, faults: list[Fault], frozen: bool, few: bool
            ) -> tuple[float, int, int]:
    """Return microseconds a solve of one sweep over all states, solves, and those done in full.

    `few` reads some twenty points and one wire rather than all.
    """
    variants = tuple(Variant((fault,)) for fault in faults)
    points = circuit.points()[::max(1, len(circuit.points()) // 20)] if few else ()
    wires = tuple(circuit.wires)[:1] if few else ()
    began, solves, full = time.perf_counter(), 0, 0
    for piece in sweep(circuit, variants, Reading(points, wires, frozen=frozen)):
        solves, full = solves + len(piece.variants), full + int(piece.in_full.sum())
    return 1e6 * (time.perf_counter() - began) / solves, solves, full


def off_v(circuit: Circuit, faults: list[Fault]) -> float:
    """Return the most that the sweep differs from the full solve where a point has a path."""
    variants = tuple(Variant((fault,)) for fault in faults)
    full = solve_batch(circuit, STATE, variants)
    found = np.empty(full.volts.shape)
    for piece in sweep(circuit, variants, Reading(states=(STATE,))):
        found[:, piece.variants] = piece.volts
    return float(np.abs(found - full.volts)[~full.floating].max())


def spice(circuit: Circuit, faults: list[Fault]) -> tuple[float, float, float]:
    """Return ngspice's microseconds, altered in process and a process each, and volts apart."""
    netlist = session_netlist(circuit, STATE, faults)
    session, changes = Session(netlist), alterable(netlist, faults)
    altered = [session.solve(change, ())[0] for change in changes.values()]
    whole = [run_once(spice_text(circuit, STATE)) for _ in range(3)]
    healthy = solve_batch(circuit, STATE, (Variant(),))
    nodes, volts = node_names(circuit), whole[0][1]
    apart = max(abs(volts.get(nodes[point], 0.0) - float(healthy.volts[row, 0]))
                for point, row in healthy.points.items() if not healthy.floating[row, 0])
    return (1e6 * statistics.median(altered),
            1e6 * statistics.median(spent for spent, _ in whole), apart)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nodes", type=int, nargs="+", default=[40, 300, 2000])
    parser.add_argument("--full", action="store_true")
    given = parser.parse_args()
    warm = harness(40, False)
    began = time.perf_counter()
    list(sweep(warm, (Variant(),), Reading(states=(STATE,))))
    print(f"first solve {time.perf_counter() - began:.2f} s")
    print(f"{'circuit':<18}{'solves':>8}{'in full':>8}{'us all':>9}{'us 20':>9}{'altered':>9}"
          f"{'process':>9}{'times':>7}{'times':>7}"
          f"{'V off full':>12}{'V off spice':>12}")
    for nodes in given.nodes:
        for linear in (False, True):
            circuit = harness(nodes, linear)
            faults = list(workload_faults(circuit))
            some = random.Random(1).sample(faults, min(SAMPLE, len(faults)))
            altered, process, apart = spice(circuit, some)
            for frozen in (True, False) if given.full else (True,):
                each, solves, full = ours_us(circuit, faults, frozen, False)
                few, _, _ = ours_us(circuit, faults, frozen, True)
                name = f"{nodes} {'linear' if linear else 'curved'}{'' if frozen else ' follows'}"
                print(f"{name:<18}{solves:>8}{full:>8}{each:>9.1f}{few:>9.1f}{altered:>9.0f}"
                      f"{process:>9.0f}{altered / each:>7.0f}{altered / few:>7.0f}"
                      f"{off_v(circuit, some):>12.1e}{apart:>12.1e}", flush=True)


if __name__ == "__main__":
    main()
