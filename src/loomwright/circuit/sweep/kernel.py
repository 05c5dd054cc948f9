"""Compiled solution of one variant after another beside a solved base, by what it changes.

A branch that changes alters only the rows from it to the root of the elimination tree: those are
eliminated again, from what their unchanged children hand up. Volts then run down the tree, into
no subtree whose whole surrounding moved less than a nanovolt: no row inside can move more, for
every row's volts are a weighted mean of its surrounding's. Only parts whose linearisation no
longer fits are linearised again. The rows eliminated again must then balance their currents.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.laws import (
    DIODE_REVERSE_S,
    DIODE_SATURATION_A,
    DIODE_VOLTS,
    LAMP_EXPONENT,
    MOTOR_BREAKAWAY,
)
from loomwright.circuit.sweep.shape import Tree

__all__ = ["Changes", "Devices", "Found", "Probes", "Work", "solve_base", "solve_variants"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
_Work = TypeVar("_Work", bound=Callable[..., Any])

RESISTOR, LAMP, DIODE, MOTOR, BATTERY = range(5)
_GMIN_S = 1e-12  # as in the full solve: every row to the reference
_STILL_V = 1e-9  # a row that moves less leaves its subtree alone
_FITS_V = 2e-6  # a linearisation that is off by no more volts than this is kept
_DAMP_AFTER = 20
_MOST_PASSES = 60
_BEND = (1 - LAMP_EXPONENT) / 2
_BALANCE = 1e-9  # of the currents at a row
SOLVED, NOT_SETTLED, NOT_BALANCED = range(3)


def _compiled(work: _Work) -> _Work:
    """Compile a function on first use and keep it on disk for the next session."""
    made: Any = numba.njit(cache=True, error_model="numpy", nogil=True)(work)
    return cast(_Work, made)


class Devices(NamedTuple):
    """Branch constants of a base and its variants' live copies, (branches) each."""

    law: Indices
    rated_v: Array
    cold_share: Array
    charge_ohm: Array
    leak_s: Array  # when it does not conduct
    ohm: Array
    emf: Array
    rated_a: Array
    shunt: Array
    forced: NDArray[np.int8]
    on: NDArray[np.int8]  # what the logic wants
    curved: Indices  # numbers of the nonlinear branches


class Work(NamedTuple):
    """The factored network: of branches, of rows, of front entries, of pairs."""

    g: Array  # (branches) slope
    j: Array  # (branches) current at no volts
    u: Array  # (branches) volts of the linearisation
    share: Array  # (entries)
    up_g: Array  # (entries) what a row hands up: ground
    up_j: Array  # (entries) and current
    up_pair: Array  # (pairs) and conductance between its others
    inverse: Array  # (rows)
    total_j: Array  # (rows)
    volts: Array  # (rows + 1), the last is the reference
    earth_g: Array  # (rows) shorts to the reference
    dirty: NDArray[np.int64]  # (rows) pass in which a row is eliminated again
    moved: NDArray[np.int64]  # (rows + 1) pass in which its volts last moved
    edge: Array  # scratch of one front


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

    rows: Indices  # of all nodes, -1 read as the last row of `Work.volts`
    measured: int  # row that volts are told against
    logic_rows: Indices
    branches: Indices


class Found(NamedTuple):
    """Where results go, a line each variant."""

    volts: NDArray[np.float64]  # (variants, nodes)
    logic: Array  # (variants, logic rows + branches)
    status: Indices
    passes: Indices


@_compiled
def _lamp(volts: float, hot_ohm: float, cold_share: float, rated_v: float
          ) -> tuple[float, float]:
    start2 = cold_share ** (1 / _BEND)
    share2 = (volts / rated_v) ** 2
    slope = math.exp(_BEND * math.log((1 + start2) / (share2 + start2))) / hot_ohm
    return slope * volts, slope * (1 - 2 * _BEND * share2 / (share2 + start2))


@_compiled
def _diode(volts: float, bulk_ohm: float) -> tuple[float, float]:
    if volts < 0:
        return DIODE_REVERSE_S * volts, DIODE_REVERSE_S
    knee_v = DIODE_VOLTS * math.log(DIODE_VOLTS / bulk_ohm / DIODE_SATURATION_A)
    below = DIODE_SATURATION_A * math.exp(min(volts, knee_v) / DIODE_VOLTS)
    beyond = max(volts - knee_v, 0.0) / bulk_ohm
    return below - DIODE_SATURATION_A + beyond, below / DIODE_VOLTS


@_compiled
def _motor(volts: float, ohm: float, rated_v: float, rated_a: float) -> tuple[float, float]:
    if math.isinf(rated_a):
        return volts / ohm, 1 / ohm
    break_a = MOTOR_BREAKAWAY * rated_a
    break_v = min(break_a * ohm, 0.95 * rated_v)
    size = abs(volts)
    if size <= break_v:
        return volts / ohm, 1 / ohm
    running = (rated_a - break_a) / (rated_v - break_v)
    current = break_v / ohm + running * (size - break_v)
    return (current if volts > 0 else -current), running


@_compiled
def _law(device: Devices, branch: int, volts: float) -> tuple[float, float]:
    """Return current and slope of a nonlinear branch; the laws are those of `laws`."""
    law, ohm = device.law[branch], device.ohm[branch]
    if law == LAMP:
        return _lamp(volts, ohm, device.cold_share[branch], device.rated_v[branch])
    if law == DIODE:
        return _diode(volts, ohm)
    if law == MOTOR:
        return _motor(volts, ohm, device.rated_v[branch], device.rated_a[branch])
    drive = volts + device.emf[branch]
    if drive < 0:
        ohm = max(device.charge_ohm[branch], ohm)
    return drive / ohm, 1 / ohm


@_compiled
def _conducts(device: Devices, branch: int) -> bool:
    forced = device.forced[branch]
    return bool(forced == 1 or (forced < 0 and device.on[branch] == 1))


@_compiled
def _linearise(device: Devices, work: Work, branch: int) -> None:
    """Write a branch's slope and current for its volts `work.u`."""
    on = _conducts(device, branch)
    if device.law[branch] != RESISTOR:
        current = slope = 0.0
        if on:
            current, slope = _law(device, branch, work.u[branch])
        work.j[branch] = current - slope * work.u[branch]
        work.g[branch] = slope + device.shunt[branch]
        return
    siemens = 0.0
    if on:
        siemens = 1 / device.ohm[branch]
    elif device.forced[branch] != 0:
        siemens = device.leak_s[branch]
    work.g[branch] = siemens + device.shunt[branch]
    work.j[branch] = siemens * device.emf[branch]


@_compiled
def _mark(tree: Tree, work: Work, branch: int, stamp: int) -> int:
    """Mark the rows a branch alters, up to the root; return the lowest."""
    low, high = tree.start[branch], tree.end[branch]
    if low > high:
        low, high = high, low
    if low < 0:
        low = high
    return _mark_row(tree, work, low, stamp)


@_compiled
def _mark_row(tree: Tree, work: Work, row: int, stamp: int) -> int:
    at = row
    while at >= 0 and work.dirty[at] != stamp:
        work.dirty[at] = stamp
        at = tree.parent[at]
    return row


@_compiled
def _take_child(tree: Tree, work: Work, row: int, child: int) -> tuple[float, float]:
    """Add what a child hands up to a row's front; return its ground and current for the row."""
    edge, entry, pair = work.edge, tree.front[child], tree.pairs[child]
    size = tree.front[child + 1] - entry
    to, to_pair = tree.front[row], tree.pairs[row]
    width = tree.front[row + 1] - to
    for first in range(1, size):
        edge[tree.places[entry + first]] += work.up_pair[pair]
        pair += 1
    for first in range(1, size):
        place = tree.places[entry + first]
        work.up_g[to + place] += work.up_g[entry + first]
        work.up_j[to + place] += work.up_j[entry + first]
        line = to_pair + place * width - place * (place + 1) // 2 - place - 1
        for second in range(first + 1, size):
            work.up_pair[line + tree.places[entry + second]] += work.up_pair[pair]
            pair += 1
    return work.up_g[entry], work.up_j[entry]


@_compiled
def _eliminate(tree: Tree, work: Work, row: int) -> None:
    """Eliminate a row from its branches and what its children hand up (star-mesh)."""
    edge, to, pair = work.edge, tree.front[row], tree.pairs[row]
    width = tree.front[row + 1] - to
    for place in range(width):
        edge[place] = 0.0
        work.up_g[to + place] = 0.0
        work.up_j[to + place] = 0.0
    for number in range(pair, tree.pairs[row + 1]):
        work.up_pair[number] = 0.0
    ground, current = _GMIN_S + work.earth_g[row], 0.0
    for number in range(tree.own[row], tree.own[row + 1]):
        branch = tree.own_branch[number]
        place = tree.place[branch]
        if place < 0:
            ground += work.g[branch]
        else:
            edge[place] += work.g[branch]
    for number in range(tree.meet[row], tree.meet[row + 1]):
        branch = tree.meet_branch[number]
        if tree.start[branch] == row:
            current -= work.j[branch]
        else:
            current += work.j[branch]
    for number in range(tree.child[row], tree.child[row + 1]):
        more_ground, more_current = _take_child(tree, work, row, tree.children[number])
        ground += more_ground
        current += more_current
    total = ground
    for place in range(width):
        total += edge[place]
    inverse = 1 / total
    for place in range(width):
        share = edge[place] * inverse
        work.share[to + place] = share
        work.up_g[to + place] += share * ground
        work.up_j[to + place] += share * current
        for second in range(place + 1, width):
            work.up_pair[pair] += share * edge[second]
            pair += 1
    work.inverse[row] = inverse
    work.total_j[row] = current


@_compiled
def _run_down(tree: Tree, work: Work, stamp: int) -> None:
    """Bring the volts up to date, leaving out subtrees that nothing around has moved."""
    row = len(work.inverse) - 1
    while row >= 0:
        live = work.dirty[row] == stamp
        begin, stop = tree.front[row], tree.front[row + 1]
        if not live:
            for number in range(begin, stop):
                if work.moved[tree.others[number]] == stamp:
                    live = True
                    break
        if not live:
            row = tree.first[row] - 1
            continue
        volts = work.total_j[row] * work.inverse[row]
        for number in range(begin, stop):
            volts += work.share[number] * work.volts[tree.others[number]]
        if abs(volts - work.volts[row]) > _STILL_V:
            work.moved[row] = stamp
        work.volts[row] = volts
        row -= 1


@_compiled
def _across(tree: Tree, work: Work, branch: int) -> float:
    # the reference is row -1, which is the last place of the volts
    return float(work.volts[tree.start[branch]] - work.volts[tree.end[branch]])


@_compiled
def _refit(tree: Tree, device: Devices, work: Work, stamp: int, damped: bool) -> int:
    """Linearise again the parts that no longer fit; return the lowest row altered, or the end."""
    rows = len(work.inverse)
    lowest = rows
    for branch in device.curved:
        start, end = tree.start[branch], tree.end[branch]
        if work.moved[start] != stamp and work.moved[end] != stamp:
            continue
        if not _conducts(device, branch):
            continue
        volts, before = work.volts[start] - work.volts[end], work.u[branch]
        current, slope = _law(device, branch, volts)
        linear = (work.g[branch] - device.shunt[branch]) * volts + work.j[branch]
        if abs(current - linear) <= _FITS_V * max(abs(volts), 1.0) * slope:
            continue
        if device.law[branch] == LAMP and volts * before < 0:
            volts = 0.0  # switched off: it would swing to and fro about 0 V
        if damped:
            volts = 0.5 * (volts + before)
        work.u[branch] = volts
        _linearise(device, work, branch)
        lowest = min(lowest, _mark(tree, work, branch, stamp + 1))
    return lowest


@_compiled
def _balanced(tree: Tree, work: Work, least: int) -> bool:
    """Tell whether the currents balance at every row eliminated since the pass `least`."""
    for row in range(len(work.inverse)):
        if work.dirty[row] < least:
            continue
        volts = work.volts[row]
        left = -(_GMIN_S + work.earth_g[row]) * volts
        size = (_GMIN_S + work.earth_g[row]) * (abs(volts) + 1)
        for number in range(tree.meet[row], tree.meet[row + 1]):
            branch = tree.meet_branch[number]
            flow = work.g[branch] * _across(tree, work, branch) + work.j[branch]
            if tree.start[branch] == row:
                flow = -flow
            left += flow
            other = work.volts[tree.start[branch]] + work.volts[tree.end[branch]] - volts
            size += abs(work.g[branch]) * (abs(volts) + abs(other) + 10) + abs(work.j[branch])
        if not abs(left) <= _BALANCE * size:
            return False
    return True


@_compiled
def _newton(tree: Tree, device: Devices, work: Work, stamp: int, lowest: int) -> tuple[int, int]:
    """Solve from the rows marked with `stamp`; return the status and the last stamp used."""
    rows, begin = len(work.inverse), stamp
    while True:
        for row in range(lowest, rows):
            if work.dirty[row] == stamp:
                _eliminate(tree, work, row)
        _run_down(tree, work, stamp)
        lowest = _refit(tree, device, work, stamp, stamp - begin > _DAMP_AFTER)
        if lowest == rows:
            return (SOLVED if _balanced(tree, work, begin) else NOT_BALANCED), stamp
        stamp += 1
        if stamp - begin > _MOST_PASSES:
            return NOT_SETTLED, stamp


@_compiled
def solve_base(tree: Tree, device: Devices, work: Work, stamp: int) -> tuple[int, int]:
    """Solve a whole network from the linearisation `work.u`; return status and last stamp."""
    for branch in range(len(work.g)):
        _linearise(device, work, branch)
    for row in range(len(work.inverse)):
        work.dirty[row] = stamp
    return _newton(tree, device, work, stamp, 0)


@_compiled
def _tell(tree: Tree, work: Work, probes: Probes, found: Found, line: int) -> None:
    """Write a variant's volts and amps."""
    base = work.volts[probes.measured]
    for number in range(len(probes.rows)):
        found.volts[line, number] = work.volts[probes.rows[number]] - base
    count = len(probes.logic_rows)
    for number in range(count):
        found.logic[line, number] = work.volts[probes.logic_rows[number]] - base
    for number in range(len(probes.branches)):
        branch = probes.branches[number]
        found.logic[line, count + number] = (
            work.g[branch] * _across(tree, work, branch) + work.j[branch])


@_compiled
def _change(tree: Tree, device: Devices, work: Work, changes: Changes, line: int, stamp: int
            ) -> int:
    """Make a variant's changes; return the lowest row altered, or the end."""
    lowest = len(work.inverse)
    for number in range(changes.at[line], changes.at[line + 1]):
        branch = changes.branch[number]
        device.ohm[branch], device.emf[branch] = changes.ohm[number], changes.emf[number]
        device.rated_a[branch] = changes.rated_a[number]
        device.shunt[branch] = changes.shunt[number]
        device.forced[branch] = changes.forced[number]
        _linearise(device, work, branch)
        lowest = min(lowest, _mark(tree, work, branch, stamp))
    for number in range(len(changes.gated)):
        branch = changes.gated[number]
        if device.on[branch] != changes.wanted[line, number]:
            device.on[branch] = changes.wanted[line, number]
            _linearise(device, work, branch)
            lowest = min(lowest, _mark(tree, work, branch, stamp))
    for number in range(changes.earth_at[line], changes.earth_at[line + 1]):
        row = changes.earth_row[number]
        if row >= 0:
            work.earth_g[row] += changes.earth_s[number]
            lowest = min(lowest, _mark_row(tree, work, row, stamp))
    return lowest


@_compiled
def _mend(kept: tuple[Devices, Work], device: Devices, work: Work, branch: int) -> None:
    """Put one branch back as the base has it."""
    old, solved = kept
    device.ohm[branch], device.emf[branch] = old.ohm[branch], old.emf[branch]
    device.rated_a[branch], device.shunt[branch] = old.rated_a[branch], old.shunt[branch]
    device.forced[branch], device.on[branch] = old.forced[branch], old.on[branch]
    work.g[branch], work.j[branch] = solved.g[branch], solved.j[branch]
    work.u[branch] = solved.u[branch]


@_compiled
def _restore(tree: Tree, live: tuple[Devices, Work], kept: tuple[Devices, Work],
             changes: Changes, line: int, least: int) -> None:
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
    for row in range(len(work.inverse)):
        work.volts[row] = solved.volts[row]
        if work.dirty[row] >= least:
            work.inverse[row], work.total_j[row] = solved.inverse[row], solved.total_j[row]
            for number in range(tree.front[row], tree.front[row + 1]):
                work.share[number] = solved.share[number]
                work.up_g[number], work.up_j[number] = solved.up_g[number], solved.up_j[number]
            for number in range(tree.pairs[row], tree.pairs[row + 1]):
                work.up_pair[number] = solved.up_pair[number]


@_compiled
def solve_variants(tree: Tree, live: tuple[Devices, Work], kept: tuple[Devices, Work],
                   changes: Changes, probes: Probes, found: Found) -> None:
    """Solve every variant beside the base `kept`; `live` is a copy of it to work in."""
    device, work = live
    stamp = 1 + max(work.dirty.max(), work.moved.max())
    for line in range(len(found.status)):
        stamp += 1
        begin = stamp
        lowest = _change(tree, device, work, changes, line, stamp)
        status = SOLVED
        if lowest < len(work.inverse):
            status, stamp = _newton(tree, device, work, stamp, lowest)
        _tell(tree, work, probes, found, line)
        found.status[line], found.passes[line] = status, stamp - begin + 1
        _restore(tree, live, kept, changes, line, begin)
        stamp += 1  # the last pass may have marked rows that were never reached
