"""Heights: every junction, box and part gets its y by one sweep from the top.

Junctions are set in order of height. When a chain is laid, all lanes that cross its track are
known, so parts, rings and labels keep clear of them; lanes set later lie below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.circuit.drawing.graph import Edge
from loomwright.circuit.drawing.order import Columns
from loomwright.circuit.drawing.tracks import Tracks
from loomwright.circuit.model import BODY

__all__ = ["BOX", "CLEAR", "LANE", "PART", "Heights", "Piece", "heights"]

TOP = 64.0  # the supply rail
PART = 64.0  # a part from terminal to terminal
WIRE = 48.0  # shortest wire: the hit circles of its two ends just touch
LANE = 40.0  # between lanes that share a track
CLEAR = 18.0  # from a ring to a foreign lane
SLOT = 15.0  # half of a wire label's height
AIR = 7.0  # between a wire label and a foreign lane, where there is room
BOX = 116.0
_SHORT = {"lead": 36.0, "strap": 30.0, "nc": 26.0, "bend": 30.0, "earth": 46.0}
_LOADS = {"lamp", "led lamp", "motor", "solenoid", "heater", "horn", "earth", "strap", "battery"}
_PLAIN = {"lead", "strap", "nc", "bend", "earth"}


@dataclass(frozen=True, slots=True)
class Piece:
    """One edge in place: from y0 to y1, its symbol or label centred at `centre`."""

    edge: Edge
    upper: str
    lower: str
    y0: float
    y1: float
    centre: float


@dataclass(frozen=True, slots=True)
class Heights:
    """The y of every junction and box side, and the pieces of every chain."""

    y: dict[str, float]
    pieces: tuple[tuple[Piece, ...], ...]


def _free(y0: float, y1: float, lanes: Sequence[float]) -> bool:
    return not any(y0 < lane < y1 for lane in lanes)


def _slot(y0: float, y1: float, lanes: Sequence[float]) -> float | None:
    """Return the centre for a wire label, nearest the middle, that no lane runs through.

    Where there is room, none runs close to it either.
    """
    middle, reach = (y0 + y1) / 2, (y1 - y0) / 2 - SLOT - 8
    for clear in (AIR, 1.0) if lanes else (0.0,):
        step = 0.0
        while step <= reach + 1e-9:
            for centre in (middle - step, middle + step):
                if _free(centre - SLOT - clear, centre + SLOT + clear, lanes):
                    return centre
            step += 2.0
    return None


def _length(edge: Edge) -> float:
    return WIRE if edge.kind == "wire" else _SHORT.get(edge.kind, PART)


Spot = tuple[float, float, float]


def _hang(edges: Sequence[Edge], start: float, lanes: Sequence[float]) -> list[Spot]:
    """Return y0, y1 and centre of every edge, as short as lanes allow, downwards from start."""
    y, spots = start, list[Spot]()
    for index, edge in enumerate(edges):
        size = _length(edge)
        following = edges[index + 1] if index + 1 < len(edges) else None
        if edge.kind == "wire" or edge.kind in _PLAIN:
            below = 0.0 if following is None or following.kind == "wire" else _length(following)
            end = y + size
            while not _wire_fits(edge, y, end, below, lanes):
                end += 4.0
            spots.append((y, end, _slot(y, end, lanes) or (y + end) / 2))
        else:
            symbol = y  # the first part's upper lead may be stretched past lanes
            while not _free(symbol - CLEAR * bool(index), symbol + size + CLEAR, lanes):
                symbol += 4.0
            end = symbol + size
            spots.append((y, end, symbol + size / 2))
        y = end
    return spots


def _wire_fits(edge: Edge, y: float, end: float, below: float, lanes: Sequence[float]) -> bool:
    if not _free(end - CLEAR, end + below + CLEAR, lanes):
        return False
    return edge.kind != "wire" or _slot(y, end, lanes) is not None


def _fit(edges: Sequence[Edge], top: float, bottom: float, lanes: Sequence[float]) -> list[Spot]:
    """Return the spots of a chain between two heights: loads stand below, the rest hangs."""
    load = next((i for i, e in enumerate(edges) if e.kind in _LOADS), len(edges))
    stretch = next((i for i in reversed(range(load)) if edges[i].kind == "wire"), None)
    if stretch is not None:
        above = _hang(edges[:stretch], top, lanes)
        mirrored = _hang(edges[:stretch:-1], -bottom, [-lane for lane in lanes])
        below = [(-y1, -y0, -centre) for y0, y1, centre in reversed(mirrored)]
        y0 = above[-1][1] if above else top
        y1 = below[0][0] if below else bottom
        ends_clear = all(_free(y - CLEAR, y + CLEAR, lanes) for y in (y0, y1))
        if y1 - y0 >= WIRE and ends_clear and (slot := _slot(y0, y1, lanes)) is not None:
            return [*above, (y0, y1, slot), *below]
    spots = _hang(edges, top, lanes)
    y0, _, centre = spots[-1]
    if edges[-1].kind == "wire":
        centre = _slot(y0, bottom, lanes) or centre
    return [*spots[:-1], (y0, bottom, centre)]


class _Sweep:
    def __init__(self, tracks: Tracks, columns: Columns) -> None:
        self.chains = tracks.chains
        self.column = {c: x for x, col in enumerate(columns.columns) for c in col}
        self.rail = tracks.rail
        self.y: dict[str, float] = {}
        self.spots: dict[int, list[Spot]] = {}
        self.zones: list[tuple[float, float, int, int, str]] = []
        self.into: dict[str, list[int]] = {}
        self.reach: dict[str, tuple[int, int]] = {}
        for index, chain in enumerate(self.chains):
            self.into.setdefault(chain.lower, []).append(index)
            for vertex in (chain.upper, chain.lower):
                self._widen(vertex, self.column[index])
        self.width = len(columns.columns)
        self.boxes = {_whole(v) for c in self.chains for v in (c.upper, c.lower)
                      if v.endswith((":T", ":B"))}

    def _widen(self, vertex: str, column: int) -> None:
        name = _whole(vertex)
        left, right = self.reach.get(name, (column, column))
        self.reach[name] = min(left, column), max(right, column)

    def _lanes(self, index: int) -> list[float]:
        """Return the heights of foreign lanes that cross a chain's track."""
        chain, x = self.chains[index], self.column[index]
        own = {_whole(chain.upper), _whole(chain.lower)}
        return [low for low, high, a, b, name in self.zones
                if a <= x <= b and a < b and low == high and name not in own]

    def run(self) -> Heights:
        """Set every vertex, lowest first, the body last."""
        if self.rail:
            self._set(self.rail, TOP)
        names = dict.fromkeys(_whole(v) for c in self.chains for v in (c.upper, c.lower))
        pending = [name for name in names if name not in (self.rail, BODY)]
        cache: dict[str, float] = {}
        while pending:
            ready = [v for v in pending if self._is_ready(v)] or pending[:1]
            for vertex in ready:
                if vertex not in cache:
                    cache[vertex] = self._candidate(vertex)
            chosen = min(ready, key=lambda v: (cache[v], pending.index(v)))
            pending.remove(chosen)
            left, right = self._extent(chosen)
            self._set(chosen, cache.pop(chosen))
            for vertex in list(cache):
                a, b = self._extent(vertex)
                if a <= right and left <= b:
                    del cache[vertex]
        floor = max([*self.y.values(), TOP]) + 56
        self._set(BODY, max(self._candidate(BODY), floor) if BODY in self.into else floor)
        return Heights(self.y, tuple(self._pieces(i) for i in range(len(self.chains))))

    def _extent(self, vertex: str) -> tuple[int, int]:
        return self.reach.get(vertex, (0, self.width))

    def _incoming(self, name: str) -> list[int]:
        return self.into.get(f"{name}:T", []) if name not in self.into else self.into[name]

    def _is_ready(self, name: str) -> bool:
        return all(self.chains[i].upper in self.y for i in self._incoming(name))

    def _candidate(self, name: str) -> float:
        y = TOP + (60 if name != BODY else 0)
        for index in self._incoming(name):
            chain = self.chains[index]
            start = self.y.get(chain.upper, TOP)
            y = max(y, _hang(chain.edges, start, self._lanes(index))[-1][1])
        if name == BODY:
            return y
        left, right = self._extent(name)
        moved = True
        while moved:
            moved = False
            for low, high, a, b, _ in self.zones:
                if a <= right and left <= b and low - LANE < y < high + LANE:
                    y, moved = high + LANE, True
        return y

    def _set(self, name: str, y: float) -> None:
        left, right = self._extent(name)
        box = name in self.boxes
        if box:
            self.y[f"{name}:T"], self.y[f"{name}:B"] = y, y + BOX
        else:
            self.y[name] = y
        if name != BODY:
            self.zones.append((y, y + BOX if box else y, left, right, name))
        for index in self._incoming(name):
            chain = self.chains[index]
            top = self.y.get(chain.upper, TOP)
            self.spots[index] = _fit(chain.edges, top, y, self._lanes(index))

    def _pieces(self, index: int) -> tuple[Piece, ...]:
        chain = self.chains[index]
        return tuple(
            Piece(edge, chain.nodes[i], chain.nodes[i + 1], *self.spots[index][i])
            for i, edge in enumerate(chain.edges)
        )


def _whole(vertex: str) -> str:
    """Return the box of a box side, or the vertex itself."""
    return vertex[:-2] if vertex.endswith((":T", ":B")) else vertex


def heights(tracks: Tracks, columns: Columns) -> Heights:
    """Return the y of everything in a drawing."""
    return _Sweep(tracks, columns).run()
