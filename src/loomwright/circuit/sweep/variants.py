"""What variants change and what is read of them, as the compiled kernel takes and gives it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.sweep.devices import Devices, Work, inlined, linearise
from loomwright.circuit.sweep.shape import Tree

__all__ = ["Changes", "Found", "Probes", "across_v", "is_lone", "restore", "set_branch", "tell"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


class Changes(NamedTuple):
    """What variants change, as lists: entries `at[n]:at[n+1]` of variant n."""

    at: Indices
    branch: Indices
    ohm: Array
    emf: Array
    rated_a: Array
    shunt: Array
    forced: NDArray[np.int8]
    earth_at: Indices
    earth_row: Indices
    earth_s: Array
    gated: Indices  # branches whose conduction the logic decides
    wanted: NDArray[np.int8]  # (variants, gated)


class Probes(NamedTuple):
    """Rows and branches whose volts and amps are told after a solve."""

    rows: Indices  # of the nodes asked for, -1 read as the last row of `Work.volts`
    measured: int  # row that volts are told against
    logic_rows: Indices
    logic_branches: Indices
    branches: Indices
    needed: Indices  # all rows that these need, a parent before its children


class Found(NamedTuple):
    """Where results go, a line each variant; `to` is its line in `volts` and `amps`."""

    to: Indices
    volts: NDArray[np.float64]  # (variants, nodes)
    amps: NDArray[np.float64]  # (variants, branches)
    logic: Array  # (variants, logic rows + logic branches)
    status: Indices
    passes: Indices


@inlined
def across_v(tree: Tree, work: Work, branch: int) -> float:
    """Return the volts from a branch's start to its end."""
    # the reference is row -1, which is the last place of the volts
    return float(work.volts[tree.start[branch]] - work.volts[tree.end[branch]])


@inlined
def tell(tree: Tree, work: Work, probes: Probes, found: Found, line: int) -> None:
    """Write a variant's volts and amps."""
    base, to = work.volts[probes.measured], found.to[line]
    for number in range(len(probes.rows)):
        found.volts[to, number] = work.volts[probes.rows[number]] - base
    for number in range(len(probes.branches)):
        branch = probes.branches[number]
        found.amps[to, number] = work.g[branch] * across_v(tree, work, branch) + work.j[branch]
    count = len(probes.logic_rows)
    for number in range(count):
        found.logic[line, number] = work.volts[probes.logic_rows[number]] - base
    for number in range(len(probes.logic_branches)):
        branch = probes.logic_branches[number]
        found.logic[line, count + number] = (
            work.g[branch] * across_v(tree, work, branch) + work.j[branch])


@inlined
def set_branch(device: Devices, work: Work, changes: Changes, number: int) -> None:
    """Give a branch the numbers of a change and linearise it."""
    branch = changes.branch[number]
    device.ohm[branch], device.emf[branch] = changes.ohm[number], changes.emf[number]
    device.rated_a[branch] = changes.rated_a[number]
    device.shunt[branch] = changes.shunt[number]
    device.forced[branch] = changes.forced[number]
    linearise(device, work, branch)


@inlined
def is_lone(device: Devices, changes: Changes, line: int) -> bool:
    """Tell whether a variant changes one branch, or one point to earth, and nothing else."""
    own = changes.at[line + 1] - changes.at[line]
    if own + changes.earth_at[line + 1] - changes.earth_at[line] != 1:
        return False
    if own == 0 and changes.earth_row[changes.earth_at[line]] < 0:
        return False
    for number in range(len(changes.gated)):
        if device.on[changes.gated[number]] != changes.wanted[line, number]:
            return False
    return True


@inlined
def _mend(kept: tuple[Devices, Work], device: Devices, work: Work, branch: int) -> None:
    """Put one branch back as the base has it."""
    old, solved = kept
    device.ohm[branch], device.emf[branch] = old.ohm[branch], old.emf[branch]
    device.rated_a[branch], device.shunt[branch] = old.rated_a[branch], old.shunt[branch]
    device.forced[branch], device.on[branch] = old.forced[branch], old.on[branch]
    work.g[branch], work.j[branch] = solved.g[branch], solved.j[branch]
    work.u[branch] = solved.u[branch]


@inlined
def restore(tree: Tree, live: tuple[Devices, Work], kept: tuple[Devices, Work],
             changes: Changes, line: int) -> None:
    """Put everything a variant touched back as the base has it."""
    device, work = live
    solved = kept[1]
    for number in range(changes.at[line], changes.at[line + 1]):
        _mend(kept, device, work, changes.branch[number])
    for branch in changes.gated:
        if device.on[branch] != kept[0].on[branch]:
            _mend(kept, device, work, branch)
    for branch in device.curved:
        if work.u[branch] != solved.u[branch]:
            _mend(kept, device, work, branch)
    for number in range(changes.earth_at[line], changes.earth_at[line + 1]):
        if changes.earth_row[number] >= 0:
            work.earth_g[changes.earth_row[number]] = 0.0
    for number in range(work.counts[2]):
        work.volts[work.seen[number]] = solved.volts[work.seen[number]]
    for place in range(work.counts[1]):
        row = work.altered[place]
        work.inverse[row], work.total_j[row] = solved.inverse[row], solved.total_j[row]
        for number in range(tree.front[row], tree.front[row + 1]):
            work.share[number] = solved.share[number]
            work.up_g[number], work.up_j[number] = solved.up_g[number], solved.up_j[number]
        for number in range(tree.pairs[row], tree.pairs[row + 1]):
            work.up_pair[number] = solved.up_pair[number]
    work.counts[:] = 0
