"""Solve many circuits of one shape at once by eliminating nodes in a fixed order.

The order (minimum degree) and the fill are found once per shape. Eliminating a node is the
star-mesh transform: its conductances are shared out over its neighbours. Conductances are kept
as they are, never as a diagonal that is a difference, so nothing cancels: a milliohm joint and a
gigaohm leak live in one circuit without loss. All arrays are (entries, variants).
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Factor", "Plan", "elimination_order", "factorise", "make_plan", "solve_factored"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Step:
    """Eliminate node `row`: its edges are the entries first..last, to the later rows `others`."""

    row: int
    first: int
    last: int
    others: NDArray[np.intp]
    targets: NDArray[np.intp]  # entries that receive fill
    left: NDArray[np.intp]  # which of this node's edges, for each target
    right: NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Plan:
    """The elimination of one shape. `row_of[node]` is -1 for the reference node."""

    row_of: NDArray[np.intp]
    steps: tuple[Step, ...]
    entry_of: dict[tuple[int, int], int]  # (row, later row) -> entry
    size: int


@dataclass(frozen=True, slots=True)
class Factor:
    """A factored batch: shares of each eliminated node's neighbours, and its total conductance."""

    plan: Plan
    shares: tuple[Array, ...]
    totals: tuple[Array, ...]


def elimination_order(count: int, edges: Sequence[tuple[int, int]], reference: int
                      ) -> list[tuple[int, list[int]]]:
    """Return nodes in minimum-degree order, each with its neighbours when it is eliminated.

    Parameters
        count: number of nodes
        edges: pairs of nodes joined by a branch
        reference: the node of 0 V, which is not eliminated
    """
    neighbours: list[set[int]] = [set() for _ in range(count)]
    for a, b in edges:
        if a != b:
            neighbours[a].add(b)
            neighbours[b].add(a)
    for near in neighbours:
        near.discard(reference)
    # a node whose degree changes is put in again; what it left behind no longer agrees and is
    # passed over
    waiting = [(len(near), node) for node, near in enumerate(neighbours) if node != reference]
    heapq.heapify(waiting)
    left = set(range(count)) - {reference}
    found = []
    while waiting:
        degree, node = heapq.heappop(waiting)
        if node not in left or degree != len(neighbours[node]):
            continue
        around = sorted(neighbours[node])
        found.append((node, around))
        left.remove(node)
        for other in around:
            neighbours[other].update(around)
            neighbours[other] -= {other, node}
            heapq.heappush(waiting, (len(neighbours[other]), other))
    return found


def make_plan(count: int, edges: Sequence[tuple[int, int]], reference: int) -> Plan:
    """Return the elimination plan of a graph by minimum degree, with all fill found beforehand.

    Parameters
        count: number of nodes
        edges: pairs of nodes joined by a branch
        reference: the node of 0 V
    """
    order = elimination_order(count, edges, reference)
    row_of = np.full(count, -1, dtype=np.intp)
    for row, (node, _) in enumerate(order):
        row_of[node] = row
    entry_of: dict[tuple[int, int], int] = {}
    spans = []
    for row, (_, around) in enumerate(order):
        others = sorted(int(row_of[node]) for node in around)
        spans.append((len(entry_of), others))
        for other in others:
            entry_of[row, other] = len(entry_of)
    steps = tuple(_step(row, first, others, entry_of)
                  for row, (first, others) in enumerate(spans))
    return Plan(row_of, steps, entry_of, len(order))


def _step(row: int, first: int, others: list[int], entry_of: dict[tuple[int, int], int]) -> Step:
    """Return one step with the entries its fill goes to."""
    pairs = [(i, j) for i in range(len(others)) for j in range(i + 1, len(others))]
    return Step(
        row, first, first + len(others), np.array(others, dtype=np.intp),
        np.array([entry_of[others[i], others[j]] for i, j in pairs], dtype=np.intp),
        np.array([i for i, _ in pairs], dtype=np.intp),
        np.array([j for _, j in pairs], dtype=np.intp),
    )


def factorise(plan: Plan, conductance: Array, ground: Array) -> Factor:
    """Eliminate every node of a batch; `conductance` and `ground` are used up.

    Parameters
        conductance: of each entry [S], (n_entries, B)
        ground: of each row to the reference [S], (n_rows, B), > 0 somewhere in each island
    """
    shares: list[Array] = []
    totals: list[Array] = []
    for step in plan.steps:
        edges = conductance[step.first:step.last]
        total = ground[step.row] + edges.sum(axis=0)
        share = edges / total
        if step.others.size:
            ground[step.others] += share * ground[step.row]
        if step.targets.size:
            conductance[step.targets] += share[step.left] * edges[step.right]
        shares.append(share)
        totals.append(total)
    return Factor(plan, tuple(shares), tuple(totals))


def solve_factored(factor: Factor, injected: Array) -> Array:
    """Return volts of every row for currents put into the rows [A]; `injected` is used up.

    `injected` is (n_rows, B); with a factored batch of one, B may be any number of right sides.
    """
    steps = factor.plan.steps
    for step, share in zip(steps, factor.shares, strict=True):
        if step.others.size:
            injected[step.others] += share * injected[step.row]
    for step, share, total in zip(
        reversed(steps), reversed(factor.shares), reversed(factor.totals), strict=True
    ):
        row = injected[step.row]
        row /= total
        if step.others.size:
            row += (share * injected[step.others]).sum(axis=0)
    return injected
