"""Follows a circuit from one point back to the supply or the earth, the way the current goes.

The way is the cheapest path over wires and parts (Dijkstra): volts lost on an edge, a load crossed,
an open switch and a wire without current all make it dear, so in a state that works the path that
carries the current wins.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import BODY, Circuit, StateResult

__all__ = ["Hop", "trace_to"]

# Costs in volts, so that they compare with the volts an edge loses.
_PER_EDGE = 0.001  # the shorter of two equal ways
_IDLE_WIRE = 0.5
_OPEN_SWITCH = 2.0
_LOAD = 20.0
_UNKNOWN_VOLTS = 5.0  # one end floats
_LOAD_OHM = 5.0  # contacts and wires are far below, coils and pulls above
_IDLE_A = 1e-6
_OPEN_WORDS = frozenset({"open", "blown", "tripped", "out"})


@dataclass(frozen=True, slots=True)
class Hop:
    """One point on the way, with the wire or part crossed to reach it ('' for the first)."""

    point: str
    via: str = ""


@dataclass(frozen=True, slots=True)
class _Edge:
    other: str
    via: str
    cost: float


def trace_to(circuit: Circuit, result: StateResult, start: str, goal: str) -> tuple[Hop, ...]:
    """Return the way from a point to a rail, start first; empty where nothing leads there.

    Parameters
        result: a solved state of the circuit, which says where the current goes
        goal: 'supply' (a battery's positive post) or 'earth' (the body or a negative post)
    """
    batteries = [part.id for part in circuit.parts.values() if part.kind == "battery"]
    goals = {f"{name}.+" for name in batteries} if goal == "supply" else \
        {BODY, *(f"{name}.-" for name in batteries)}
    edges = _edges(circuit, result, start.split(".", 1)[0])
    queue: list[tuple[float, str]] = [(0.0, start)]
    came: dict[str, tuple[str, str]] = {start: ("", "")}
    best = {start: 0.0}
    done: set[str] = set()
    while queue:
        cost, point = heapq.heappop(queue)
        if point in goals:
            return _way(came, point)
        if point in done:
            continue
        done.add(point)
        for edge in edges.get(point, ()):
            total = cost + edge.cost
            if total < best.get(edge.other, float("inf")):
                best[edge.other] = total
                came[edge.other] = (point, edge.via)
                heapq.heappush(queue, (total, edge.other))
    return ()


def _way(came: Mapping[str, tuple[str, str]], end: str) -> tuple[Hop, ...]:
    """Walk back from the end to the start and return the hops in order."""
    hops: list[Hop] = []
    point = end
    while point:
        before, via = came[point]
        hops.append(Hop(point, via))
        point = before
    return tuple(reversed(hops))


def _edges(circuit: Circuit, result: StateResult, own_part: str) -> dict[str, list[_Edge]]:
    """Return the ways out of each point; the part that the trace starts from is not crossed."""
    edges: dict[str, list[_Edge]] = {}
    for a, b, via, extra in _links(circuit, result, own_part):
        cost = _PER_EDGE + extra + _lost(result, a, b)
        edges.setdefault(a, []).append(_Edge(b, via, cost))
        edges.setdefault(b, []).append(_Edge(a, via, cost))
    return edges


def _links(circuit: Circuit, result: StateResult, own_part: str
           ) -> Iterator[tuple[str, str, str, float]]:
    """Yield (point, point, wire or part, cost besides volts) of everything that can conduct."""
    for wire in circuit.wires.values():
        if wire.end is not None:
            idle = abs(result.wires.get(wire.id, 0.0)) < _IDLE_A
            yield wire.start.point, wire.end.point, wire.id, _IDLE_WIRE if idle else 0.0
    for part in circuit.parts.values():
        if part.kind == "battery" or part.id == own_part:
            continue
        open_cost = _OPEN_SWITCH if result.parts[part.id].doing in _OPEN_WORDS else 0.0
        for branch in KINDS[part.kind].branches(part, circuit.system_v):
            load = _LOAD if branch.ohm > _LOAD_OHM else 0.0
            via = branch.id if part.kind == "connector" else part.id  # one way of the connector
            yield branch.a, branch.b, via, open_cost + load


def _lost(result: StateResult, a: str, b: str) -> float:
    """Return the volts between two points; the body counts as joined to its earth points."""
    if BODY in {a, b}:
        return 0.0
    first, second = result.points.get(a), result.points.get(b)
    if first is None or second is None or first.floating or second.floating:
        return _UNKNOWN_VOLTS
    return abs(first.volts - second.volts)
