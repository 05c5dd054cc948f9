"""Widths: labels beside their tracks, tracks as close as the labels allow, and the final geometry.

Every label has a side and a reserved rectangle, so none can overlap: part names stand left of
their symbol, wires' words right of the wire, pin numbers and volts beside the part's end of its
terminal. The distance of two tracks follows from the words that face each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.circuit.drawing import labels as words
from loomwright.circuit.drawing.gaps import PITCH, Gaps, Note
from loomwright.circuit.drawing.graph import Box, Graph, is_virtual
from loomwright.circuit.drawing.layout import (
    BoxArea,
    Label,
    Lane,
    Layout,
    Link,
    Point,
    Run,
    Symbol,
)
from loomwright.circuit.drawing.order import Columns
from loomwright.circuit.drawing.place import BOX, Heights, Piece
from loomwright.circuit.drawing.tracks import Tracks
from loomwright.circuit.model import BODY, ControllerInput, ControllerOutput, Part, Wire

__all__ = ["Drawn", "compose"]

_PLAIN = {"wire", "lead", "strap", "nc", "bend", "earth"}
HALF_WIDTH = {"coil": 19.0, "solenoid": 19.0, "motor": 17.0, "lamp": 16.0, "battery": 17.0,
              "horn": 16.0, "heater": 11.0, "diode": 11.0}
_RIGHT_EXTRA = {"solenoid": 22.0, "horn": 4.0}
RAIL_X = 60.0  # where the rails begin, right of their names
STATE_WIDTH = words.text_width("not closed")
RELAY_STATE_WIDTH = words.text_width("off, suspect", bold=True)
_BESIDE = 12.0  # from a ring to its number and volts
_RELAY_LEFT = 44.0  # past the pin numbers, which have two figures
_BADGE = words.text_width(" suspect", bold=True)
_VOLTS = words.text_width("−24.9 V next", bold=True)


@dataclass(frozen=True, slots=True)
class Drawn:
    """The parts and wires of a drawing, by id."""

    parts: Mapping[str, Part]
    wires: Mapping[str, Wire]


@dataclass(frozen=True, slots=True)
class _Spot:
    point: str
    column: int
    y: float
    volts_dx: float
    volts_y: float


class _Composer:
    def __init__(self, drawn: Drawn, graph: Graph, tracks: Tracks, columns: Columns,
                 heights: Heights) -> None:
        self.drawn, self.graph, self.tracks, self.heights = drawn, graph, tracks, heights
        self.column = {c: x for x, col in enumerate(columns.columns) for c in col}
        self.count = len(columns.columns)
        self.pieces = [(self.column[i], p) for i, ps in enumerate(heights.pieces) for p in ps]
        self.notes: list[Note] = []
        self.spots: dict[str, _Spot] = {}
        self.ends: dict[str, set[int]] = {}
        self.joined: dict[str, int] = {}
        for index, chain in enumerate(tracks.chains):
            for vertex in (chain.upper, chain.lower):
                self.ends.setdefault(vertex, set()).add(self.column[index])
                self.joined[vertex] = self.joined.get(vertex, 0) + 1
        self.pins = {
            node: self.column[i] for i, c in enumerate(tracks.chains)
            for node in (c.nodes[0], c.nodes[-1]) if node in tracks.pin_vertex
        }
        self.links = self._linked()

    # -- relays ---------------------------------------------------------------------------------

    def _linked(self) -> dict[str, tuple[int, float, int, float]]:
        """Return coil column, y, contact column, y of every relay that has both."""
        coil = {p.edge.element: (x, p.centre) for x, p in self.pieces if p.edge.kind == "coil"}
        contact = {p.edge.element: (x, p.centre) for x, p in self.pieces
                   if p.edge.kind == "contact"}
        for box in self.graph.boxes:
            if not box.framed and box.top and box.top[0] in self.pins:
                y = self.heights.y[f"{box.part}:T"] + BOX / 2
                contact[box.part] = (self.pins[box.top[0]], y)
        return {name: (*coil[name], *contact[name]) for name in coil if name in contact}

    def _drawn_links(self) -> dict[str, tuple[int, float, int, float]]:
        """Return the relays whose coil and contact are neighbours with a free gap between."""
        found: dict[str, tuple[int, float, int, float]] = {}
        taken: list[tuple[int, float, float]] = []
        for name, (a, ya, b, yb) in self.links.items():
            low, high, gap = min(ya, yb) - 40, max(ya, yb) + 40, min(a, b)
            clash = any(g == gap and l0 < high and low < h0 for g, l0, h0 in taken)
            if abs(a - b) == 1 and not clash and not self._behind_box(gap, low, high):
                found[name] = (a, ya, b, yb)
                taken.append((gap, low, high))
        return found

    def _behind_box(self, gap: int, low: float, high: float) -> bool:
        """Return whether a dashed line down a gap would run through a box."""
        for box in self.graph.boxes:
            columns = [self.pins[p] for p in (*box.top, *box.bottom)]
            top = self.heights.y[f"{box.part}:T"]
            if min(columns) <= gap < max(columns) and top < high and low < top + BOX:
                return True
        return False

    # -- words ----------------------------------------------------------------------------------

    def _note(self, note: Note) -> None:
        self.notes.append(note)

    def _wire(self, x: int, piece: Piece) -> None:
        lines = words.wire_lines(self.drawn.wires[piece.edge.element])
        width = max(words.text_width(lines[0], bold=True) + _BADGE, words.text_width(lines[1]))
        c = piece.centre
        self._note(Note(x, "R", 9, width, c - 15, c + 15, "wire", piece.edge.element, lines,
                         c - 2.5))

    def _terminal(self, point: str, x: int, y: float, down: float) -> None:
        """Ring of a part's terminal; number and volts on the part's side (down 1 or -1)."""
        base = y + 15.5 if down > 0 else y - 6.5
        y0, y1 = base - 10, base + 0.5
        self.spots[point] = _Spot(point, x, y, _BESIDE, base)
        self._note(Note(x, "R", _BESIDE, _VOLTS, y0, y1, "volts", point, (), base))
        pin = point.split(".", 1)[1] if "." in point else ""
        if pin:
            self._note(Note(x, "L", _BESIDE, words.text_width(pin), y0, y1, "number", point,
                             (pin,), base))

    def _part(self, x: int, piece: Piece) -> None:
        edge, c = piece.edge, piece.centre
        part_id = edge.element if edge.kind != "way" else edge.element.rsplit(".", 1)[0]
        part = self.drawn.parts[part_id]
        lines = words.part_lines(part)
        if edge.kind == "way":
            lines = (edge.element, lines[1])
        relay = edge.kind in ("coil", "contact")  # its words stand clear below a dashed link
        target = f"{edge.element}.{edge.kind}" if relay else edge.element
        lines = (lines[0], self._reference(part_id, edge.kind) or lines[1])
        half = HALF_WIDTH.get(edge.kind, 13.0)
        width = max(words.text_width(lines[0], bold=True), words.text_width(lines[1]))
        y = c + 4 if relay else c - 4
        left = _RELAY_LEFT if relay else half + 8
        self._note(Note(x, "L", left, width, y - 10, y + 17, "part", target, lines, y))
        right = half + 6 + _RIGHT_EXTRA.get(edge.kind, 0.0)
        room, below = (RELAY_STATE_WIDTH, 3) if relay else (STATE_WIDTH, 17)
        self._note(Note(x, "R", right, room, y - 10, y + below, "state", target, (), y))
        self._note(Note(x, "C", 0, 2 * half + 4, c - 16, c + 16))
        self._terminal(piece.upper, x, piece.y0, 1)
        self._terminal(piece.lower, x, piece.y1, -1)

    def _reference(self, part: str, kind: str) -> str:
        """Return where the other half of a relay is, when it is too far away for a link."""
        if part not in self.links or part in self._near or kind not in ("coil", "contact"):
            return ""
        a, _, b, _ = self.links[part]
        return f"contact: track {b + 1}" if kind == "coil" else f"coil: track {a + 1}"

    def _earth(self, x: int, piece: Piece) -> None:
        point, y = piece.upper, piece.y0
        self.spots[point] = _Spot(point, x, y, _BESIDE, y + 15.5)
        self._note(Note(x, "R", _BESIDE, _VOLTS, y + 5, y + 16, "volts", point, (), y + 15.5))
        name = words.shorten(self.drawn.parts[point].id, 12)
        width = words.text_width(name, bold=True) + _BADGE
        self._note(Note(x, "L", _BESIDE, width, y + 5, y + 17, "part", point, (name,), y + 15.5))

    def _bare(self, point: str, x: int, y: float) -> None:
        """A splice, or a point whose part is not drawn: name and volts left of the ring."""
        name = words.shorten(point, 14)
        self.spots[point] = _Spot(point, x, y, -_BESIDE, y + 13)
        width = words.text_width(name, bold=True)
        self._note(Note(x, "L", _BESIDE, width, y - 14, y, "name", point, (name,), y - 3))
        self._note(Note(x, "L", _BESIDE, _VOLTS, y + 2, y + 15, "volts", point, (), y + 13))

    def _box(self, box: Box) -> None:
        top, bottom = (self.heights.y[f"{box.part}:{side}"] for side in "TB")
        part = self.drawn.parts[box.part]
        names = _pin_names(part) if box.framed else {}
        for point in (*box.top, *box.bottom):
            down = 1.0 if point in box.top else -1.0
            y = top if down > 0 else bottom
            x = self.pins[point]
            self._terminal(point, x, y, down)
            name = names.get(point, "")
            if name:
                room = words.text_width(f"{name}: off") + 6
                y0 = y + 19 if down > 0 else y - 35
                base = y + 31 if down > 0 else y - 23
                self._note(Note(x, "C", 0, room, y0, y0 + 16, "pin", point, (name,), base))
        columns = [self.pins[p] for p in (*box.top, *box.bottom)]
        if not box.framed:
            lines = words.part_lines(part)
            lines = (lines[0], self._reference(box.part, "contact") or lines[1])
            width = max(words.text_width(lines[0], bold=True), words.text_width(lines[1]))
            c = (top + bottom) / 2
            self._note(Note(min(columns), "L", 21, width, c - 6, c + 21, "part", box.part,
                             lines, c + 5))
        for x, side in ((min(columns), "L"), (max(columns), "R")):
            self._note(Note(x, side, 0, self._margin(box, names), top - 2, bottom + 2))

    def _margin(self, box: Box, names: Mapping[str, str]) -> float:
        if not box.framed:
            return 40.0
        inner = max([words.text_width(f"{n}: off") / 2 for n in names.values()] or [0])
        part = self.drawn.parts[box.part]
        columns = {self.pins[p] for p in (*box.top, *box.bottom)}
        title = max(words.text_width(t, bold=True) for t in words.part_lines(part)) + STATE_WIDTH
        own = title / 2 if len(columns) == 1 else (title - PITCH) / 2
        return max(inner, _BESIDE + _VOLTS, own) + 8

    # -- everything -----------------------------------------------------------------------------

    def layout(self) -> Layout:
        """Return the final geometry."""
        self._near = self._drawn_links()
        for x, piece in self.pieces:
            self._piece(x, piece)
        for box in self.graph.boxes:
            self._box(box)
        self._bare_points()
        gaps = Gaps(self.notes, self.count)
        for a, ya, b, yb in self._near.values():
            gaps.add_link(min(a, b), min(ya, yb) - 18, max(ya, yb) + 18)
        self.xs = gaps.xs()
        return self._finish(gaps)

    def _piece(self, x: int, piece: Piece) -> None:
        self._note(Note(x, "C", 0, 6, piece.y0, piece.y1))
        kind = piece.edge.kind
        if kind == "wire":
            self._wire(x, piece)
            for node, y in ((piece.upper, piece.y0), (piece.lower, piece.y1)):
                if node.startswith("~end"):
                    text = "end not known"
                    self._note(Note(x, "R", 9, words.text_width(text), y - 7, y + 7, "end",
                                     piece.edge.element, (text,), y + 4))
        elif kind == "earth":
            self._earth(x, piece)
        elif kind == "nc":
            text = "no wire"
            self._note(Note(x, "R", 9, words.text_width(text), piece.centre - 4,
                             piece.centre + 11, "end", piece.upper, (text,), piece.centre + 7))
        elif kind not in _PLAIN:
            self._part(x, piece)

    def _bare_points(self) -> None:
        for x, piece in self.pieces:
            for node, y in ((piece.upper, piece.y0), (piece.lower, piece.y1)):
                if is_virtual(node) or node in self.spots or node == BODY:
                    continue
                left = min(self.ends.get(node, {x}))
                self._bare(node, left, y)

    def _finish(self, gaps: Gaps) -> Layout:
        body = self.heights.y[BODY]
        right = (self.xs or [0.0])[-1] + max([n.reach("R") for n in self.notes
                                   if n.column == self.count - 1] or [0]) + 24
        right = max(right, 240.0)
        points = self._points()
        rail = self.tracks.rail
        return Layout(
            width=right, height=body + 56, tracks=tuple(self.xs), rail_y=64.0, body_y=body,
            rail_point=rail, has_body=BODY in self.ends, rails=(RAIL_X, right - 10),
            runs=self._runs(), lanes=self._lanes(), symbols=self._symbols(),
            boxes=tuple(self._area(box) for box in self.graph.boxes), points=points,
            labels=tuple(self._label(note) for note in self.notes if note.role),
            links=tuple(self._link(name, gaps) for name in self._near),
            rail_dots=tuple(self.xs[x] for x in sorted(self.ends.get(rail, ()))),
            body_dots=tuple(self.xs[x] for x in sorted(self.ends.get(BODY, ()))),
        )

    def _label(self, note: Note) -> Label:
        x = self.xs[note.column]
        place = {
            "R": (x + note.dx, "start", x + note.dx, x + note.dx + note.width),
            "L": (x - note.dx, "end", x - note.dx - note.width, x - note.dx),
            "C": (x, "middle", x - note.width / 2, x + note.width / 2),
        }[note.side]
        at, anchor, x0, x1 = place
        return Label(note.role, note.target, note.lines, at, note.y, anchor, x0, note.y0, x1,
                     note.y1)

    def _points(self) -> tuple[Point, ...]:
        bare = [
            Point(s.point, self.xs[s.column], s.y, self.xs[s.column] + s.volts_dx, s.volts_y,
                  "start" if s.volts_dx > 0 else "end")
            for s in self.spots.values()
        ]
        bare.sort(key=lambda p: (p.x, p.y))
        found = []
        for p in bare:
            near = min((((p.x - q.x) ** 2 + (p.y - q.y) ** 2) ** 0.5 for q in bare
                        if q is not p and abs(p.x - q.x) < 48), default=48.0)
            found.append(Point(p.id, p.x, p.y, p.volts_x, p.volts_y, p.anchor,
                               min(24.0, near / 2)))
        return tuple(found)

    def _runs(self) -> tuple[Run, ...]:
        runs = []
        for x, p in self.pieces:
            if p.edge.kind in _PLAIN:
                element = p.edge.element if p.edge.kind in ("wire", "bend", "earth") else ""
                runs.append(Run(element, p.edge.kind, self.xs[x], p.y0, p.y1,
                                (p.upper, p.lower)))
        return tuple(runs)

    def _lanes(self) -> tuple[Lane, ...]:
        found = []
        for vertex, columns in self.ends.items():
            if len(columns) < 2 or vertex in (self.tracks.rail, BODY) or vertex[-2:] in (
                ":T", ":B"
            ):
                continue
            xs = sorted(self.xs[x] for x in columns)
            corner = self.joined[vertex] == 2
            element = ""
            if vertex.startswith("~bend"):
                element = next((p.edge.element for _, p in self.pieces
                                if vertex in (p.upper, p.lower)
                                and p.edge.kind in ("wire", "bend")), "")
            found.append(Lane(vertex, self.heights.y[vertex], xs[0], xs[-1],
                              () if corner else tuple(xs), element))
        return tuple(found)

    def _symbols(self) -> tuple[Symbol, ...]:
        found = []
        for x, p in self.pieces:
            if p.edge.kind not in _PLAIN:
                part = element = p.edge.element
                if p.edge.kind == "way":
                    part = part.rsplit(".", 1)[0]
                elif p.edge.kind in ("coil", "contact"):
                    element = f"{part}.{p.edge.kind}"
                found.append(Symbol(element, part, p.edge.kind, self.xs[x], p.centre,
                                    p.upper == p.edge.b, (p.y0, p.y1)))
        return tuple(found)

    def _area(self, box: Box) -> BoxArea:
        pins = [(p, self.xs[self.pins[p]], p in box.top) for p in (*box.top, *box.bottom)]
        part = self.drawn.parts[box.part]
        margin = self._margin(box, _pin_names(part) if box.framed else {})
        top = self.heights.y[f"{box.part}:T"]
        xs = [x for _, x, _ in pins]
        return BoxArea(box.part, min(xs) - margin, max(xs) + margin, top, top + BOX, box.framed,
                       tuple(pins))

    def _link(self, name: str, gaps: Gaps) -> Link:
        a, ya, b, yb = self._near[name]
        x = self.xs[min(a, b)] + gaps.corridor(min(a, b), min(ya, yb) - 18, max(ya, yb) + 18)
        sign = 1 if b > a else -1
        return Link(name, ((self.xs[a] + sign * 19, ya - 9), (x, ya - 9), (x, yb - 9),
                           (self.xs[b] + self._blade(name, b), yb - 9)))

    def _blade(self, name: str, column: int) -> float:
        """Return where the moving blade is beside its track, 9 px above the contact's centre."""
        far = self.pins.get(f"{name}.87a")
        for box in self.graph.boxes:
            if box.part == name and far is not None:
                other = self.pins.get(f"{name}.87", far)
                return 5.2 if far > other else -5.2
        return -9.6


def _pin_names(part: Part) -> dict[str, str]:
    """Return what a controller's pins are for, by point."""
    names: dict[str, str] = {}
    for key in ("supply", "earth"):
        if key in part.params:
            names[f"{part.id}.{part.params[key]}"] = key
    for key in ("inputs", "outputs"):
        items = part.params.get(key, ())
        for item in items if isinstance(items, tuple) else ():
            if isinstance(item, ControllerInput | ControllerOutput):
                names[f"{part.id}.{item.pin}"] = words.shorten(item.id, 14)
    return names


def compose(drawn: Drawn, graph: Graph, tracks: Tracks, columns: Columns, heights: Heights
            ) -> Layout:
    """Return the finished geometry of a drawing."""
    return _Composer(drawn, graph, tracks, columns, heights).layout()
