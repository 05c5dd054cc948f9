"""What variants change and what is read of them, as the compiled kernel takes and gives it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.sweep.devices import (
    RESISTOR,
    Devices,
    Kept,
    Live,
    Numbers,
    conducts,
    inlined,
    linear_of,
)
from loomwright.circuit.sweep.lanes import load, spread, store
from loomwright.circuit.sweep.shape import Tree

__all__ = ["Changes", "Found", "Probes", "across", "move_at", "numbers_of", "restore",
           "set_branch", "stands_at", "touch", "volts_at"]

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
    """Rows and branches whose volts and amps are told after a solve.

    The reference is the row after the last one here, so that it is read like any other.
    """

    rows: Indices
    measured: int  # row that volts are told against
    logic_rows: Indices
    logic_branches: Indices
    logic_start: Indices
    logic_end: Indices
    branches: Indices
    start: Indices
    end: Indices
    needed: Indices  # all rows that these need, a parent before its children


class Found(NamedTuple):
    """Where results go: `to` is each variant's column in `volts` and `amps`, rising.

    Columns from `used` on are to spare.
    """

    to: Indices
    used: int
    volts: NDArray[np.float64]  # (nodes, columns)
    amps: NDArray[np.float64]  # (branches, columns)
    logic: Array  # (variants, logic rows + logic branches)
    status: Indices


@inlined
def stands_at(tree: Tree, branch: int) -> int:
    """Return the lower row of a branch that is not the reference, which is row -1."""
    start, end = tree.start[branch], tree.end[branch]
    low, high = min(start, end), max(start, end)
    return int(high if low < 0 else low)


@inlined
def move_at(live: Live, row: int) -> Any:
    """Return how far a row's volts are from the base's; row -1 is the reference."""
    return load(live.moves, row if row >= 0 else len(live.moves) - 1)


@inlined
def volts_at(kept: Kept, live: Live, row: int) -> Any:
    """Return a row's volts; row -1 is the reference, which is the last place of the base's."""
    return move_at(live, row) + spread(kept.volts[row])


@inlined
def across(tree: Tree, kept: Kept, live: Live, branch: int) -> Any:
    """Return the volts from a branch's start to its end."""
    return volts_at(kept, live, tree.start[branch]) - volts_at(kept, live, tree.end[branch])


@inlined
def _change_of(changes: Changes, line: int, branch: int) -> int:
    """Return the number of a variant's change of a branch, or -1."""
    for number in range(changes.at[line], changes.at[line + 1]):
        if changes.branch[number] == branch:
            return number
    return -1


@inlined
def numbers_of(device: Devices, changes: Changes, line: int, branch: int) -> Numbers:
    """Return a branch's numbers in a variant."""
    number = _change_of(changes, line, branch)
    if number < 0:
        return (device.ohm[branch], device.emf[branch], device.rated_a[branch],
                device.shunt[branch])
    return (changes.ohm[number], changes.emf[number], changes.rated_a[number],
            changes.shunt[number])


@inlined
def touch(live: Live, branch: int) -> None:
    """Note that a branch differs from the base."""
    if not live.is_touched[branch]:
        live.is_touched[branch] = True
        live.touched[live.counts[2]] = branch
        live.counts[2] += 1


@inlined
def set_branch(device: Devices, live: Live, changes: Changes, place: tuple[int, int, int, int]
               ) -> None:
    """Linearise a branch as a variant has it; `place` is lane, line, branch, the logic's word."""
    lane, line, branch, on = place
    number = _change_of(changes, line, branch)
    forced = device.forced[branch] if number < 0 else changes.forced[number]
    bit = 1 << lane
    touch(live, branch)
    if number >= 0:
        live.odd[branch] |= bit
    slope, current = linear_of(device, branch, numbers_of(device, changes, line, branch),
                               (forced, on), live.u[branch, lane])
    live.g[branch, lane], live.j[branch, lane] = slope, current
    live.on[branch] &= ~bit
    if conducts(forced, on):
        live.on[branch] |= bit
    if device.law[branch] != RESISTOR:
        live.bent[branch] |= bit


@inlined
def restore(kept: Kept, live: Live, changes: Changes, group: tuple[int, int]) -> None:
    """Put everything a group touched back as the base has it."""
    for place in range(live.counts[2]):
        branch = live.touched[place]
        store(live.g, branch, spread(kept.g[branch]))
        store(live.j, branch, spread(kept.j[branch]))
        store(live.u, branch, spread(kept.u[branch]))
        live.on[branch], live.bent[branch], live.odd[branch] = kept.on[branch], 0, 0
        live.is_touched[branch] = False
    for line in range(group[0], group[1]):
        for number in range(changes.earth_at[line], changes.earth_at[line + 1]):
            if changes.earth_row[number] >= 0:
                store(live.earth_g, changes.earth_row[number], spread(0.0))
    live.counts[:] = 0
