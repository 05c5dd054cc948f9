"""Chains: the circuit cut at its junctions, every chain turned so that current runs down.

Which end is up follows from potentials of a network of equal resistances between the supply (1)
and the body (0). Chains that would have to run up are given a turn (a bend), so that the result is
always without cycles.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from loomwright.circuit.drawing.graph import Edge, Graph
from loomwright.circuit.model import BODY

__all__ = ["Chain", "Tracks", "cut_into_tracks", "one_box_per_track"]


@dataclass(frozen=True, slots=True)
class Chain:
    """Edges in series, top to bottom: `nodes[0]` is the upper end; `edges` join the nodes."""

    upper: str
    lower: str
    nodes: tuple[str, ...]
    edges: tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class Tracks:
    """All chains, with the box side (vertex) of every box pin."""

    chains: tuple[Chain, ...]
    pin_vertex: dict[str, str]
    rail: str

    def vertex(self, node: str) -> str:
        """Return what carries a node's height: a side of a box, or the node itself."""
        return self.pin_vertex.get(node, node)


def cut_into_tracks(graph: Graph) -> Tracks:
    """Return the chains of a graph, oriented downwards without a cycle."""
    pins = {p: f"{box.part}:T" for box in graph.boxes for p in box.top}
    pins |= {p: f"{box.part}:B" for box in graph.boxes for p in box.bottom}
    raw = _cut(graph, pins)
    return Tracks(tuple(_Turner(graph, pins, raw).turned()), pins, graph.rail)


Raw = tuple[tuple[str, ...], tuple[Edge, ...]]


def _cut(graph: Graph, pins: dict[str, str]) -> list[Raw]:
    at: dict[str, list[int]] = {}
    for index, edge in enumerate(graph.edges):
        at.setdefault(edge.a, []).append(index)
        at.setdefault(edge.b, []).append(index)
    ends = {n for n, found in at.items() if len(found) != 2 or n in pins}
    ends |= {graph.rail, BODY} & at.keys()
    used: set[int] = set()
    chains: list[Raw] = []

    def walk(start: str) -> None:
        for first in at[start]:
            if first in used:
                continue
            nodes, edges, index = [start], list[Edge](), first
            while True:
                used.add(index)
                edge = graph.edges[index]
                edges.append(edge)
                nodes.append(edge.b if edge.a == nodes[-1] else edge.a)
                onward = [i for i in at[nodes[-1]] if i not in used]
                if nodes[-1] in ends or not onward:
                    break
                index = onward[0]
            chains.append((tuple(nodes), tuple(edges)))

    for node in at:
        if node in ends:
            walk(node)
    for index, edge in enumerate(graph.edges):
        if index not in used:  # a ring without a junction
            ends.add(edge.a)
            walk(edge.a)
    return chains


class _Turner:
    """Orients chains one by one and keeps the order free of cycles."""

    def __init__(self, graph: Graph, pins: dict[str, str], raw: list[Raw]) -> None:
        self.graph, self.pins, self.raw = graph, pins, raw
        self.below: dict[str, set[str]] = {}
        for box in graph.boxes:
            self.below.setdefault(f"{box.part}:T", set()).add(f"{box.part}:B")
        self.rank = self._ranks()
        self.done: list[Chain] = []
        self.bends = 0

    def vertex(self, node: str) -> str:
        return self.pins.get(node, node)

    def _ranks(self) -> dict[str, tuple[float, int, int]]:
        names: dict[str, int] = {}
        links: list[tuple[int, int, float]] = []

        def number(vertex: str) -> int:
            return names.setdefault(vertex, len(names))

        for nodes, edges in self.raw:
            a, b = number(self.vertex(nodes[0])), number(self.vertex(nodes[-1]))
            links.append((a, b, 1.0 / len(edges)))
        for box in self.graph.boxes:
            links.append((number(f"{box.part}:T"), number(f"{box.part}:B"), 0.5))
        matrix = np.eye(len(names)) * 1e-9
        right = np.full(len(names), 0.5e-9)
        for a, b, conductance in links:
            matrix[[a, b], [a, b]] += conductance
            matrix[a, b] -= conductance
            matrix[b, a] -= conductance
        for name, volts in ((self.graph.rail, 1.0), (BODY, 0.0)):
            if name in names:
                matrix[names[name], names[name]] += 1e6
                right[names[name]] += volts * 1e6
        potential = np.linalg.solve(matrix, right) if names else right
        steps = self._steps(names, links)
        return {
            name: (-round(float(potential[i]), 5), steps[i], i) for name, i in names.items()
        }

    def _steps(self, names: dict[str, int], links: list[tuple[int, int, float]]) -> list[int]:
        starts = [names[n] for n in (self.graph.rail, BODY) if n in names] or [0]
        near: dict[int, list[int]] = {}
        for a, b, _ in links:
            near.setdefault(a, []).append(b)
            near.setdefault(b, []).append(a)
        steps = [10**6] * len(names)
        queue = deque(i for i in starts if i < len(steps))
        for start in queue:
            steps[start] = 0
        while queue:
            node = queue.popleft()
            for other in near.get(node, ()):
                if steps[other] > steps[node] + 1:
                    steps[other] = steps[node] + 1
                    queue.append(other)
        return steps

    def _reaches(self, start: str, goal: str) -> bool:
        seen, todo = set[str](), [start]
        while todo:
            node = todo.pop()
            if node == goal:
                return True
            if node not in seen:
                seen.add(node)
                todo += self.below.get(node, ())
        return False

    def _may_be_upper(self, vertex: str) -> bool:
        return not vertex.endswith(":T") and vertex != BODY

    def _may_be_lower(self, vertex: str) -> bool:
        return not vertex.endswith(":B") and vertex != self.graph.rail

    def turned(self) -> list[Chain]:
        """Return all chains; those at box pins first, as they have no choice."""

        def freedom(raw: Raw) -> tuple[int, tuple[float, int, int]]:
            a, b = (self.vertex(raw[0][i]) for i in (0, -1))
            fixed = sum(v[-2:] in (":T", ":B") for v in (a, b))
            return -fixed, min(self.rank[a], self.rank[b])

        for nodes, edges in sorted(self.raw, key=freedom):
            self._turn(nodes, edges)
        return self.done

    def _turn(self, nodes: tuple[str, ...], edges: tuple[Edge, ...]) -> None:
        a, b = self.vertex(nodes[0]), self.vertex(nodes[-1])
        if self.rank[b] < self.rank[a]:
            nodes, edges, a, b = nodes[::-1], edges[::-1], b, a
        if self._possible(a, b):
            self._add(nodes, edges)
        elif self._possible(b, a):
            self._add(nodes[::-1], edges[::-1])
        elif self._may_be_upper(a) and self._may_be_upper(b):
            self._meet_below(nodes, edges)
        elif self._may_be_lower(a) and self._may_be_lower(b):
            self._part_above(nodes, edges)
        else:
            self._go_round(nodes, edges, a)

    def _possible(self, upper: str, lower: str) -> bool:
        return (
            upper != lower and self._may_be_upper(upper) and self._may_be_lower(lower)
            and not self._reaches(lower, upper)
        )

    def _add(self, nodes: tuple[str, ...], edges: tuple[Edge, ...]) -> None:
        chain = Chain(self.vertex(nodes[0]), self.vertex(nodes[-1]), nodes, edges)
        self.below.setdefault(chain.upper, set()).add(chain.lower)
        self.done.append(chain)

    def _bend(self) -> str:
        self.bends += 1
        return f"~bend {self.bends}"

    def _split(
        self, nodes: tuple[str, ...], edges: tuple[Edge, ...]
    ) -> tuple[tuple[str, ...], tuple[Edge, ...], int]:
        """Return the chain with an interior node to turn at, and the index of that node."""
        if len(edges) > 1:
            return nodes, edges, (len(edges) + 1) // 2
        bend, wire = self._bend(), edges[0]
        # where several wires meet at a pin, what turns is the lead to it and no wire
        rest = Edge("bend" if wire.kind == "wire" else "lead", wire.element, bend, nodes[1])
        return (nodes[0], bend, nodes[1]), (Edge(wire.kind, wire.element, nodes[0], bend), rest), 1

    def _meet_below(self, nodes: tuple[str, ...], edges: tuple[Edge, ...]) -> None:
        nodes, edges, at = self._split(nodes, edges)
        self._add(nodes[: at + 1], edges[:at])
        self._add(nodes[at:][::-1], edges[at:][::-1])

    def _part_above(self, nodes: tuple[str, ...], edges: tuple[Edge, ...]) -> None:
        nodes, edges, at = self._split(nodes, edges)
        self._add(nodes[: at + 1][::-1], edges[:at][::-1])
        self._add(nodes[at:], edges[at:])

    def _go_round(self, nodes: tuple[str, ...], edges: tuple[Edge, ...], a: str) -> None:
        """From a bottom pin to a top pin further up: down, up a track of its own, down again."""
        if not self._may_be_upper(a):
            nodes, edges = nodes[::-1], edges[::-1]
        at = next(i for i, edge in enumerate(edges) if edge.kind == "wire")
        low, high, wire = self._bend(), self._bend(), edges[at]
        first = Edge("bend", wire.element, nodes[at], low)
        last = Edge("bend", wire.element, high, nodes[at + 1])
        self._add((*nodes[: at + 1], low), (*edges[:at], first))
        self._add((high, low), (Edge("wire", wire.element, high, low),))
        self._add((high, *nodes[at + 1:]), (last, *edges[at + 1:]))


def one_box_per_track(tracks: Tracks) -> Tracks:
    """Return the tracks with every chain between two different boxes cut in two by a bend.

    Then each track belongs to one box at most, and boxes can always stand side by side.
    """
    chains: list[Chain] = []
    for number, chain in enumerate(tracks.chains):
        sides = chain.upper.endswith(":B") and chain.lower.endswith(":T")
        if not sides:
            chains.append(chain)
            continue
        at = next(i for i, edge in enumerate(chain.edges) if edge.kind == "wire")
        bend, nodes, edges = f"~bend box {number}", chain.nodes, chain.edges
        rest = Edge("bend", edges[at].element, bend, nodes[at + 1])
        chains.append(Chain(chain.upper, bend, (*nodes[: at + 1], bend), edges[: at + 1]))
        chains.append(Chain(bend, chain.lower, (bend, *nodes[at + 1:]), (rest, *edges[at + 1:])))
    return Tracks(tuple(chains), tracks.pin_vertex, tracks.rail)
