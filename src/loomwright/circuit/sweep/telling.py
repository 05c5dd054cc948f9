"""Compiled reading of a solved group: volts run down to all rows asked for, and are written out.

Most rows and branches are as the base has them but for how far the volts around them moved, so
the base's numbers are read once for all lanes.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.sweep.devices import Kept, Live, inlined
from loomwright.circuit.sweep.lanes import LANES, load, put, spread, store
from loomwright.circuit.sweep.shape import Tree
from loomwright.circuit.sweep.variants import Found, Probes, volts_at

__all__ = ["carry", "fetch", "find_move", "tell"]

Indices = NDArray[np.int64]


@inlined
def find_move(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> Any:
    """Return how far a row's volts move, from those above it."""
    move = spread(0.0)
    if live.dirty[row] >= begin:
        move = load(live.total_j, row) * load(live.inverse, row) - spread(kept.volts[row])
        for number in range(tree.front[row], tree.front[row + 1]):
            move += load(live.share, number) * volts_at(kept, live, tree.others[number])
    else:
        for number in range(tree.front[row], tree.front[row + 1]):
            move += spread(kept.share[number]) * load(live.moves, tree.others[number])
    return move


@inlined
def carry(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> None:
    """Bring a row's volts up to date."""
    store(live.moves, row, find_move(tree, kept, live, row, begin))
    live.moved[row] = live.clock[0]


@inlined
def fetch(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> None:
    """Bring the volts of a row that was left out up to date, and of those it hangs on."""
    count = 0
    while row >= 0 and live.moved[row] != live.clock[0]:
        live.climb[count] = row
        count += 1
        row = tree.parent[row]
    for number in range(count - 1, -1, -1):
        carry(tree, kept, live, live.climb[number], begin)


@inlined
def carry_all(tree: Tree, kept: Kept, live: Live, rows: Indices, begin: int) -> None:
    """Bring the volts of rows up to date; of two that hang on one another, the upper one first."""
    for row in rows:
        if live.moved[row] == live.clock[0]:
            continue
        first = tree.front[row]
        if tree.front[row + 1] - first == 2 and live.dirty[row] < begin:  # most of them
            store(live.moves, row,
                  spread(kept.share[first]) * load(live.moves, tree.others[first])
                  + spread(kept.share[first + 1]) * load(live.moves, tree.others[first + 1]))
            live.moved[row] = live.clock[0]
        else:
            carry(tree, kept, live, row, begin)


@inlined
def _flow(kept: Kept, live: Live, place: tuple[int, int, int]) -> Any:
    """Return the amps of a branch; `place` is its number and the rows it joins."""
    branch, start, end = place
    if live.is_touched[branch]:
        across = volts_at(kept, live, start) - volts_at(kept, live, end)
        return load(live.g, branch) * across + load(live.j, branch)
    move = load(live.moves, start) - load(live.moves, end)
    return spread(kept.g[branch]) * move + spread(kept.flow[branch])


@inlined
def _scatter(live: Live, value: Any, to: Any, line: int) -> None:
    """Write lanes to the columns of their variants."""
    store(live.edge, 0, value)
    for lane in range(LANES):
        to[line, live.to[lane]] = live.edge[0, lane]


@inlined
def _tell_logic(kept: Kept, live: Live, probes: Probes, found: Found, base: Any) -> None:
    """Write what the logic looks at, a line for each variant."""
    count = len(probes.logic_rows)
    for number in range(count):
        store(live.edge, 0, volts_at(kept, live, probes.logic_rows[number]) - base)
        for lane in range(LANES):
            found.logic[live.lines[lane], number] = live.edge[0, lane]
    for number in range(len(probes.logic_branches)):
        store(live.edge, 0, _flow(kept, live, (
            probes.logic_branches[number], probes.logic_start[number], probes.logic_end[number])))
        for lane in range(LANES):
            found.logic[live.lines[lane], count + number] = live.edge[0, lane]


@inlined
def tell(tree: Tree, kept: Kept, live: Live, probes: Probes, place: tuple[Found, int, int]
         ) -> None:
    """Write the volts and amps of a group; `place` is where to, its variants, its first pass."""
    found, size, begin = place
    carry_all(tree, kept, live, probes.needed, begin)
    for lane in range(LANES):
        live.to[lane] = found.to[live.lines[lane]]
    first, last = live.to[0], live.to[LANES - 1]
    # lanes to spare may only be written where columns are to spare
    spare = last == found.used - 1 and first + LANES <= found.volts.shape[1]
    side_by_side = last - first == size - 1 and (size == LANES or spare)
    base = volts_at(kept, live, probes.measured)
    for line in range(len(probes.rows)):
        value = volts_at(kept, live, probes.rows[line]) - base
        if side_by_side:
            put(found.volts, line, first, value)
        else:
            _scatter(live, value, found.volts, line)
    for line in range(len(probes.branches)):
        value = _flow(kept, live, (probes.branches[line], probes.start[line], probes.end[line]))
        if side_by_side:
            put(found.amps, line, first, value)
        else:
            _scatter(live, value, found.amps, line)
    _tell_logic(kept, live, probes, found, base)
