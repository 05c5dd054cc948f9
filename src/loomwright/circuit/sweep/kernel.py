"""Compiled solution of sixteen variants at once beside a solved base, by what they change.

A branch that changes alters only the rows from it to the root of the elimination tree: those are
eliminated again, from what their unchanged children hand up. Volts then run down the tree, into
no unchanged subtree whose surrounding moved less than all its parts have room for: no row inside
can move more, for every row's volts are a weighted mean of its surrounding's. Only parts whose
linearisation no longer fits are linearised again. The rows eliminated again must then balance
their currents. Rows that are asked for come last.

A group's lanes share the rows that are eliminated and looked at: what one lane needs is done in
all, which costs nothing. A base is solved as a group of equals.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.sweep.devices import (
    Devices,
    Kept,
    Live,
    Numbers,
    compiled,
    inlined,
    law_of,
)
from loomwright.circuit.sweep.fronts import GMIN_S, eliminate_marked, mark
from loomwright.circuit.sweep.lanes import (
    LANES,
    larger,
    load,
    magnitude,
    over,
    smaller,
    spread,
    store,
)
from loomwright.circuit.sweep.refits import fits, refit
from loomwright.circuit.sweep.shape import Tree
from loomwright.circuit.sweep.telling import carry, fetch, find_move, tell
from loomwright.circuit.sweep.variants import (
    Changes,
    Found,
    Probes,
    move_at,
    restore,
    set_branch,
    stands_at,
    volts_at,
)

__all__ = ["SOLVED", "solve_base", "solve_variants"]

Array = NDArray[np.float64]
Stamps = tuple[int, int, float]  # this pass, the group's first, volts that are no move
_BASE_FITS_V = 2e-8  # of a base, so that its variants have room
_FITS_V = 5e-6  # a linearisation that is off by no more volts than this is kept
_STILL_SHARE = 0.05  # of what is good enough: what moved less since the last pass is as it was
_LEAST_ROOM_V = 1e-6
_MOST_ROOM_V = 1.0
_HALVINGS = 3
_MOST_PASSES = 60
_BALANCE = 1e-9  # of the currents at a row
SOLVED, NOT_SETTLED, NOT_BALANCED = range(3)


@inlined
def _note_move(live: Live, row: int, move: Any, stamps: Stamps) -> None:
    """Write how far a row's volts move, and whether that is where they were a pass ago."""
    live.still[row] = (live.moved[row] == stamps[0] - 1 and over(
        magnitude(move - load(live.moves, row)), spread(stamps[2])) == 0)
    store(live.moves, row, move)
    live.moved[row] = stamps[0]


@inlined
def _find_if_moved(tree: Tree, kept: Kept, live: Live, row: int, stamps: Stamps) -> bool:
    """Find how far an unchanged row moves; False where its subtree has room for all around it."""
    low = high = move = spread(0.0)  # the reference does not move
    for number in range(tree.front[row], tree.front[row + 1]):
        other = load(live.moves, tree.others[number])
        move += spread(kept.share[number]) * other
        low, high = smaller(low, other), larger(high, other)
    if over(high - low, spread(kept.room[row])) == 0:
        return False
    _note_move(live, row, move, stamps)
    return True


@inlined
def _stands_still(tree: Tree, live: Live, row: int) -> bool:
    """Tell whether all that surrounds a row's subtree is as it was in the last pass."""
    for number in range(tree.front[row], tree.front[row + 1]):
        if not live.still[tree.others[number]]:
            return False
    return True


@inlined
def _run_down(tree: Tree, kept: Kept, live: Live, stamps: Stamps) -> None:
    """Bring the volts up to date, leaving out subtrees that have room for what moved around."""
    row = len(live.dirty) - 1
    while row >= 0:
        left_out = live.dirty[row] != stamps[0] and _stands_still(tree, live, row)
        if not left_out:
            if live.dirty[row] >= stamps[1]:
                _note_move(live, row, find_move(tree, kept, live, row, stamps[1]), stamps)
            else:
                left_out = not _find_if_moved(tree, kept, live, row, stamps)
        row = tree.first[row] - 1 if left_out else row - 1


@inlined
def _settle(tree: Tree, device: Devices, kept: Kept, live: Live, changes: Changes,
           goal: tuple[int, float]) -> int:
    """Solve a group from the rows that are marked; return a bit for each lane not at rest.

    `goal` is the first pass and how far off is good enough [V].
    """
    begin, fits_v = goal
    stamp = begin
    while True:
        eliminate_marked(tree, kept, live, stamp, begin)
        _run_down(tree, kept, live, (stamp, begin, _STILL_SHARE * fits_v))
        busy = refit(tree, device, kept, live, changes, (stamp, begin, fits_v))
        if busy == 0 or stamp - begin > _MOST_PASSES:
            live.counts[0] = 0
            live.clock[0] = stamp
            return busy
        stamp += 1


@inlined
def _fits_around(device: Devices, kept: Kept, branch: int, numbers: Numbers,
                 about: tuple[float, float]) -> bool:
    """Tell whether the base's line of a branch holds as far as `about` (volts, to either side).

    A law's line leaves it ever further, so what holds at both ends holds between.
    """
    for there in (about[0] + about[1], about[0] - about[1]):
        linear = (kept.g[branch] - numbers[3]) * there + kept.j[branch]
        if not fits(law_of(device, branch, numbers, there), linear, there, _FITS_V):
            return False
    return True


@inlined
def _room_of(tree: Tree, device: Devices, kept: Kept) -> None:
    """Write how far every part, and the surrounding of every subtree, may move before it is off."""
    kept.room[:] = np.inf
    for branch in device.curved:
        row = stands_at(tree, branch)
        if row < 0:
            continue
        numbers = (device.ohm[branch], device.emf[branch], device.rated_a[branch],
                   device.shunt[branch])
        volts = kept.volts[tree.start[branch]] - kept.volts[tree.end[branch]]
        fits, off = 0.0, _LEAST_ROOM_V
        while off <= _MOST_ROOM_V and _fits_around(device, kept, branch, numbers, (volts, off)):
            fits, off = off, 2 * off
        for _ in range(_HALVINGS if fits > 0 else 0):
            middle = 0.5 * (fits + off)
            if _fits_around(device, kept, branch, numbers, (volts, middle)):
                fits = middle
            else:
                off = middle
        kept.fits[branch] = fits
        if kept.on[branch]:
            kept.room[row] = min(kept.room[row], kept.fits[branch])
    for row in range(len(kept.room)):
        if tree.parent[row] >= 0:
            kept.room[tree.parent[row]] = min(kept.room[tree.parent[row]], kept.room[row])


@inlined
def _open_group(tree: Tree, device: Devices, live: Live, changes: Changes, begin: int) -> None:
    """Make the changes of a group's variants and mark the rows that they alter."""
    for lane in range(LANES):
        line = live.lines[lane]
        for number in range(changes.at[line], changes.at[line + 1]):
            branch = changes.branch[number]
            set_branch(device, live, changes, (lane, line, branch, device.on[branch]))
            mark(tree, live, stands_at(tree, branch), begin, begin)
        for number in range(len(changes.gated)):
            branch = changes.gated[number]
            if device.on[branch] != changes.wanted[line, number]:
                set_branch(device, live, changes,
                           (lane, line, branch, changes.wanted[line, number]))
                mark(tree, live, stands_at(tree, branch), begin, begin)
        for number in range(changes.earth_at[line], changes.earth_at[line + 1]):
            row = changes.earth_row[number]
            if row >= 0:
                live.earth_g[row, lane] += changes.earth_s[number]
                mark(tree, live, row, begin, begin)


@inlined
def _off_balance(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> int:
    """Return a bit for each lane in which the currents at a row do not balance."""
    volts = volts_at(kept, live, row)
    ground, ten = load(live.earth_g, row) + spread(GMIN_S), spread(10.0)
    left: Any = spread(0.0) - ground * volts
    size: Any = ground * (magnitude(volts) + spread(1.0))
    for number in range(tree.meet[row], tree.meet[row + 1]):
        branch = tree.meet_branch[number]
        fetch(tree, kept, live, tree.start[branch], begin)
        fetch(tree, kept, live, tree.end[branch], begin)
        if not live.is_touched[branch]:  # as told, beside the base's
            flow = spread(kept.g[branch]) * (
                move_at(live, tree.start[branch]) - move_at(live, tree.end[branch])
            ) + spread(kept.flow[branch])
            size += spread(kept.size[branch])
        else:
            slope, current = load(live.g, branch), load(live.j, branch)
            start, end = (volts_at(kept, live, tree.start[branch]),
                          volts_at(kept, live, tree.end[branch]))
            flow = slope * (start - end) + current
            size += (magnitude(slope) * (magnitude(start) + magnitude(end) + ten)
                     + magnitude(current))
        if tree.start[branch] == row:
            left -= flow
        else:
            left += flow
    return int(over(magnitude(left), spread(_BALANCE) * size))


@inlined
def _solve_group(tree: Tree, base: tuple[Devices, Kept, Live], changes: Changes, probes: Probes,
                 place: tuple[Found, int]) -> tuple[int, int]:
    """Solve a group; return bits of lanes that did not settle, that do not balance."""
    device, kept, live = base
    begin = live.clock[0] + 2  # the last pass may have marked rows that were never reached
    _open_group(tree, device, live, changes, begin)
    busy = _settle(tree, device, kept, live, changes, (begin, _FITS_V))
    tell(tree, kept, live, probes, (place[0], place[1], begin))
    off = 0
    for number in range(live.counts[1]):
        fetch(tree, kept, live, live.altered[number], begin)
        off |= _off_balance(tree, kept, live, live.altered[number], begin)
    return busy, off


@inlined
def _adopt(kept: Kept, live: Live) -> None:
    """Make all lanes equal to a base."""
    for branch in range(len(kept.g)):
        store(live.g, branch, spread(kept.g[branch]))
        store(live.j, branch, spread(kept.j[branch]))
        store(live.u, branch, spread(kept.u[branch]))
        live.on[branch], live.bent[branch], live.odd[branch] = kept.on[branch], 0, 0


@compiled
def solve_variants(tree: Tree, base: tuple[Devices, Kept, Live], changes: Changes, probes: Probes,
                   found: Found, places: tuple[int, int]) -> None:
    """Solve the variants at some places of `changes`, a group at a time, beside a base."""
    kept, live = base[1], base[2]
    _adopt(kept, live)
    for first in range(places[0], places[1], LANES):
        stop = min(first + LANES, places[1])
        for lane in range(LANES):  # lanes to spare solve the last variant again
            live.lines[lane] = min(first + lane, stop - 1)
        busy, off = _solve_group(tree, base, changes, probes, (found, stop - first))
        for lane in range(LANES):
            status = NOT_SETTLED if busy >> lane & 1 else SOLVED
            if off >> lane & 1:
                status = NOT_BALANCED
            found.status[live.lines[lane]] = status
        restore(kept, live, changes, (first, stop))


@inlined
def _keep(tree: Tree, kept: Kept, live: Live) -> None:
    """Take the first lane over as the base."""
    for branch in range(len(kept.g)):
        kept.g[branch], kept.j[branch] = live.g[branch, 0], live.j[branch, 0]
        kept.u[branch], kept.on[branch] = live.u[branch, 0], live.on[branch]
    for entry in range(len(kept.share)):
        kept.share[entry] = live.share[entry, 0]
        kept.up_g[entry], kept.up_j[entry] = live.up_g[entry, 0], live.up_j[entry, 0]
    for pair in range(len(kept.up_pair)):
        kept.up_pair[pair] = live.up_pair[pair, 0]
    for row in range(len(live.dirty)):
        kept.volts[row] += live.moves[row, 0]
    for branch in range(len(kept.g)):
        start, end = kept.volts[tree.start[branch]], kept.volts[tree.end[branch]]
        kept.flow[branch] = kept.g[branch] * (start - end) + kept.j[branch]
        kept.size[branch] = (abs(kept.g[branch]) * (abs(start) + abs(end) + 10.0)
                             + abs(kept.j[branch]))


@compiled
def solve_base(tree: Tree, base: tuple[Devices, Kept, Live], nothing: Changes) -> int:
    """Solve a whole network from the linearisation `kept.u` and keep it; return the status.

    `nothing` are changes of one variant that has none.
    """
    device, kept, live = base
    _adopt(kept, live)
    begin = live.clock[0] + 2
    live.lines[:] = 0
    for branch in range(len(kept.g)):
        for lane in range(LANES):
            set_branch(device, live, nothing, (lane, 0, branch, device.on[branch]))
    for row in range(len(live.dirty)):
        mark(tree, live, row, begin, begin)
    busy = _settle(tree, device, kept, live, nothing, (begin, _BASE_FITS_V))
    off = 0
    for row in range(len(live.dirty) - 1, -1, -1):
        if live.moved[row] != live.clock[0]:
            carry(tree, kept, live, row, begin)
    for row in range(len(live.dirty)):
        off |= _off_balance(tree, kept, live, row, begin)
    _keep(tree, kept, live)
    restore(kept, live, nothing, (0, 0))
    _room_of(tree, device, kept)
    return NOT_SETTLED if busy else NOT_BALANCED if off else SOLVED
