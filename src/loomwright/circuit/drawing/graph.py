"""The circuit as a graph to draw: conductors between points, and boxes for parts of many pins.

A part of two pins is one edge, a relay a coil edge and a contact edge, a connector one edge for
each wired way. Controllers and changeover contacts are boxes with pins on top and below.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable
from dataclasses import dataclass

from loomwright.circuit.model import BODY, Circuit, ControllerInput, ControllerOutput, Part

__all__ = ["Box", "Edge", "Graph", "is_virtual", "read_graph"]


# What a link between two batteries in series may lead through.
_PLAIN = frozenset({"wire", "way", "switch", "fuse", "fusible link", "circuit breaker"})


@dataclass(frozen=True, slots=True)
class Edge:
    """A conductor or part between two nodes. Kinds: wire, earth, strap, lead, nc, bend, or a part.

    A lead lengthens a pin of a box; nc is a pin without a wire; a bend is the unlabelled rest of a
    wire that has to turn round.
    """

    kind: str
    element: str
    a: str
    b: str


@dataclass(frozen=True, slots=True)
class Box:
    """A part of many pins: its points on top (current enters) and below (current leaves)."""

    part: str
    top: tuple[str, ...]
    bottom: tuple[str, ...]
    framed: bool = True  # a changeover contact has no frame


@dataclass(frozen=True, slots=True)
class Graph:
    """Everything to draw, and the point on the supply rail ('' without a battery)."""

    edges: tuple[Edge, ...]
    boxes: tuple[Box, ...]
    rail: str


def is_virtual(node: str) -> bool:
    """Return whether a node is the drawing's own and no point of the circuit."""
    return "~" in node


def read_graph(circuit: Circuit, only: frozenset[str] = frozenset()) -> Graph:
    """Return the graph of a circuit; `only` keeps edges of these elements, boxes' pins with them.

    `only` holds wire ids, part ids and ways; empty means everything.
    """
    wires = [
        Edge("wire", wire.id, wire.start.point, wire.end.point if wire.end else f"~end {wire.id}")
        for wire in circuit.wires.values()
    ]
    wired = Counter(node for edge in wires for node in (edge.a, edge.b))
    edges, boxes = [*wires], list[Part]()
    for part in circuit.parts.values():
        found = _edges_of(part, wired)
        edges += found
        if _is_box(part):
            boxes.append(part)
    edges += _straps(circuit)
    rail = _top_post(circuit, edges)
    if only:
        edges = [edge for edge in edges if edge.element in only]
        boxes = [part for part in boxes if part.id in only or _touched(part, edges)]
        wired = Counter(n for edge in edges if edge.kind == "wire" for n in (edge.a, edge.b))
    return _with_boxes(edges, boxes, rail, wired, bool(only))


def _top_post(circuit: Circuit, edges: Iterable[Edge]) -> str:
    """Return the post on the supply rail: of batteries in series, the plus of the uppermost."""
    batteries = [part.id for part in circuit.parts.values() if part.kind == "battery"]
    joined: dict[str, list[str]] = {}
    for edge in edges:
        if edge.kind in _PLAIN:
            joined.setdefault(edge.a, []).append(edge.b)
            joined.setdefault(edge.b, []).append(edge.a)
    top, below = batteries[0] if batteries else "", set[str]()
    while top and top not in below:
        below.add(top)
        seen = _reach(joined, f"{top}.+")
        top = next((name for name in batteries if name not in below and f"{name}.-" in seen), top)
    return f"{top}.+" if top else ""


def _reach(joined: dict[str, list[str]], start: str) -> set[str]:
    seen, todo = {start}, [start]
    while todo:
        for other in joined.get(todo.pop(), ()):
            if other not in seen:
                seen.add(other)
                todo.append(other)
    return seen


def _touched(part: Part, edges: Iterable[Edge]) -> bool:
    ends = {node for edge in edges for node in (edge.a, edge.b)}
    return any(point in ends for point in _box_points(part))


def _is_box(part: Part) -> bool:
    if part.kind == "relay":
        return "87a" in part.pins
    return part.kind not in ("connector",) and (part.kind == "controller" or len(part.pins) > 2)


def _box_points(part: Part) -> tuple[str, ...]:
    if part.kind == "relay":
        return tuple(f"{part.id}.{pin}" for pin in ("30", "87", "87a"))
    return part.points()


def _edges_of(part: Part, wired: Counter[str]) -> list[Edge]:
    points = part.points()
    if part.kind == "relay":
        coil = Edge("coil", part.id, f"{part.id}.86", f"{part.id}.85")
        contact = Edge("contact", part.id, f"{part.id}.30", f"{part.id}.87")
        return [coil] if _is_box(part) else [coil, contact]
    if part.kind == "connector":
        ways = list(dict.fromkeys(pin[:-1] for pin in part.pins))
        pairs = [(f"{part.id}.{way}", f"{part.id}.{way}a", f"{part.id}.{way}b") for way in ways]
        used = [pair for pair in pairs if wired[pair[1]] or wired[pair[2]]] or pairs[:1]
        return [Edge("way", name, a, b) for name, a, b in used]
    if part.kind == "earth":
        return [Edge("earth", part.id, part.id, BODY)]
    if _is_box(part):
        return []
    if len(points) == 2:
        return [Edge(part.kind, part.id, *points)]
    return [] if wired[points[0]] else [Edge("nc", part.id, points[0], f"~nc {points[0]}")]


def _straps(circuit: Circuit) -> list[Edge]:
    """Join battery negative posts to the body by the same rule as the solver."""
    earths = {part.id for part in circuit.parts.values() if part.kind == "earth"}
    posts = [f"{part.id}.-" for part in circuit.parts.values() if part.kind == "battery"]
    far: dict[str, set[str]] = {post: set() for post in posts}
    for wire in circuit.wires.values():
        if wire.end is not None:
            for one, other in ((wire.start, wire.end), (wire.end, wire.start)):
                if one.point in far:
                    far[one.point].add(other.part)
    return [
        Edge("strap", post, post, BODY)
        for number, post in enumerate(posts)
        if earths and not far[post] & earths and (number == 0 or not far[post])
    ]


def _with_boxes(
    edges: list[Edge], boxes: list[Part], rail: str, wired: Counter[str], partly: bool
) -> Graph:
    nodes = {node for edge in edges for node in (edge.a, edge.b)}
    sides = _Sides(edges, rail, frozenset(p for part in boxes for p in _box_points(part)))
    placed, joined = [], set[str]()
    for part in boxes:
        points = [p for p in _box_points(part) if not partly or p in nodes]
        top = tuple(point for point in points if sides.on_top(part, point))
        bottom = tuple(point for point in points if point not in top)
        placed.append(Box(part.id, top, bottom, framed=part.kind != "relay"))
        joined.update(point for point in points if wired[point] > 1)
        for point in points:
            if wired[point] > 1:
                edges.append(Edge("lead", part.id, point, f"{point}~"))
            elif not wired[point]:
                edges.append(Edge("nc", part.id, point, f"~nc {point}"))

    def end(edge: Edge, node: str) -> str:
        return f"{node}~" if node in joined and edge.kind == "wire" else node

    moved = [Edge(e.kind, e.element, end(e, e.a), end(e, e.b)) for e in edges]
    return Graph(tuple(moved), tuple(placed), rail if rail in nodes else "")


class _Sides:
    """Which side of its box a pin belongs on."""

    def __init__(self, edges: Iterable[Edge], rail: str, pins: frozenset[str]) -> None:
        self._next: dict[str, list[str]] = {}
        for edge in edges:
            self._next.setdefault(edge.a, []).append(edge.b)
            self._next.setdefault(edge.b, []).append(edge.a)
        self._pins = pins
        self._from_rail = self._steps(rail) if rail else {}
        self._from_body = self._steps(BODY)

    def _steps(self, start: str) -> dict[str, int]:
        """Return steps from a rail, not through boxes nor the other rail."""
        steps, queue = {start: 0}, deque([start])
        while queue:
            node = queue.popleft()
            if node in self._pins or (node == BODY and start != BODY):
                continue
            for other in self._next.get(node, ()):
                if other not in steps:
                    steps[other] = steps[node] + 1
                    queue.append(other)
        return steps

    def on_top(self, part: Part, point: str) -> bool:
        """Return whether current enters here, as the controller's file says or else by reach."""
        if part.kind == "relay":
            return point.endswith(".30")
        far = 10**6
        by_reach = self._from_rail.get(point, far) < self._from_body.get(point, far)
        wanted = self._wanted(part, point.split(".", 1)[1])
        if wanted is None:
            return by_reach
        dangling = point not in self._from_rail and point not in self._from_body
        return wanted and not (dangling and self._ends_loose(point))

    def _ends_loose(self, point: str) -> bool:
        seen, todo = {point}, [point]
        while todo:
            for other in self._next.get(todo.pop(), ()):
                if other in self._pins and other != point:
                    return False
                if other not in seen:
                    seen.add(other)
                    todo.append(other)
        return True

    @staticmethod
    def _wanted(part: Part, pin: str) -> bool | None:
        if pin == part.params.get("supply"):
            return True
        if pin == part.params.get("earth"):
            return False
        for key in ("inputs", "outputs"):
            items = part.params.get(key, ())
            for item in items if isinstance(items, tuple) else ():
                if isinstance(item, ControllerInput) and item.pin == pin:
                    return item.pull != "up"
                if isinstance(item, ControllerOutput) and item.pin == pin:
                    return item.drives == "low side"
        return None
