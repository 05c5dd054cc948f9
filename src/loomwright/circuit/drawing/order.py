"""Tracks side by side: which chains share a track, and the order of tracks from left to right.

A bounded hill climb on lane length, crossings and neighbourhood; the same circuit always gives
the same drawing because the work is counted, not timed.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field

from loomwright.circuit.drawing.graph import Graph
from loomwright.circuit.drawing.tracks import Tracks
from loomwright.circuit.model import BODY

__all__ = ["Columns", "arrange"]

# Elementary steps of the climb: at least, and for every track; 0.1 s for 12 tracks
_WORK, _WORK_PER_TRACK = 120_000, 12_000
_RESTARTS, _PATIENCE = 60, 9
_CROSSING, _FOREIGN, _LINK, _BOX, _LEFT, _NEAR = 3.0, 500.0, 4.0, 0.5, 0.6, 0.4


@dataclass(frozen=True, slots=True)
class Columns:
    """Chains by column from left to right, each column from top to bottom; cost of the order."""

    columns: tuple[tuple[int, ...], ...]
    cost: float
    foreign: int  # columns of others inside a box; 0 in a correct drawing


@dataclass(frozen=True, slots=True)
class _View:
    """Columns by their top chains: of lanes with the columns they would cross, boxes, relays."""

    lanes: list[tuple[tuple[int, ...], set[int]]]
    boxes: list[tuple[int, ...]]
    links: list[tuple[int, int]]
    pulls: list[tuple[int, float]]
    mixed: int  # columns that touch two boxes although they should not


@dataclass(slots=True)
class _State:
    order: list[int]  # the top chain of every column
    follow: dict[int, int] = field(default_factory=dict)  # chain -> chain below it
    view: _View | None = None

    def copy(self) -> _State:
        """Return a state to change the pairing of."""
        return _State(self.order[:], dict(self.follow))


class _Arranger:
    def __init__(self, graph: Graph, tracks: Tracks, one_box: bool) -> None:
        self.one_box = one_box
        self.graph, self.tracks, self.chains = graph, tracks, tracks.chains
        self.depth = _depths(tracks)
        self.steps = 0
        self.boxes = [frozenset({f"{b.part}:T", f"{b.part}:B"}) for b in graph.boxes]
        self.box_of = {v: i for i, box in enumerate(self.boxes) for v in box}
        sides = frozenset().union(*self.boxes) if self.boxes else frozenset()
        rails = {tracks.rail, BODY}
        self.lanes: dict[str, list[int]] = {}
        self.of_box: list[list[int]] = [[] for _ in self.boxes]
        for index, chain in enumerate(self.chains):
            for vertex in dict.fromkeys((chain.upper, chain.lower)):
                if vertex in rails:
                    continue
                if vertex in sides:
                    self.of_box[next(i for i, b in enumerate(self.boxes) if vertex in b)].append(
                        index)
                else:
                    self.lanes.setdefault(vertex, []).append(index)
        self.lanes = {vertex: found for vertex, found in self.lanes.items() if len(found) > 1}
        self.spans = [(self.depth[c.upper], self.depth[c.lower]) for c in self.chains]
        self.links = self._links()
        self.fed = [i for i, c in enumerate(self.chains) if c.upper == tracks.rail]
        self.battery = [
            i for i, c in enumerate(self.chains) if any(e.kind == "battery" for e in c.edges)
        ]

    def _links(self) -> list[tuple[int, int]]:
        """Return the chains of coil and contact of every relay."""
        coil = {e.element: i for i, c in enumerate(self.chains) for e in c.edges
                if e.kind == "coil"}
        contact = {e.element: i for i, c in enumerate(self.chains) for e in c.edges
                   if e.kind == "contact"}
        for i, chain in enumerate(self.chains):
            for node, vertex in ((chain.nodes[0], chain.upper), (chain.nodes[-1], chain.lower)):
                if vertex[-2:] == ":T":
                    contact.setdefault(node.split(".", 1)[0], i)
        return [(i, contact[name]) for name, i in coil.items() if name in contact]

    def columns(self, state: _State) -> list[list[int]]:
        """Return the chains of every column, left to right."""
        return [_column(state.follow, head) for head in state.order]

    def view(self, state: _State) -> _View:
        """Return what the cost needs for this pairing of chains; kept while only the order moves.
        """
        if state.view is None:
            state.view = self._look(state)
        return state.view

    def _look(self, state: _State) -> _View:
        head: dict[int, int] = {}
        spans: dict[int, list[tuple[float, float]]] = {}
        for top in state.order:
            column = _column(state.follow, top)
            head.update(dict.fromkeys(column, top))
            spans[top] = [self.spans[c] for c in column]
        lanes = []
        for vertex, chains in self.lanes.items():
            own = {head[c] for c in chains}
            level = self.depth[vertex]
            crossing = {
                top for top, found in spans.items()
                if top not in own and any(low < level < high for low, high in found)
            }
            if len(own) > 1:
                lanes.append((tuple(own), crossing))
        mixed = sum(self._boxes_on(_column(state.follow, top)) > 1 for top in state.order)
        boxes = [tuple({head[c] for c in chains}) for chains in self.of_box]
        links = [(head[a], head[b]) for a, b in self.links]
        pulls = [(head[c], _LEFT) for c in self.battery] + [(head[c], _NEAR) for c in self.fed]
        self.steps += 40 * len(lanes)
        return _View(lanes, [b for b in boxes if b], links, pulls,
                     mixed if self.one_box else 0)

    def cost(self, state: _State, limit: float = float("inf")) -> tuple[float, int]:
        """Return the cost and the columns inside foreign boxes; stops early above the limit."""
        view, order = self.view(state), state.order
        at = {head: x for x, head in enumerate(order)}
        total, foreign = 0.0, view.mixed
        for heads in view.boxes:
            places = [at[h] for h in heads]
            width = max(places) - min(places) + 1
            foreign += width - len(heads)
            total += _BOX * width
        for a, b in view.links:
            total += _LINK * max(0, abs(at[a] - at[b]) - 1)
        for head, weight in view.pulls:
            total += weight * at[head]
        total += _FOREIGN * foreign
        self.steps += len(order)
        for heads, crossing in view.lanes:
            if total >= limit:
                break
            xs = [at[h] for h in heads]
            left, right = min(xs), max(xs)
            total += right - left
            self.steps += 3
            if crossing and right - left > 1:
                total += _CROSSING * sum(h in crossing for h in order[left + 1: right])
        return total, foreign

    def start(self) -> _State:
        """Pair long chains with long ones below each junction; group columns by box."""
        state = _State([])
        for above, below in self._meetings().values():
            above.sort(key=lambda c: (-len(self.chains[c].edges), c))
            below.sort(key=lambda c: (-len(self.chains[c].edges), c))
            state.follow.update(zip(above, below, strict=False))
        if self.one_box:
            self._cut_between_boxes(state)
        lower = set(state.follow.values())
        heads = [i for i in range(len(self.chains)) if i not in lower]
        state.order = heads
        columns = dict(zip(heads, self.columns(state), strict=True))
        state.order = self._by_neighbours(heads, columns)
        return state

    def _boxes_on(self, column: list[int]) -> int:
        return len({self.box_of[v] for c in column
                    for v in (self.chains[c].upper, self.chains[c].lower) if v in self.box_of})

    def _cut_between_boxes(self, state: _State) -> None:
        """Unpair chains until no column touches two boxes."""
        lower = set(state.follow.values())
        todo = [i for i in range(len(self.chains)) if i not in lower]
        while todo:
            column = _column(state.follow, todo.pop())
            for length in range(2, len(column) + 1):
                if self._boxes_on(column[:length]) > 1:
                    del state.follow[column[length - 2]]
                    todo.append(column[length - 1])
                    break

    def _by_neighbours(self, heads: list[int], columns: dict[int, list[int]]) -> list[int]:
        """Columns of one box stand together, in the order in which boxes are first met."""
        home: dict[int, int] = {}
        for number, chains in enumerate(self.of_box):
            for head in heads:
                if head not in home and set(columns[head]) & set(chains):
                    home[head] = number
        order: list[int] = []
        for head in heads:
            if head in order:
                continue
            group = home.get(head)
            order += [h for h in heads if home.get(h) == group] if group is not None else [head]
        return order

    def _meetings(self) -> dict[str, tuple[list[int], list[int]]]:
        """Return, for each junction or box, the chains that end and those that begin there."""
        found: dict[str, tuple[list[int], list[int]]] = {}
        for index, chain in enumerate(self.chains):
            if chain.lower != BODY:
                found.setdefault(_through(chain.lower, "T"), ([], []))[0].append(index)
            if chain.upper != self.tracks.rail:
                found.setdefault(_through(chain.upper, "B"), ([], []))[1].append(index)
        return found

    def neighbours(self, state: _State) -> Iterator[_State]:
        """Yield single moves: a block of columns elsewhere, or two tails exchanged."""
        yield from _block_moves(state, 1)
        yield from self._tail_moves(state)
        yield from _block_moves(state, 2)
        yield from _block_moves(state, 3)

    def _tail_moves(self, state: _State) -> Iterator[_State]:
        for above, below in self._meetings().values():
            for a in above:
                for b in below:
                    moved = self._retail(state, a, b)
                    if moved is not None:
                        yield moved

    def _retail(self, state: _State, a: int, b: int) -> _State | None:
        """Return the state in which chain b stands below chain a, their former partners swapped."""
        old = state.follow.get(a)
        if old == b:
            return None
        new = state.copy()
        parent = next((c for c, below in new.follow.items() if below == b), None)
        new.follow[a] = b
        if parent is not None:
            if old is None:
                del new.follow[parent]
                return new
            new.follow[parent] = old
            return new
        if old is not None:
            new.order[new.order.index(b)] = old
        else:
            new.order.remove(b)
        return new


def _block_moves(state: _State, width: int) -> Iterator[_State]:
    """Yield the state with a block of columns moved, near moves first."""
    last = len(state.order) - width
    moves = ((i, j) for distance in range(1, len(state.order)) for i in range(last + 1)
             for j in (i - distance, i + distance))
    for i, j in moves:
        if 0 <= j <= last:
            order = state.order[:]
            block = order[i: i + width]
            del order[i: i + width]
            order[j:j] = block
            yield _State(order, state.follow, state.view)


def _column(follow: dict[int, int], head: int) -> list[int]:
    column = [head]
    while column[-1] in follow:
        column.append(follow[column[-1]])
    return column


def _through(vertex: str, side: str) -> str:
    """Chains pass from a box's top to its bottom in one column."""
    return f"{vertex[:-2]}:box" if vertex.endswith((":T", ":B")) else vertex


def _depths(tracks: Tracks) -> dict[str, float]:
    """Return a first guess of every vertex's height: the longest way down to it."""
    down: dict[str, list[tuple[str, float]]] = {}
    waiting: dict[str, int] = {}
    vertices = {v for c in tracks.chains for v in (c.upper, c.lower)}
    links = [(c.upper, c.lower, float(len(c.edges))) for c in tracks.chains]
    tops = [v[:-2] for v in vertices if v.endswith(":T")]
    links += [(f"{b}:T", f"{b}:B", 2.0) for b in tops if f"{b}:B" in vertices]
    for upper, lower, length in links:
        down.setdefault(upper, []).append((lower, length))
        waiting[lower] = waiting.get(lower, 0) + 1
    depth = dict.fromkeys(sorted(vertices), 0.0)
    ready = [v for v in depth if not waiting.get(v)]
    while ready:
        vertex = ready.pop()
        for lower, length in down.get(vertex, ()):
            depth[lower] = max(depth[lower], depth[vertex] + length)
            waiting[lower] -= 1
            if not waiting[lower]:
                ready.append(lower)
    return depth


def _climb(arranger: _Arranger, state: _State, limit: int) -> tuple[float, int, _State]:
    """Take the first better neighbour until there is none, or the work is used up."""
    best, foreign = arranger.cost(state)
    improved = True
    while improved and arranger.steps < limit:
        improved = False
        for other in arranger.neighbours(state):
            cost, inside = arranger.cost(other, best)
            if cost < best - 1e-9:
                state, best, foreign, improved = other, cost, inside, True
                break
            if arranger.steps >= limit:
                break
    return best, foreign, state


def _shaken(state: _State, seed: int) -> _State:
    """Return the state with a few blocks of columns moved, the same way for the same seed."""
    draw = random.Random(seed)
    order = state.order[:]
    for _ in range(3):
        i, j, width = draw.randrange(len(order)), draw.randrange(len(order)), draw.randint(1, 4)
        block = order[i: i + width]
        del order[i: i + width]
        at = min(j, len(order))
        order[at:at] = block if draw.random() < 0.5 else block[::-1]
    return _State(order, state.follow, state.view)


def arrange(graph: Graph, tracks: Tracks, one_box: bool = False) -> Columns:
    """Return the columns of a drawing, by hill climbs from shaken bests, of bounded work.

    With `one_box` no column touches two boxes; then boxes can always stand side by side.
    """
    arranger = _Arranger(graph, tracks, one_box)
    start = arranger.start()
    if not start.order:
        return Columns((), 0.0, 0)
    work = max(_WORK, _WORK_PER_TRACK * len(start.order))
    best, foreign, state = _climb(arranger, start, work)
    idle = 0
    for seed in range(_RESTARTS):
        if arranger.steps >= work or idle == _PATIENCE:
            break
        idle += 1
        cost, inside, other = _climb(arranger, _shaken(state, seed), work)
        if cost < best - 1e-9:
            best, foreign, state, idle = cost, inside, other, 0
    columns = tuple(tuple(column) for column in arranger.columns(state))
    return Columns(columns, best, foreign)
