"""What `batch.py` measures of sweeps: time, agreement, growth, memory, the first of a session."""

from __future__ import annotations

import math
import random
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.batch_circuits import harness, workload_faults
from benchmarks.batch_ngspice import Session, alterable, loosened, run_once, session_netlist
from loomwright.circuit.batch import conditions_of, operating, solve_batch
from loomwright.circuit.exchange import node_names, spice_text
from loomwright.circuit.instruments import reach
from loomwright.circuit.model import Circuit, Fault
from loomwright.circuit.network import network_of
from loomwright.circuit.operate import operate
from loomwright.circuit.rules import logic_of
from loomwright.circuit.sweep import Reading, Sweep, sweep
from loomwright.circuit.values import Variant, values_of, widened

__all__ = ["Agreement", "Cost", "Spice", "agreement", "cost_of", "first_s", "growth_of",
           "memory_mb", "some_of", "spice_of"]

STATE = "state 0"
_SAMPLE, _FEW = 60, 24  # faulty circuits compared; in a large circuit each takes a second
_LARGE = 1000  # points
_REPEATS = 3
_GROWTH_FAULTS = 1600
_FOLLOWING, _FOLLOWING_STATES = 400, 2  # logic follows: what is solved in full takes long
_FIRST = """
import time
began = time.perf_counter()
from benchmarks.batch_circuits import harness
from loomwright.circuit.values import Variant
made = time.perf_counter()
circuit = harness(40, False)
loaded = time.perf_counter()
from loomwright.circuit.sweep import Reading, sweep
next(iter(sweep(circuit, (Variant(),), Reading(states=("state 0",)))))
print(time.perf_counter() - loaded)
"""


@dataclass(frozen=True)
class Cost:
    """Microseconds a solve: set-up included, made ready before, reading few, on two threads."""

    solves: int
    in_full: int
    first_us: float
    again_us: float
    few_us: float
    two_us: float  # wall clock
    follows_us: float  # logic following, some of the faults, set-up included
    followed: int
    follows_in_full: int


@dataclass(frozen=True)
class Spice:
    """ngspice: processor microseconds a solve, tight and loose, and those of a whole process.

    `read_us` is loose with every node's volts asked of the library, from Python as ours is called.
    """

    tight_us: float
    loose_us: float
    read_us: float
    process_us: float


@dataclass(frozen=True)
class Agreement:
    """Volts that the sweep is off on faulty circuits where a point has a path."""

    faults: int
    full_v: float  # the full solve, logic standing still
    follows_v: float  # the full solve, logic following
    spice_v: float  # ngspice, logic standing still
    spice_beyond: int  # points further off than 0.1 % or 2 mV


def variants_of(faults: Sequence[Fault]) -> tuple[Variant, ...]:
    """Return one variant a fault."""
    return tuple(Variant((fault,)) for fault in faults)


def sampled(faults: Sequence[Fault], most: int) -> list[Fault]:
    """Return some faults, the same ones in every run."""
    return random.Random(1).sample(list(faults), min(most, len(faults)))


def some_of(circuit: Circuit, faults: Sequence[Fault]) -> list[Fault]:
    """Return the faults that are compared: fewer of a large circuit."""
    return sampled(faults, _FEW if len(circuit.points()) > _LARGE else _SAMPLE)


def _read(ready: Sweep, reading: Reading) -> tuple[float, float, int, int]:
    """Return processor seconds, seconds, solves and those done in full of one reading."""
    began, clock, solves, full = time.process_time(), time.perf_counter(), 0, 0
    for piece in ready.read(reading):
        solves, full = solves + len(piece.variants), full + int(piece.in_full.sum())
    return time.process_time() - began, time.perf_counter() - clock, solves, full


def cost_of(circuit: Circuit, faults: Sequence[Fault]) -> Cost:
    """Return what a sweep costs; processor time of one thread, but for that of two."""
    variants = variants_of(faults)
    points = circuit.points()[::max(1, len(circuit.points()) // 20)]
    every = Reading(frozen=True, threads=1)
    few = Reading(points, tuple(circuit.wires)[:1], frozen=True, threads=1)
    began = time.process_time()
    ready = Sweep(circuit, variants)
    made_s = time.process_time() - began
    first, _, solves, full = _read(ready, every)
    again = [_read(ready, every)[0] for _ in range(_REPEATS)]
    little = [_read(ready, few)[0] for _ in range(_REPEATS)]
    two = [_read(ready, Reading(frozen=True))[1] for _ in range(_REPEATS)]
    some = Sweep(circuit, variants_of(sampled(faults, _FOLLOWING)))
    follows, _, followed, follows_full = _read(
        some, Reading(states=tuple(circuit.states)[:_FOLLOWING_STATES], threads=1))
    scale = 1e6 / solves
    return Cost(solves, full, scale * (made_s + first), scale * statistics.median(again),
                scale * statistics.median(little), scale * statistics.median(two),
                1e6 * follows / followed, followed, follows_full)


def spice_of(circuit: Circuit, faults: Sequence[Fault]) -> Spice:
    """Return what one of these faults costs ngspice, altered in process and as a process."""
    netlist = session_netlist(circuit, STATE, faults)
    changes = alterable(netlist, faults).values()
    nodes = sorted({name for name in node_names(circuit).values() if name != "0"})
    spent = []
    for text, read in ((netlist, ()), (loosened(netlist), ()), (loosened(netlist), nodes)):
        session = Session(text)
        spent.append(statistics.median(session.solve(change, read)[0] for change in changes))
    whole = statistics.median(run_once(spice_text(circuit, STATE))[0] for _ in range(_REPEATS))
    return Spice(1e6 * spent[0], 1e6 * spent[1], 1e6 * spent[2], 1e6 * whole)


def _swept(circuit: Circuit, faults: Sequence[Fault], frozen: bool
           ) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    found = np.empty((len(circuit.points()), len(faults)))
    for piece in sweep(circuit, variants_of(faults), Reading(states=(STATE,), frozen=frozen)):
        found[:, piece.variants] = piece.volts
    return found


def agreement(circuit: Circuit, faults: Sequence[Fault]) -> Agreement:
    """Return how far sweeps are from the full solve and from ngspice, on faulty circuits."""
    some = some_of(circuit, faults)
    variants = variants_of(some)
    follows = solve_batch(circuit, STATE, variants)
    off_follows = np.abs(_swept(circuit, some, False) - follows.volts)[~follows.floating].max()
    # the full solve with the healthy circuit's logic
    network = widened(network_of(circuit), circuit, variants)
    logic, _, healthy = operating(circuit, STATE, (Variant(),))
    start = {name: bool(healthy.flags[row, 0]) for name, row in logic.row.items()}
    full = operate(logic_of(network, conditions_of(circuit, STATE)),
                   values_of(network, circuit, variants), follow=False, start=start)
    count = len(circuit.points())
    there = reach(network, full.slope_s)[:count]
    ours = _swept(circuit, some, True)
    off_full = np.abs(ours - full.volts[:count])[there].max()
    netlist = session_netlist(circuit, STATE, some)
    session, nodes = Session(netlist), [node_names(circuit)[name] for name in circuit.points()]
    worst, beyond, solved = 0.0, 0, 0
    for number, change in alterable(netlist, some).items():
        found = np.array(session.solve(change, nodes)[1])
        found[[node == "0" for node in nodes]] = 0.0
        if np.isnan(found).any():
            continue
        seen = there[:, number]
        off = np.abs(ours[:, number] - found)[seen]
        worst, solved = max(worst, float(off.max())), solved + 1
        beyond += int((off > np.maximum(2e-3, 1e-3 * np.abs(found[seen]))).sum())
    return Agreement(solved, float(off_full), float(off_follows), worst, beyond)


def growth_of(sizes: Sequence[int], linear: bool) -> tuple[list[float], float]:
    """Return microseconds a solve by size, everything read, and the exponent of their growth."""
    spent = []
    for nodes in sizes:
        circuit = harness(nodes, linear, states=2)
        ready = Sweep(circuit, variants_of(sampled(list(workload_faults(circuit)),
                                                   _GROWTH_FAULTS)))
        reading = Reading(frozen=True, threads=1)
        _read(ready, reading)
        found = [_read(ready, reading) for _ in range(_REPEATS)]
        spent.append(1e6 * statistics.median(one[0] for one in found) / found[0][2])
    slope, _ = np.polyfit([math.log(n) for n in sizes], [math.log(us) for us in spent], 1)
    return spent, float(slope)


def memory_mb(nodes: int, states: int) -> float:
    """Return the most memory [MB] of a process that sweeps so many states, reading everything."""
    program = (f"import benchmarks.batch_measures as measures; "
               f"print(measures.swept_mb({nodes}, {states}))")
    return float(_in_process(program))


def swept_mb(nodes: int, states: int) -> float:
    """Sweep every fault in so many states and return this process's peak [MB]."""
    circuit = harness(nodes, False, states=states)
    variants = variants_of(list(workload_faults(circuit)))
    for piece in sweep(circuit, variants, Reading(frozen=True)):
        assert piece.volts.size
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def first_s() -> tuple[float, float]:
    """Return seconds of a session's first sweep, what was compiled read from disk, and of all.

    The first tells from the import of the sweep on, the second the whole process.
    """
    solve, whole = [], []
    for _ in range(_REPEATS):
        began = time.perf_counter()
        solve.append(float(_in_process(_FIRST)))
        whole.append(time.perf_counter() - began)
    return statistics.median(solve), statistics.median(whole)


def _in_process(program: str) -> str:
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True,
                            check=True, timeout=3600)
    return answer.stdout.split()[-1]
