"""Cost of one variant in one state beside ngspice, in the same run.

Run: `PYTHONPATH=src:. python benchmarks/batch.py [--nodes 40 300 2000] [--write]`; needs numba,
ngspice and its shared library. `--write` puts the tables into benchmarks/README.md between their
marks; `--quick` leaves out growth and memory; `--growth` measures growth alone.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from pathlib import Path

from benchmarks.batch_circuits import harness, workload_faults
from benchmarks.batch_measures import (
    STATE,
    agreement,
    cost_of,
    first_s,
    growth_of,
    memory_mb,
    some_of,
    spice_of,
)
from loomwright.circuit.sweep import Reading, sweep
from loomwright.circuit.values import Variant

_PAGE = Path(__file__).parent / "README.md"
_BEGIN, _END = "<!-- sweeps: begin -->", "<!-- sweeps: end -->"
_SIZES = (300, 600, 1200, 2400, 4800, 8000)
_COST = ("nodes", "parts", "solves", "in full", "first us", "again us", "20 points us",
         "two threads us", "ngspice us", "ngspice, volts read us", "a process us",
         "times first", "times again", "times 20 points")
_RIGHT = ("nodes", "parts", "faults", "off full V", "off full V, following", "off ngspice V",
          "beyond 0.1 % or 2 mV", "following us", "of solves", "in full")


def _row(cells: tuple[object, ...]) -> str:
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def _head(names: tuple[str, ...]) -> list[str]:
    return [_row(names), "|" + "---|" * len(names)]


def _circuits(sizes: list[int]) -> tuple[list[str], list[str]]:
    """Return the lines of the two tables over circuits: cost, and agreement."""
    costs, rights = _head(_COST), _head(_RIGHT)
    for nodes in sizes:
        for linear in (False, True):
            circuit = harness(nodes, linear)
            faults = list(workload_faults(circuit))
            cost, spice = cost_of(circuit, faults), spice_of(circuit, some_of(circuit, faults))
            best = min(spice.tight_us, spice.loose_us)
            name = "linear" if linear else "curved"
            costs.append(_row((
                nodes, name, cost.solves, cost.in_full, f"{cost.first_us:.2f}",
                f"{cost.again_us:.2f}", f"{cost.few_us:.2f}", f"{cost.two_us:.2f}",
                f"{best:.0f}", f"{spice.read_us:.0f}", f"{spice.process_us:.0f}",
                f"{best / cost.first_us:.0f}",
                f"{best / cost.again_us:.0f}", f"{best / cost.few_us:.0f}")))
            print(costs[-1], flush=True)  # so that something is seen to happen
            right = agreement(circuit, faults)
            rights.append(_row((
                nodes, name, right.faults, f"{right.full_v:.0e}", f"{right.follows_v:.0e}",
                f"{right.spice_v:.0e}", right.spice_beyond, f"{cost.follows_us:.1f}",
                cost.followed, cost.follows_in_full)))
            print(rights[-1], flush=True)
    return costs, rights


def _growth() -> Iterator[str]:
    """Yield the lines of the table of growth."""
    yield from _head(("parts", *(f"{nodes} nodes us" for nodes in _SIZES), "exponent"))
    for linear in (False, True):
        spent, exponent = growth_of(_SIZES, linear)
        yield _row(("linear" if linear else "curved", *(f"{us:.1f}" for us in spent),
                    f"{exponent:.2f}"))


def measured(sizes: list[int], quick: bool) -> list[str]:
    """Return everything measured, as lines of Markdown."""
    load = os.getloadavg()[0]
    list(sweep(harness(40, False), (Variant(),), Reading(states=(STATE,))))  # compiles
    solve, whole = first_s()
    costs, rights = _circuits(sizes)
    lines = [f"Load {load:.1f} at the start, {os.cpu_count()} processors.", "", *costs, "",
             *rights, "",
             f"First sweep of a session, compiled code read from disk: {solve:.2f} s from its "
             f"import on, {whole:.2f} s the whole process."]
    if not quick:
        lines += ["", *_growth(), "",
                  f"Most memory of a process that sweeps all faults of the curved circuit of 2,000 "
                  f"nodes in 50 states, every point and wire read: "
                  f"{memory_mb(2000, 50):.0f} MB."]
    return lines


def main() -> None:
    """Measure and print; write the page where that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nodes", type=int, nargs="+", default=[40, 300, 2000])
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--growth", action="store_true")
    given = parser.parse_args()
    if given.growth:
        for line in _growth():
            print(line, flush=True)
        return
    lines = measured(given.nodes, given.quick)
    print("\n".join(lines))
    if given.write:
        page = _PAGE.read_text(encoding="utf-8")
        before, rest = page.split(_BEGIN, 1)
        after = rest.split(_END, 1)[1]
        text = "\n".join([before + _BEGIN, *lines, _END + after])
        _PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
