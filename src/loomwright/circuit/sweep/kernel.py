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

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.laws import DIODE_SATURATION_A, DIODE_VOLTS
from loomwright.circuit.sweep.devices import (
    DIODE,
    LAMP,
    MOTOR,
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
    pick,
    smaller,
    spread,
    store,
)
from loomwright.circuit.sweep.shape import Tree
from loomwright.circuit.sweep.variants import (
    Changes,
    Found,
    Probes,
    across,
    move_at,
    numbers_of,
    restore,
    set_branch,
    stands_at,
    tell,
    touch,
    volts_at,
)

__all__ = ["SOLVED", "solve_base", "solve_variants"]

Array = NDArray[np.float64]
Stamps = tuple[int, int, float]  # this pass, the group's first, volts that are no move
_BASE_FITS_V = 2e-8  # of a base, so that its variants have room
_FITS_V = 5e-6  # a linearisation that is off by no more volts than this is kept
# A line is off by half the bend times the square of the volts from where it was drawn. A diode
# bends 1 / 46 mV at most, a lamp 0.55 / V at most; below this many volts a lamp is always tried.
_DIODE_BEND_V = 1 / 22
_LAMP_FROM_V = 1.0
_STILL_SHARE = 0.05  # of what is good enough: what moved less since the last pass is as it was
_LEAST_ROOM_V = 1e-6
_MOST_ROOM_V = 1.0
_HALVINGS = 3
_DAMP_AFTER = 20
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
def _find_move(tree: Tree, kept: Kept, live: Live, row: int, stamps: Stamps) -> None:
    """Find how far a row's volts move from those above it."""
    move = spread(0.0)
    if live.dirty[row] >= stamps[1]:
        move = load(live.total_j, row) * load(live.inverse, row) - spread(kept.volts[row])
        for number in range(tree.front[row], tree.front[row + 1]):
            move += load(live.share, number) * volts_at(kept, live, tree.others[number])
    else:
        for number in range(tree.front[row], tree.front[row + 1]):
            move += spread(kept.share[number]) * load(live.moves, tree.others[number])
    _note_move(live, row, move, stamps)


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
                _find_move(tree, kept, live, row, stamps)
            else:
                left_out = not _find_if_moved(tree, kept, live, row, stamps)
        row = tree.first[row] - 1 if left_out else row - 1


@inlined
def _fits(law: tuple[float, float], linear: float, volts: float, fits_v: float) -> bool:
    """Tell whether a linearisation still holds; `law` is the true current and its slope."""
    return bool(abs(law[0] - linear) <= fits_v * max(abs(volts), 1.0) * law[1])


@inlined
def _next_v(law: int, before: float, volts: float, linear: float) -> float:
    """Return the volts to linearise at, where the network has `volts` over the branch."""
    if law in (LAMP, MOTOR) and volts * before < 0:
        return 0.0  # switched off: it would swing to and fro about 0 V
    if law == DIODE and volts < before and before > 0:
        # falling: the current tells more than the volts, which only fall by 50 mV a pass
        if linear <= 0:
            return min(volts, 0.0)
        return min(volts, DIODE_VOLTS * math.log(linear / DIODE_SATURATION_A + 1))
    return volts


@inlined
def _refit_lane(device: Devices, live: Live, place: tuple[int, int], numbers: Numbers,
                aim: tuple[float, float, bool]) -> bool:
    """Linearise a branch again in one lane if it no longer fits; tell whether it did not.

    `place` is branch and lane, `aim` the volts, how far off is good enough, whether to damp.
    """
    branch, lane = place
    volts, fits_v, damped = aim
    law = law_of(device, branch, numbers, volts)
    linear = (live.g[branch, lane] - numbers[3]) * volts + live.j[branch, lane]
    if _fits(law, linear, volts, fits_v):
        return False
    before = live.u[branch, lane]
    after = _next_v(device.law[branch], before, volts, linear)
    if damped:
        after = 0.5 * (after + before)
    if after != volts:
        law = law_of(device, branch, numbers, after)
    live.u[branch, lane] = after
    live.g[branch, lane] = law[1] + numbers[3]
    live.j[branch, lane] = law[0] - law[1] * after
    live.bent[branch] |= 1 << lane
    return True


@inlined
def _refit(tree: Tree, device: Devices, kept: Kept, live: Live, changes: Changes,
           goal: tuple[int, int, float]) -> int:
    """Linearise again the parts that no longer fit, and mark their rows for the next pass.

    `goal` is the stamps and how far off is good enough. Returns a bit for each lane that is not at
    rest.
    """
    stamp, begin, fits_v = goal
    damped, busy, near_v = stamp - begin > _DAMP_AFTER, 0, math.sqrt(fits_v * _DIODE_BEND_V)
    for branch in device.curved:
        row = stands_at(tree, branch)
        if live.on[branch] == 0 or row < 0 or live.moved[row] != stamp:
            continue
        move = magnitude(move_at(live, tree.start[branch]) - move_at(live, tree.end[branch]))
        bits = (over(move, spread(kept.fits[branch])) | live.bent[branch]) & live.on[branch]
        if bits == 0:
            continue
        volts, off = across(tree, kept, live, branch), 0
        if device.law[branch] in (LAMP, DIODE):
            near = spread(near_v)
            if device.law[branch] == LAMP:
                beyond = magnitude(volts) - spread(_LAMP_FROM_V)
                near = beyond * spread(math.sqrt(fits_v))
            far = magnitude(volts - load(live.u, branch))
            bits &= over(far, near) | ~live.bent[branch]
        for lane in range(LANES):
            if bits >> lane & 1 and _refit_lane(
                    device, live, (branch, lane),
                    numbers_of(device, changes, live.lines[lane], branch),
                    (pick(volts, lane), fits_v, damped)):
                off |= 1 << lane
        if off:
            touch(live, branch)
            mark(tree, live, row, stamp + 1, begin)
            busy |= off
    return busy


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
        busy = _refit(tree, device, kept, live, changes, (stamp, begin, fits_v))
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
        if not _fits(law_of(device, branch, numbers, there), linear, there, _FITS_V):
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
def _fetch(tree: Tree, kept: Kept, live: Live, row: int, stamps: Stamps) -> None:
    """Find the volts of a row that was left out, and of those it hangs on."""
    count = 0
    while row >= 0 and live.moved[row] != stamps[0]:
        live.climb[count] = row
        count += 1
        row = tree.parent[row]
    for number in range(count - 1, -1, -1):
        _find_move(tree, kept, live, live.climb[number], stamps)


@inlined
def _off_balance(tree: Tree, kept: Kept, live: Live, row: int, stamps: Stamps) -> int:
    """Return a bit for each lane in which the currents at a row do not balance."""
    volts = volts_at(kept, live, row)
    ground, ten = load(live.earth_g, row) + spread(GMIN_S), spread(10.0)
    left: Any = spread(0.0) - ground * volts
    size: Any = ground * (magnitude(volts) + spread(1.0))
    for number in range(tree.meet[row], tree.meet[row + 1]):
        branch = tree.meet_branch[number]
        _fetch(tree, kept, live, tree.start[branch], stamps)
        _fetch(tree, kept, live, tree.end[branch], stamps)
        slope, current = load(live.g, branch), load(live.j, branch)
        start, end = (volts_at(kept, live, tree.start[branch]),
                      volts_at(kept, live, tree.end[branch]))
        flow = slope * (start - end) + current
        if tree.start[branch] == row:
            left -= flow
        else:
            left += flow
        size += (magnitude(slope) * (magnitude(start) + magnitude(end) + ten)
                 + magnitude(current))
    return int(over(magnitude(left), spread(_BALANCE) * size))


@inlined
def _solve_group(tree: Tree, base: tuple[Devices, Kept, Live], changes: Changes, probes: Probes
                 ) -> tuple[int, int]:
    """Solve a group; return bits of lanes that did not settle, that do not balance."""
    device, kept, live = base
    begin = live.clock[0] + 2  # the last pass may have marked rows that were never reached
    _open_group(tree, device, live, changes, begin)
    busy = _settle(tree, device, kept, live, changes, (begin, _FITS_V))
    stamps = live.clock[0], begin, 0.0
    for row in probes.needed:
        if live.moved[row] != stamps[0]:
            _find_move(tree, kept, live, row, stamps)
    off = 0
    for place in range(live.counts[1]):
        _fetch(tree, kept, live, live.altered[place], stamps)
        off |= _off_balance(tree, kept, live, live.altered[place], stamps)
    return busy, off


@inlined
def _adopt(kept: Kept, live: Live) -> None:
    """Make all lanes equal to a base."""
    for branch in range(len(kept.g)):
        store(live.g, branch, spread(kept.g[branch]))
        store(live.j, branch, spread(kept.j[branch]))
        store(live.u, branch, spread(kept.u[branch]))
        live.on[branch], live.bent[branch] = kept.on[branch], 0


@compiled
def solve_variants(tree: Tree, base: tuple[Devices, Kept, Live], changes: Changes, probes: Probes,
                   found: Found, places: tuple[int, int]) -> None:
    """Solve the variants at some places of `changes.order`, a group at a time, beside a base."""
    kept, live = base[1], base[2]
    _adopt(kept, live)
    for first in range(places[0], places[1], LANES):
        stop, before = min(first + LANES, places[1]), live.clock[0]
        for lane in range(LANES):  # lanes to spare solve the last variant again
            live.lines[lane] = changes.order[min(first + lane, stop - 1)]
        busy, off = _solve_group(tree, base, changes, probes)
        tell(tree, kept, live, probes, found)
        for lane in range(LANES):
            status = NOT_SETTLED if busy >> lane & 1 else SOLVED
            if off >> lane & 1:
                status = NOT_BALANCED
            found.status[live.lines[lane]] = status
            found.passes[live.lines[lane]] = live.clock[0] - before - 1
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
    stamps, off = (live.clock[0], begin, 0.0), 0
    for row in range(len(live.dirty) - 1, -1, -1):
        if live.moved[row] != stamps[0]:
            _find_move(tree, kept, live, row, stamps)
    for row in range(len(live.dirty)):
        off |= _off_balance(tree, kept, live, row, stamps)
    _keep(tree, kept, live)
    restore(kept, live, nothing, (0, 0))
    _room_of(tree, device, kept)
    return NOT_SETTLED if busy else NOT_BALANCED if off else SOLVED
