"""Compiled elimination of rows (star-mesh), all lanes of a group at once.

Rows are marked first, each with those above it up to the root; what an unmarked child hands up is
the base's.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.sweep.devices import Kept, Live, inlined
from loomwright.circuit.sweep.lanes import load, spread, store
from loomwright.circuit.sweep.shape import Tree

__all__ = ["GMIN_S", "eliminate_marked", "mark"]

Array = NDArray[np.float64]
GMIN_S = 1e-12  # as in the full solve: every row to the reference
_NARROW = 2  # others around a row that are eliminated without scratch
_FEW = 64  # rows that are put in order rather than looked for


@inlined
def mark(tree: Tree, live: Live, row: int, stamp: int, begin: int) -> None:
    """Mark a row and those above it, up to the root, to be eliminated again."""
    while row >= 0 and live.dirty[row] != stamp:
        if live.dirty[row] < begin:
            live.altered[live.counts[1]] = row
            live.counts[1] += 1
        live.dirty[row] = stamp
        live.marked[live.counts[0]] = row
        live.counts[0] += 1
        row = tree.parent[row]


@inlined
def _put_in_order(live: Live, stamp: int) -> int:
    """Put the rows marked in order, children before their parents; return how many they are."""
    count, marked = live.counts[0], live.marked
    live.counts[0] = 0
    if count > _FEW:
        to = 0
        for row in range(len(live.dirty)):
            if live.dirty[row] == stamp:
                marked[to] = row
                to += 1
        return to
    for number in range(1, count):
        row, to = marked[number], number
        while to > 0 and marked[to - 1] > row:
            marked[to] = marked[to - 1]
            to -= 1
        marked[to] = row
    return int(count)


@inlined
def _up(kept: Array, live: Array, number: int, again: bool) -> Any:
    """Return what a child hands up: the lanes' own, or the base's."""
    return load(live, number) if again else spread(kept[number])


@inlined
def _narrow(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> None:
    """Eliminate a row with at most two others around it: as `_wide`, without scratch."""
    nothing = spread(0.0)
    edge = other_edge = up_g = other_up_g = up_j = other_up_j = between = current = nothing
    ground = load(live.earth_g, row) + spread(GMIN_S)
    for number in range(tree.own[row], tree.own[row + 1]):
        branch = tree.own_branch[number]
        slope = load(live.g, branch)
        if tree.place[branch] < 0:
            ground += slope
        elif tree.place[branch] == 0:
            edge += slope
        else:
            other_edge += slope
    for number in range(tree.drive[row], tree.drive[row + 1]):
        branch = tree.drive_branch[number]
        if tree.start[branch] == row:
            current -= load(live.j, branch)
        else:
            current += load(live.j, branch)
    for number in range(tree.child[row], tree.child[row + 1]):
        child = tree.children[number]
        entry, pair, again = tree.front[child], tree.pairs[child], live.dirty[child] >= begin
        size = tree.front[child + 1] - entry
        ground += _up(kept.up_g, live.up_g, entry, again)
        current += _up(kept.up_j, live.up_j, entry, again)
        for more in range(1, size):
            if tree.places[entry + more] == 0:
                edge += _up(kept.up_pair, live.up_pair, pair + more - 1, again)
                up_g += _up(kept.up_g, live.up_g, entry + more, again)
                up_j += _up(kept.up_j, live.up_j, entry + more, again)
            else:
                other_edge += _up(kept.up_pair, live.up_pair, pair + more - 1, again)
                other_up_g += _up(kept.up_g, live.up_g, entry + more, again)
                other_up_j += _up(kept.up_j, live.up_j, entry + more, again)
        if size == 3:
            between += _up(kept.up_pair, live.up_pair, pair + 2, again)
    to, width = tree.front[row], tree.front[row + 1] - tree.front[row]
    inverse = spread(1.0) / (ground + edge + other_edge)
    if width > 0:
        share = edge * inverse
        store(live.share, to, share)
        store(live.up_g, to, up_g + share * ground)
        store(live.up_j, to, up_j + share * current)
        if width > 1:
            store(live.up_pair, tree.pairs[row], between + share * other_edge)
            share = other_edge * inverse
            store(live.share, to + 1, share)
            store(live.up_g, to + 1, other_up_g + share * ground)
            store(live.up_j, to + 1, other_up_j + share * current)
    store(live.inverse, row, inverse)
    store(live.total_j, row, current)


@inlined
def _take_edges(tree: Tree, kept: Kept, live: Live, child: int, begin: int) -> None:
    """Add the conductances that a child hands up between its parent and the others around."""
    entry, pair, again = tree.front[child], tree.pairs[child], live.dirty[child] >= begin
    for more in range(1, tree.front[child + 1] - entry):
        at = tree.places[entry + more]
        store(live.edge, at, load(live.edge, at)
              + _up(kept.up_pair, live.up_pair, pair + more - 1, again))


@inlined
def _take_rest(tree: Tree, kept: Kept, live: Live, place: tuple[int, int, int], begin: int
               ) -> None:
    """Add what a child hands up to the others around its parent.

    `place` is the parent, the child and the width of the parent's front.
    """
    row, child, width = place
    entry, again = tree.front[child], live.dirty[child] >= begin
    size, to, to_pair = tree.front[child + 1] - entry, tree.front[row], tree.pairs[row]
    pair = tree.pairs[child] + size - 1
    for first in range(1, size):
        at = tree.places[entry + first]
        store(live.up_g, to + at, load(live.up_g, to + at)
              + _up(kept.up_g, live.up_g, entry + first, again))
        store(live.up_j, to + at, load(live.up_j, to + at)
              + _up(kept.up_j, live.up_j, entry + first, again))
        line = to_pair + at * width - at * (at + 1) // 2 - at - 1
        for second in range(first + 1, size):
            target = line + tree.places[entry + second]
            store(live.up_pair, target, load(live.up_pair, target)
                  + _up(kept.up_pair, live.up_pair, pair, again))
            pair += 1


@inlined
def _begin_edges(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> None:
    """Write the conductances between a row and those around it, from branches and children."""
    heir, width = tree.heir[row], tree.front[row + 1] - tree.front[row]
    if heir >= 0:
        pair, again = tree.pairs[heir], live.dirty[heir] >= begin
        for place in range(width):
            store(live.edge, place, _up(kept.up_pair, live.up_pair, pair + place, again))
    else:
        for place in range(width):
            store(live.edge, place, spread(0.0))
    for number in range(tree.own[row], tree.own[row + 1]):
        branch = tree.own_branch[number]
        place = tree.place[branch]
        if place >= 0:
            store(live.edge, place, load(live.edge, place) + load(live.g, branch))
    for number in range(tree.child[row], tree.child[row + 1]):
        if tree.children[number] != heir:
            _take_edges(tree, kept, live, tree.children[number], begin)


@inlined
def _share_out(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> None:
    """Share a row's conductances out over those around it, onto what its heir hands up."""
    to, pair, heir = tree.front[row], tree.pairs[row], tree.heir[row]
    width = tree.front[row + 1] - to
    inverse, ground, current = (load(live.inverse, row), load(live.ground, 0),
                                load(live.total_j, row))
    again, entry, before = False, 0, 0
    if heir >= 0:
        again, entry = live.dirty[heir] >= begin, tree.front[heir] + 1
        before = tree.pairs[heir] + width
    for place in range(width):
        share = load(live.edge, place) * inverse
        store(live.share, to + place, share)
        more_g, more_j = share * ground, share * current
        if heir >= 0:
            more_g += _up(kept.up_g, live.up_g, entry + place, again)
            more_j += _up(kept.up_j, live.up_j, entry + place, again)
        store(live.up_g, to + place, more_g)
        store(live.up_j, to + place, more_j)
        count = width - place - 1
        if heir < 0:
            for second in range(count):
                store(live.up_pair, pair + second,
                      share * load(live.edge, place + 1 + second))
        elif again:
            for second in range(count):
                store(live.up_pair, pair + second, load(live.up_pair, before + second)
                      + share * load(live.edge, place + 1 + second))
        else:
            for second in range(count):
                store(live.up_pair, pair + second, spread(kept.up_pair[before + second])
                      + share * load(live.edge, place + 1 + second))
        pair, before = pair + count, before + count


@inlined
def _wide(tree: Tree, kept: Kept, live: Live, row: int, begin: int) -> None:
    """Eliminate a row from its branches and what its children hand up (star-mesh)."""
    width, heir = tree.front[row + 1] - tree.front[row], tree.heir[row]
    _begin_edges(tree, kept, live, row, begin)
    ground, current = load(live.earth_g, row) + spread(GMIN_S), spread(0.0)
    for number in range(tree.own[row], tree.own[row + 1]):
        branch = tree.own_branch[number]
        if tree.place[branch] < 0:
            ground += load(live.g, branch)
    for number in range(tree.drive[row], tree.drive[row + 1]):
        branch = tree.drive_branch[number]
        if tree.start[branch] == row:
            current -= load(live.j, branch)
        else:
            current += load(live.j, branch)
    for number in range(tree.child[row], tree.child[row + 1]):
        child = tree.children[number]
        first, again = tree.front[child], live.dirty[child] >= begin
        ground += _up(kept.up_g, live.up_g, first, again)
        current += _up(kept.up_j, live.up_j, first, again)
    total = ground
    for place in range(width):
        total += load(live.edge, place)
    store(live.inverse, row, spread(1.0) / total)
    store(live.ground, 0, ground)
    store(live.total_j, row, current)
    _share_out(tree, kept, live, row, begin)
    for number in range(tree.child[row], tree.child[row + 1]):
        child = tree.children[number]
        if child != heir:
            _take_rest(tree, kept, live, (row, child, width), begin)


@inlined
def eliminate_marked(tree: Tree, kept: Kept, live: Live, stamp: int, begin: int) -> None:
    """Eliminate the rows marked in a pass of a group, children before their parents."""
    for number in range(_put_in_order(live, stamp)):
        row = live.marked[number]
        if tree.front[row + 1] - tree.front[row] <= _NARROW:
            _narrow(tree, kept, live, row, begin)
        else:
            _wide(tree, kept, live, row, begin)
