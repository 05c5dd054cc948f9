"""Solve many circuits of one shape at once by eliminating nodes in a fixed order.

The order (minimum degree) and the fill are found once per shape. Eliminating a node is the
star-mesh transform: its conductances are shared out over its neighbours. Conductances are kept
as they are, never as a diagonal that is a difference, so nothing cancels: a milliohm joint and a
gigaohm leak live in one circuit without loss. All arrays are (entries, variants).
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Factor", "Plan", "connected", "elimination_order", "factorise", "make_plan",
           "solve_factored"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


Layers = tuple[tuple[NDArray[np.intp], NDArray[np.intp]], ...]  # (targets, sources), none twice


@dataclass(frozen=True, slots=True)
class Step:
    """Eliminate rows that do not touch one another, each with as many edges, at once.

    The edges of row `first_row` + i are the entries from `first` + i d on, to the later rows
    `others[i]`, (m, d). `pairs` (m, n_pairs) are the entries that join its others `left` and
    `right`. `onto` adds the edges' values to the others, `fill` those of the pairs to their entry.
    """

    first_row: int
    last_row: int
    first: int
    last: int
    others: NDArray[np.intp]
    pairs: NDArray[np.intp]
    left: NDArray[np.intp]
    right: NDArray[np.intp]
    onto: Layers
    fill: Layers


@dataclass(frozen=True, slots=True)
class Plan:
    """The elimination of one shape. `row_of[node]` is -1 for the reference node."""

    row_of: NDArray[np.intp]
    steps: tuple[Step, ...]
    entry_of: dict[tuple[int, int], int]  # (row, later row) -> entry
    size: int


@dataclass(frozen=True, slots=True)
class Factor:
    """A factored batch: by step the shares of each row's neighbours (m, d, B), and its total."""

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
    order = _levelled(elimination_order(count, edges, reference))
    row_of = np.full(count, -1, dtype=np.intp)
    for row, (_, node, _) in enumerate(order):
        row_of[node] = row
    entry_of: dict[tuple[int, int], int] = {}
    steps = []
    for _, group in itertools.groupby(enumerate(order), lambda one: (one[1][0], len(one[1][2]))):
        rows, others = [], []
        first = len(entry_of)
        for row, (_, _, around) in group:
            rows.append(row)
            others.append(sorted(int(row_of[node]) for node in around))
            for other in others[-1]:
                entry_of[row, other] = len(entry_of)
        steps.append((rows, first, others))
    return Plan(row_of, tuple(_step(*step, entry_of) for step in steps), entry_of, len(order))


def _levelled(order: list[tuple[int, list[int]]]) -> list[tuple[int, int, list[int]]]:
    """Return (level, node, neighbours) by level: a node's level is above those it receives from.

    Nodes of one level do not touch, so that they can go at once; the fill stays the same.
    """
    level: dict[int, int] = {}
    for node, around in order:
        for other in around:
            level[other] = max(level.get(other, 0), level.get(node, 0) + 1)
    found = [(level.get(node, 0), node, around) for node, around in order]
    return sorted(found, key=lambda one: (one[0], len(one[2])))


def _step(rows: list[int], first: int, others: list[list[int]],
          entry_of: dict[tuple[int, int], int]) -> Step:
    """Return one step with the entries its fill goes to."""
    degree = len(others[0])
    pairs = list(itertools.combinations(range(degree), 2))
    left = np.array([i for i, _ in pairs], np.intp)
    right = np.array([j for _, j in pairs], np.intp)
    targets = [[entry_of[near[i], near[j]] for i, j in pairs] for near in others]
    return Step(
        rows[0], rows[-1] + 1, first, first + len(rows) * degree,
        np.array(others, np.intp).reshape(len(rows), degree),
        np.array(targets, np.intp).reshape(len(rows), len(pairs)), left, right,
        _layers([row for near in others for row in near]),
        _layers([entry for some in targets for entry in some]),
    )


def _layers(targets: list[int]) -> Layers:
    """Split targets into layers in which none stands twice, each with its places in the list."""
    seen: dict[int, int] = {}
    layers: list[tuple[list[int], list[int]]] = []
    for place, target in enumerate(targets):
        number = seen[target] = seen.get(target, -1) + 1
        if number == len(layers):
            layers.append(([], []))
        layers[number][0].append(target)
        layers[number][1].append(place)
    return tuple((np.array(to, np.intp), np.array(of, np.intp)) for to, of in layers)


def _add(layers: Layers, values: Array, target: Array) -> None:
    """Add rows of values (m, d, B) to the rows of a target."""
    flat = values.reshape(-1, values.shape[-1])
    for to, places in layers:
        target[to] += flat if len(places) == len(flat) else flat[places]


def factorise(plan: Plan, conductance: Array, ground: Array) -> Factor:
    """Eliminate every node of a batch; `conductance` and `ground` are used up.

    Parameters
        conductance: of each entry [S], (n_entries, B)
        ground: of each row to the reference [S], (n_rows, B), > 0 somewhere in each island
    """
    shares: list[Array] = []
    totals: list[Array] = []
    for step in plan.steps:
        edges = conductance[step.first:step.last].reshape(*step.others.shape, ground.shape[1])
        own = ground[step.first_row:step.last_row]
        total = own + edges.sum(axis=1)
        share = edges / total[:, None]
        if step.onto:
            _add(step.onto, share * own[:, None], ground)
        if step.fill:
            _add(step.fill, share[:, step.left] * edges[:, step.right], conductance)
        shares.append(share)
        totals.append(total)
    return Factor(plan, tuple(shares), tuple(totals))


def connected(plan: Plan, joined: Bools, grounded: Bools) -> Bools:
    """Return which rows a chain of joints leads from to the reference (n_rows, B).

    By elimination as in `factorise`, with "and" for times and "or" for plus; both are used up.

    Parameters
        joined: whether each entry joins its rows (n_entries, B)
        grounded: whether each row is joined to the reference itself (n_rows, B)
    """
    kept: list[Bools] = []
    for step in plan.steps:
        edges = joined[step.first:step.last].reshape(*step.others.shape, joined.shape[1])
        _either(step.onto, edges & grounded[step.first_row:step.last_row, None], grounded)
        _either(step.fill, edges[:, step.left] & edges[:, step.right], joined)
        kept.append(edges)
    for step, edges in zip(reversed(plan.steps), reversed(kept), strict=True):
        grounded[step.first_row:step.last_row] |= (edges & grounded[step.others]).any(axis=1)
    return grounded


def _either(layers: Layers, values: Bools, target: Bools) -> None:
    """Set the rows of a target where rows of values (m, d, B) are set."""
    flat = values.reshape(-1, values.shape[-1])
    for to, places in layers:
        target[to] |= flat[places]


def solve_factored(factor: Factor, injected: Array) -> Array:
    """Return volts of every row for currents put into the rows [A]; `injected` is used up.

    `injected` is (n_rows, B); with a factored batch of one, B may be any number of right sides.
    """
    steps = factor.plan.steps
    for step, share in zip(steps, factor.shares, strict=True):
        if step.onto:
            _add(step.onto, share * injected[step.first_row:step.last_row, None], injected)
    for step, share, total in zip(
        reversed(steps), reversed(factor.shares), reversed(factor.totals), strict=True
    ):
        rows = injected[step.first_row:step.last_row]
        rows /= total
        if step.onto:
            rows += (share * injected[step.others]).sum(axis=1)
    return injected
