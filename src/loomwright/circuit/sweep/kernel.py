"""Compiled solution of one variant after another beside a solved base, by what it changes.

A branch that changes alters only the rows from it to the root of the elimination tree: those are
eliminated again, from what their unchanged children hand up. Volts then run down the tree, into
no unchanged subtree whose surrounding moved less than all its parts have room for: no row inside
can move more, for every row's volts are a weighted mean of its surrounding's. Only parts whose
linearisation no longer fits are linearised again. The rows eliminated again must then balance
their currents. Rows that are asked for come last.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.laws import DIODE_SATURATION_A, DIODE_VOLTS
from loomwright.circuit.sweep.devices import (
    DIODE,
    LAMP,
    MOTOR,
    Devices,
    Work,
    compiled,
    conducts,
    inlined,
    law_of,
    linearise,
)
from loomwright.circuit.sweep.shape import Tree
from loomwright.circuit.sweep.variants import (
    Changes,
    Found,
    Probes,
    across_v,
    is_lone,
    restore,
    set_branch,
    tell,
)

__all__ = ["SOLVED", "room_of", "solve_base", "solve_variants"]

Array = NDArray[np.float64]
_GMIN_S = 1e-12  # as in the full solve: every row to the reference
_FITS_V = 2e-6  # a linearisation that is off by no more volts than this is kept
_BASE_FITS_V = 2e-8  # of a base, so that its variants have room
_LEAST_ROOM_V = 1e-6
_MOST_ROOM_V = 1.0
_LEAST_DIGITS = 1e-7  # of 1: what must be left for one change to be made beside the factor
_FEW = 64  # rows that are put in order rather than looked for
_DAMP_AFTER = 20
_MOST_PASSES = 60
_BALANCE = 1e-9  # of the currents at a row
SOLVED, NOT_SETTLED, NOT_BALANCED = range(3)


@inlined
def _stands_at(tree: Tree, branch: int) -> int:
    """Return the lower row of a branch that is not the reference, which is row -1."""
    low, high = min(tree.start[branch], tree.end[branch]), max(tree.start[branch], tree.end[branch])
    return int(high if low < 0 else low)


@inlined
def _mark(tree: Tree, work: Work, row: int, stamp: int, begin: int) -> None:
    """Mark a row and those above it, up to the root, to be eliminated again."""
    while row >= 0 and work.dirty[row] != stamp:
        if work.dirty[row] < begin:
            work.altered[work.counts[1]] = row
            work.counts[1] += 1
        work.dirty[row] = stamp
        work.marked[work.counts[0]] = row
        work.counts[0] += 1
        row = tree.parent[row]


@inlined
def _eliminate_marked(tree: Tree, work: Work, stamp: int) -> None:
    """Eliminate the rows marked, children before their parents."""
    count, marked = work.counts[0], work.marked
    work.counts[0] = 0
    if count > _FEW:
        for row in range(len(work.inverse)):
            if work.dirty[row] == stamp:
                _eliminate(tree, work, row)
        return
    for number in range(1, count):
        row, to = marked[number], number
        while to > 0 and marked[to - 1] > row:
            marked[to] = marked[to - 1]
            to -= 1
        marked[to] = row
    for number in range(count):
        _eliminate(tree, work, marked[number])


@inlined
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


@inlined
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


@inlined
def _find_volts(tree: Tree, work: Work, row: int, stamp: int, begin: int) -> None:
    """Find a row's volts from those above it."""
    volts = work.total_j[row] * work.inverse[row]
    for number in range(tree.front[row], tree.front[row + 1]):
        volts += work.share[number] * work.volts[tree.others[number]]
    work.volts[row] = volts
    if work.moved[row] < begin:
        work.seen[work.counts[2]] = row
        work.counts[2] += 1
    work.moved[row] = stamp


@inlined
def _run_down(tree: Tree, work: Work, base_v: Array, stamp: int, begin: int) -> None:
    """Bring the volts up to date, leaving out subtrees that have room for what moved around."""
    row = len(work.inverse) - 1
    while row >= 0:
        if work.moved[row] == stamp:
            row -= 1
            continue
        if work.dirty[row] < begin:
            low = high = 0.0  # the reference does not move
            for number in range(tree.front[row], tree.front[row + 1]):
                other = tree.others[number]
                move = work.volts[other] - base_v[other]
                low, high = min(low, move), max(high, move)
            if high - low <= work.room[row]:
                row = tree.first[row] - 1
                continue
        _find_volts(tree, work, row, stamp, begin)
        row -= 1


@inlined
def _fetch(tree: Tree, work: Work, row: int, stamp: int, begin: int) -> None:
    """Find the volts of a row that was left out, and of those it hangs on."""
    count = 0
    while row >= 0 and work.moved[row] != stamp:
        work.climb[count] = row
        count += 1
        row = tree.parent[row]
    for number in range(count - 1, -1, -1):
        _find_volts(tree, work, work.climb[number], stamp, begin)


@inlined
def _fits(device: Devices, work: Work, branch: int, volts: float, fits_v: float) -> bool:
    """Tell whether a branch's linearisation still holds at some volts."""
    current, slope = law_of(device, branch, volts)
    linear = (work.g[branch] - device.shunt[branch]) * volts + work.j[branch]
    return bool(abs(current - linear) <= fits_v * max(abs(volts), 1.0) * slope)


@inlined
def _next_v(device: Devices, work: Work, branch: int, volts: float) -> float:
    """Return the volts to linearise at, where the network has `volts` over the branch."""
    before, law = work.u[branch], device.law[branch]
    if law in (LAMP, MOTOR) and volts * before < 0:
        return 0.0  # switched off: it would swing to and fro about 0 V
    if law == DIODE and volts < before and before > 0:
        # falling: the current tells more than the volts, which only fall by 50 mV a pass
        linear = (work.g[branch] - device.shunt[branch]) * volts + work.j[branch]
        if linear <= 0:
            return min(volts, 0.0)
        return min(volts, DIODE_VOLTS * math.log(linear / DIODE_SATURATION_A + 1))
    return volts


@inlined
def _refit(tree: Tree, device: Devices, work: Work, stamps: tuple[int, int], fits_v: float) -> None:
    """Linearise again the parts that no longer fit, and mark their rows for the next pass."""
    stamp, begin = stamps
    damped = stamp - begin > _DAMP_AFTER
    for branch in device.curved:
        row = _stands_at(tree, branch)
        if work.moved[row] != stamp or not conducts(device, branch):
            continue
        volts = work.volts[tree.start[branch]] - work.volts[tree.end[branch]]
        if _fits(device, work, branch, volts, fits_v):
            continue
        volts = _next_v(device, work, branch, volts)
        if damped:
            volts = 0.5 * (volts + work.u[branch])
        work.u[branch] = volts
        linearise(device, work, branch)
        _mark(tree, work, row, stamp + 1, begin)


@inlined
def _balanced(tree: Tree, work: Work, row: int, stamp: int, begin: int) -> bool:
    """Tell whether the currents balance at a row."""
    volts = work.volts[row]
    left = -(_GMIN_S + work.earth_g[row]) * volts
    size = (_GMIN_S + work.earth_g[row]) * (abs(volts) + 1)
    for number in range(tree.meet[row], tree.meet[row + 1]):
        branch = tree.meet_branch[number]
        _fetch(tree, work, tree.start[branch], stamp, begin)
        _fetch(tree, work, tree.end[branch], stamp, begin)
        flow = work.g[branch] * across_v(tree, work, branch) + work.j[branch]
        if tree.start[branch] == row:
            flow = -flow
        left += flow
        other = work.volts[tree.start[branch]] + work.volts[tree.end[branch]] - volts
        size += abs(work.g[branch]) * (abs(volts) + abs(other) + 10) + abs(work.j[branch])
    return bool(abs(left) <= _BALANCE * size)


@inlined
def _all_balanced(tree: Tree, work: Work, stamp: int, begin: int) -> bool:
    """Tell whether the currents balance at every row eliminated since the pass `begin`."""
    for place in range(work.counts[1]):
        if not _balanced(tree, work, work.altered[place], stamp, begin):
            return False
    return True


@inlined
def _newton(tree: Tree, device: Devices, work: Work, base_v: Array, stamps: tuple[int, int],
            fits_v: float) -> tuple[int, int]:
    """Solve from the rows marked with the stamp; return the status and the last stamp used."""
    stamp, begin = stamps
    while True:
        _eliminate_marked(tree, work, stamp)
        _run_down(tree, work, base_v, stamp, begin)
        _refit(tree, device, work, (stamp, begin), fits_v)
        if work.counts[0] == 0:
            return (SOLVED if _all_balanced(tree, work, stamp, begin) else NOT_BALANCED), stamp
        stamp += 1
        if stamp - begin > _MOST_PASSES:
            work.counts[0] = 0
            return NOT_SETTLED, stamp


@compiled
def solve_base(tree: Tree, device: Devices, work: Work, stamp: int) -> tuple[int, int]:
    """Solve a whole network from the linearisation `work.u`; return status and last stamp."""
    for branch in range(len(work.g)):
        linearise(device, work, branch)
    work.counts[:] = 0
    work.room[:] = -1.0  # every row is looked at
    for row in range(len(work.inverse)):
        _mark(tree, work, row, stamp, stamp)
    return _newton(tree, device, work, work.volts, (stamp, stamp), _BASE_FITS_V)


@compiled
def room_of(tree: Tree, device: Devices, work: Work) -> None:
    """Write how far the surrounding of every subtree may move before a part in it does not fit."""
    work.room[:] = np.inf
    for branch in device.curved:
        row = _stands_at(tree, branch)
        if row < 0 or not conducts(device, branch):
            continue
        volts, room = across_v(tree, work, branch), _LEAST_ROOM_V
        while (room < _MOST_ROOM_V and _fits(device, work, branch, volts + room, _FITS_V)
               and _fits(device, work, branch, volts - room, _FITS_V)):
            room *= 2
        work.room[row] = min(work.room[row], 0.5 * room if room > _LEAST_ROOM_V else 0.0)
    for row in range(len(work.inverse)):
        if tree.parent[row] >= 0:
            work.room[tree.parent[row]] = min(work.room[tree.parent[row]], work.room[row])


@inlined
def _change(tree: Tree, device: Devices, work: Work, changes: Changes, line: int, stamp: int
            ) -> None:
    """Make a variant's changes and mark the rows that they alter."""
    for number in range(changes.at[line], changes.at[line + 1]):
        set_branch(device, work, changes, number)
        _mark(tree, work, _stands_at(tree, changes.branch[number]), stamp, stamp)
    for number in range(len(changes.gated)):
        branch = changes.gated[number]
        if device.on[branch] != changes.wanted[line, number]:
            device.on[branch] = changes.wanted[line, number]
            linearise(device, work, branch)
            _mark(tree, work, _stands_at(tree, branch), stamp, stamp)
    for number in range(changes.earth_at[line], changes.earth_at[line + 1]):
        row = changes.earth_row[number]
        if row >= 0:
            work.earth_g[row] += changes.earth_s[number]
            _mark(tree, work, row, stamp, stamp)


@inlined
def _step_aside(tree: Tree, work: Work, ends: tuple[int, int], change: tuple[float, float],
                stamp: int) -> bool:
    """Find the volts up the tree where one branch's slope and current change, without its factor.

    One unit of current between its ends gives all that one change does (Sherman and Morrison);
    False where too many digits would cancel, as where it was all that held a point.
    """
    start, end = ends
    row, count = (min(ends) if min(ends) >= 0 else max(ends)), 0
    while row >= 0:
        work.climb[count] = row
        work.flow[row] = 0.0
        count += 1
        row = tree.parent[row]
    work.flow[start] += 1.0  # the reference is the last place
    work.flow[end] -= 1.0
    for place in range(count):
        row = work.climb[place]
        for number in range(tree.front[row], tree.front[row + 1]):
            work.flow[tree.others[number]] += work.share[number] * work.flow[row]
    work.aside[len(work.inverse)] = 0.0
    for place in range(count - 1, -1, -1):
        row = work.climb[place]
        volts = work.flow[row] * work.inverse[row]
        for number in range(tree.front[row], tree.front[row + 1]):
            volts += work.share[number] * work.aside[tree.others[number]]
        work.aside[row] = volts
    scale = 1 + change[0] * (work.aside[start] - work.aside[end])
    if not scale > _LEAST_DIGITS:
        return False
    size = (change[1] + change[0] * (work.volts[start] - work.volts[end])) / scale
    for place in range(count):
        row = work.climb[place]
        work.volts[row] -= size * work.aside[row]
        work.moved[row] = stamp
        work.seen[work.counts[2]] = row
        work.counts[2] += 1
    return True


@inlined
def _solve_lone(tree: Tree, live: tuple[Devices, Work], base_v: Array, changes: Changes,
                line: int, stamp: int) -> tuple[int, int]:
    """Solve a variant of one change beside its base; return the status and the last stamp."""
    device, work = live
    start, end, slope, current = 0, -1, 0.0, 0.0
    if changes.at[line] < changes.at[line + 1]:
        branch = changes.branch[changes.at[line]]
        start, end = tree.start[branch], tree.end[branch]
        slope, current = work.g[branch], work.j[branch]
        set_branch(device, work, changes, changes.at[line])
        slope, current = work.g[branch] - slope, work.j[branch] - current
    else:
        start = changes.earth_row[changes.earth_at[line]]
        slope = changes.earth_s[changes.earth_at[line]]
        work.earth_g[start] += slope
    row = min(start, end) if min(start, end) >= 0 else max(start, end)
    if row < 0:
        return SOLVED, stamp
    begin = stamp
    if _step_aside(tree, work, (start, end), (slope, current), stamp):
        _run_down(tree, work, base_v, stamp, begin)
        _refit(tree, device, work, (stamp, begin), _FITS_V)
        if (work.counts[0] == 0 and (start < 0 or _balanced(tree, work, start, stamp, begin))
                and (end < 0 or _balanced(tree, work, end, stamp, begin))):
            return SOLVED, stamp
        stamp += 1
    _mark(tree, work, row, stamp, begin)
    return _newton(tree, device, work, base_v, (stamp, begin), _FITS_V)


@compiled
def solve_variants(tree: Tree, bases: tuple[tuple[Devices, Work], tuple[Devices, Work]],
                   changes: Changes, probes: Probes, found: Found, lines: tuple[int, int]) -> None:
    """Solve a range of variants beside a base: `bases` are a copy to work in, and the base."""
    live, kept = bases
    device, work = live
    base_v = kept[1].volts
    work.counts[:] = 0
    stamp = 1 + max(work.dirty.max(), work.moved.max())
    for line in range(lines[0], lines[1]):
        stamp += 1
        begin = stamp
        status = SOLVED
        if is_lone(device, changes, line):
            status, stamp = _solve_lone(tree, live, base_v, changes, line, stamp)
        else:
            _change(tree, device, work, changes, line, stamp)
            if work.counts[0] > 0:
                status, stamp = _newton(tree, device, work, base_v, (stamp, stamp), _FITS_V)
        if work.counts[2] > 0:
            for row in probes.needed:
                if work.moved[row] != stamp:
                    _find_volts(tree, work, row, stamp, begin)
        tell(tree, work, probes, found, line)
        found.status[line], found.passes[line] = status, stamp - begin + 1
        restore(tree, live, kept, changes, line)
        stamp += 1  # the last pass may have marked rows that were never reached
