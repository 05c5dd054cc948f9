"""The elimination tree of a network, flattened into arrays for the compiled kernel.

Rows are in postorder, so that all descendants of a row stand right before it, and the body (or,
without one, the negative post) is the reference, so that a short to earth joins nothing new.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.elimination import elimination_order
from loomwright.circuit.model import BODY
from loomwright.circuit.network import Network

__all__ = ["Shape", "Tree", "shape_of"]

Indices = NDArray[np.int64]


class Tree(NamedTuple):
    """Arrays of one elimination tree.

    The front of row r is `others[front[r]:front[r+1]]`, its parent first. `places` gives, for
    every later row in a child's front, its place in the parent's front. Branches stand at the
    lower of their two rows, at `place` in its front (-1: to the reference).
    """

    front: Indices  # (n+1) where each row's front starts
    others: Indices
    places: Indices  # beside `others`: place in the parent's front
    pairs: Indices  # (n+1) where each row's pairs start
    parent: Indices  # (n), -1 for a root
    first: Indices  # (n) lowest descendant
    child: Indices  # (n+1) where each row's children start
    children: Indices
    heir: Indices  # (n) the child with the row's own front above it, -1: none
    own: Indices  # (n+1) where the branches that stand at a row start
    own_branch: Indices
    place: Indices  # (branches)
    meet: Indices  # (n+1) where the branches that end at a row start, either end
    meet_branch: Indices
    drive: Indices  # (n+1) those of them that can drive a current by themselves
    drive_branch: Indices
    start: Indices  # (branches) row of the start, -1 for the reference
    end: Indices


class Shape(NamedTuple):
    """A network's tree with what leads back to the network."""

    tree: Tree
    row_of: Indices  # (nodes), -1 for the reference
    reference: int  # node of 0 V in the tree
    measured: int  # node that volts are told against


def shape_of(network: Network, extra: Sequence[tuple[int, int]], drives: Collection[int]
             ) -> Shape:
    """Return the tree of a network, with room for `extra` branches between nodes.

    `drives` are the branches that can drive a current by themselves.
    """
    names = network.index
    measured = int(np.flatnonzero(network.plan.row_of < 0)[0])
    reference = names.get(BODY, measured)
    starts = [*network.start.tolist(), *(a for a, _ in extra)]
    ends = [*network.end.tolist(), *(b for _, b in extra)]
    order = elimination_order(len(network.nodes), list(zip(starts, ends, strict=True)), reference)
    place = {node: number for number, (node, _) in enumerate(order)}
    fronts = [sorted(place[node] for node in around) for _, around in order]
    turn = _postorder(fronts)
    row_of = np.full(len(network.nodes), -1, np.int64)
    for number, (node, _) in enumerate(order):
        row_of[node] = turn[number]
    by_row: list[list[int]] = [[] for _ in order]
    for number, front in enumerate(fronts):
        by_row[turn[number]] = sorted(turn[other] for other in front)
    start, end = row_of[starts], row_of[ends]
    return Shape(_tree(by_row, (start, end), drives), row_of, reference, measured)


def _postorder(fronts: Sequence[Sequence[int]]) -> list[int]:
    """Return each row's number when children come right before their parent."""
    below: list[list[int]] = [[] for _ in fronts]
    roots: list[int] = []
    for row, front in enumerate(fronts):
        (below[front[0]] if front else roots).append(row)
    turn, count = [0] * len(fronts), 0
    waiting = [(root, False) for root in reversed(roots)]
    while waiting:
        row, done = waiting.pop()
        if done:
            turn[row] = count
            count += 1
        else:
            waiting.append((row, True))
            waiting.extend((one, False) for one in reversed(below[row]))
    return turn


def _tree(fronts: Sequence[Sequence[int]], ends: tuple[Indices, Indices], drives: Collection[int]
          ) -> Tree:
    """Return the arrays of fronts that are already in postorder."""
    start, end = ends
    parent = np.array([front[0] if front else -1 for front in fronts], np.int64)
    first = np.arange(len(fronts))
    for row, above in enumerate(parent):
        if above >= 0:
            first[above] = min(first[above], first[row])
    places: list[int] = []
    for front in fronts:
        around = {other: number for number, other in enumerate(fronts[front[0]])} if front else {}
        places += [around.get(other, -1) for other in front]
    own: list[list[int]] = [[] for _ in fronts]
    meet: list[list[int]] = [[] for _ in fronts]
    place = np.full(len(start), -1, np.int64)
    for branch, (a, b) in enumerate(zip(start.tolist(), end.tolist(), strict=True)):
        if a == b:
            continue
        low, high = min(a, b), max(a, b)
        if low >= 0:
            place[branch] = fronts[low].index(high)
            meet[low].append(branch)
        own[low if low >= 0 else high].append(branch)
        meet[high].append(branch)
    below: list[list[int]] = [[] for _ in fronts]
    for row, above in enumerate(parent.tolist()):
        if above >= 0:
            below[above].append(row)
    heir = np.full(len(fronts), -1)
    for row, front in enumerate(fronts):
        if front and len(front) == len(fronts[front[0]]) + 1:
            heir[front[0]] = row
    drive = [[branch for branch in some if branch in drives] for some in meet]
    sizes = [len(front) * (len(front) - 1) // 2 for front in fronts]
    return Tree(_starts(map(len, fronts)), _flat(fronts), np.array(places, np.int64),
                _starts(sizes), parent, first, _starts(map(len, below)), _flat(below),
                heir,
                _starts(map(len, own)), _flat(own), place, _starts(map(len, meet)), _flat(meet),
                _starts(map(len, drive)), _flat(drive), start, end)


def _starts(sizes: Iterable[int]) -> Indices:
    return np.concatenate([[0], np.cumsum(np.array(list(sizes), np.int64))])


def _flat(lists: Sequence[Sequence[int]]) -> Indices:
    return np.array([one for some in lists for one in some], np.int64)
