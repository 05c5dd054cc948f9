"""A layout and a solved state as SVG text: classes and presentation attributes, no inline style.

Everything that varies with readings is written here, so a cached layout serves every state.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from loomwright.circuit.drawing import labels as words
from loomwright.circuit.drawing.layout import BoxArea, Label, Lane, Layout, Point, Run, Symbol
from loomwright.circuit.drawing.rest import rests_closed
from loomwright.circuit.drawing.style import STANDALONE_CSS
from loomwright.circuit.drawing.symbols import EMBLEM_PX, HEIGHT, emblem, symbol
from loomwright.circuit.model import BODY, Circuit, StateResult

__all__ = ["DrawingOptions", "write_svg"]

_CARRYING_A = 1e-3  # below this a wire is not shown as carrying: meters and inputs draw less


@dataclass(frozen=True, slots=True)
class DrawingOptions:
    """What to stress and leave out. Names are points (`F12.2`), wires, parts and ways (`X1.3`).

    `standalone` embeds the style sheet, for files and PDF; a page serves `DRAWING_CSS` itself.
    """

    title: str = ""
    chosen_points: frozenset[str] = frozenset()
    next_points: frozenset[str] = frozenset()
    suspects: frozenset[str] = frozenset()
    only_elements: frozenset[str] = frozenset()
    standalone: bool = False


_INK = ' fill="currentColor" stroke="none"'  # where no style sheet is at hand

# What a page's style sheet says anyway: a third of the drawing's characters. No words of a circuit
# can look like it, as their quotation marks are escaped.
_SAID_BY_STYLE = (_INK, ' fill="currentColor"', ' fill="#fff"', ' stroke-dasharray="5 4"',
                  ' stroke="none" pointer-events="all"', ' text-anchor="start"')


def _n(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def _dot(x: float, y: float) -> str:
    return f'<circle class="dot" fill="currentColor" cx="{_n(x)}" cy="{_n(y)}" r="4"/>'


def _attr(text: str) -> str:
    return escape(text, quote=True)


class _Writer:
    def __init__(self, circuit: Circuit, layout: Layout, result: StateResult | None,
                 options: DrawingOptions) -> None:
        self.circuit, self.layout, self.result, self.options = circuit, layout, result, options
        self.labels: dict[tuple[str, str], list[Label]] = {}
        for label in layout.labels:
            self.labels.setdefault((label.role, label.target), []).append(label)

    # -- states in words ------------------------------------------------------------------------

    def _point_state(self, node: str) -> str:
        """Return live, dead, floating, or '' where nothing was solved."""
        point = node.split("~", 1)[0]
        if self.result is None:
            return ""
        if point == BODY:
            return "dead"
        reading = self.result.points.get(point)
        if reading is None:
            return ""
        if reading.floating:
            return "floating"
        return "live" if reading.volts > self.circuit.system_v / 2 else "dead"

    def _wire_state(self, wire_id: str) -> tuple[str, float | None]:
        """Return a wire's state from both ends, and its current [A]."""
        wire = self.circuit.wires[wire_id]
        ends = [wire.start.point] + ([wire.end.point] if wire.end else [])
        states = [self._point_state(end) for end in ends]
        amps = self.result.wires.get(wire_id) if self.result else None
        if not any(states):
            return "", amps
        if len(set(states)) > 1 and "" not in states:
            return "broken", amps  # its two ends differ: open, or a large drop
        return next(s for s in states if s), amps

    def _suspect(self, element: str) -> bool:
        return element in self.options.suspects

    # -- pieces ---------------------------------------------------------------------------------

    def _text(self, label: Label, lines: Iterable[tuple[str, str]], down: float = 0.0) -> str:
        """Return a text of (words, class) lines, 14 px apart."""
        found = [(escape(line), f'class="{kind}" x="{_n(label.x)}" '
                  f'y="{_n(label.y + down + 14 * index)}"')
                 for index, (line, kind) in enumerate(lines) if line]
        if not found:
            return ""
        if len(found) == 1:  # a browser lays a drawing of many texts out faster without the spans
            line, where = found[0]
            return f'<text{_INK} text-anchor="{label.anchor}" {where}>{line}</text>'
        # a space for reading aloud and copying, where it does not shift the words
        before, after = ("", " ") if label.anchor == "start" else (" ", "")
        spans = "".join(f"<tspan {where}>{before if at else ''}{line}{after}</tspan>"
                        for at, (line, where) in enumerate(found))
        return f'<text{_INK} text-anchor="{label.anchor}">{spans}</text>'

    def _role(self, role: str, target: str, kinds: tuple[str, ...], first: str = "") -> str:
        found = []
        for label in self.labels.get((role, target), ()):
            lines = [*label.lines]
            if first and lines:
                lines[0] += first
            found.append(self._text(label, zip(lines, kinds, strict=False)))
        return "".join(found)

    def _wire(self, wire_id: str, runs: list[Run], lanes: list[Lane]) -> str:
        wire = self.circuit.wires[wire_id]
        state, amps = self._wire_state(wire_id)
        carrying = amps is not None and abs(amps) >= _CARRYING_A
        css = " ".join(filter(None, [
            "wire", state, "carrying" if carrying else "",
            "suspect" if self._suspect(wire_id) else "",
        ]))
        path = "".join(f"M{_n(r.x)} {_n(r.y0)}V{_n(r.y1)}" for r in runs)
        path += "".join(f"M{_n(b.x0)} {_n(b.y)}H{_n(b.x1)}" for b in lanes)
        far = wire.end.point if wire.end else "an end not known"
        said = [f"Wire {wire_id} from {wire.start.point} to {far}"]
        said += [" ".join(words.wire_lines(wire)[1:])]
        if state:
            said.append("ends differ" if state == "broken" else state)
        if amps is not None:
            said.append(words.amps_text(amps))
        if self._suspect(wire_id):
            said.append("suspect")
        data = f' data-amps="{amps:.6g}"' if amps is not None else ""
        ends = "".join(
            f'<circle class="open-end" cx="{_n(r.x)}" cy="{_n(y)}" r="4"/>'
            for r in runs for node, y in zip(r.nodes, (r.y0, r.y1), strict=True)
            if node.startswith("~end")
        )
        badge = " suspect" if self._suspect(wire_id) else ""
        return (
            f'<g class="{css}" data-wire="{_attr(wire_id)}"{data}>'
            f"<title>{escape(', '.join(filter(None, said)))}</title>"
            f'<path class="line" d="{path}"/>{ends}'
            f'{self._role("wire", wire_id, ("name", "note"), badge)}'
            f'{self._role("end", wire_id, ("note",))}</g>'
        )

    def _symbol(self, s: Symbol) -> str:
        leads = []
        if s.y - HEIGHT > s.stubs[0] + 0.1:
            leads.append(f"M{_n(s.x)} {_n(s.stubs[0])}V{_n(s.y - HEIGHT)}")
        if s.stubs[1] > s.y + HEIGHT + 0.1:
            leads.append(f"M{_n(s.x)} {_n(s.y + HEIGHT)}V{_n(s.stubs[1])}")
        lead = f'<path class="line" d="{"".join(leads)}"/>' if leads else ""
        closed = rests_closed(self.circuit, self.circuit.parts[s.part])
        drawing = (f'<g transform="translate({_n(s.x)} {_n(s.y)})">'
                   f"{symbol('break contact' if closed else s.kind, s.turned)}</g>")
        return self._part_group(s.part, s.element, s.kind, lead + drawing)

    def _part_group(self, part_id: str, element: str, kind: str, inside: str) -> str:
        part = self.circuit.parts[part_id]
        reading = self.result.parts.get(part_id) if self.result else None
        if reading is None and self.result and element != part_id:
            reading = self.result.parts.get(element)
        doing = reading.doing if reading else ""
        suspect = self._suspect(element) or self._suspect(part_id)
        suspect = suspect or (kind == "controller" and any(
            name.startswith(f"{part_id}.") for name in self.options.suspects))
        said = [f"{part.kind} {element}", part.label, part.place, doing]
        if reading and reading.amps is not None:
            said.append(words.amps_text(reading.amps))
        said.append("suspect" if suspect else "")
        shown = "" if kind in ("way", "earth") else words.shorten(doing, 10)
        lines = [(shown, "doing"), ("suspect" if suspect else "", "badge")]
        if kind in ("coil", "contact") and suspect:
            lines = [(", ".join(filter(None, [shown, "suspect"])), "badge")]
        # one word alone stands in the middle of the room for two
        down = 0.0 if suspect or kind in ("coil", "contact") else 7.0
        state = "".join(self._text(label, lines, down=down)
                        for label in self.labels.get(("state", element), ()))
        badge = " suspect" if suspect and kind == "earth" else ""
        css = f"part {kind}{' suspect' if suspect else ''}"
        return (
            f'<g class="{_attr(css)}" data-part="{_attr(part_id)}" '
            f'data-element="{_attr(element)}">'
            f"<title>{escape(', '.join(filter(None, said)))}</title>{inside}"
            f'{self._role("part", element, ("name", "note"), badge)}{state}</g>'
        )

    def _box(self, box: BoxArea) -> str:
        part = self.circuit.parts[box.part]
        middle, y = (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2
        if not box.framed:
            return self._part_group(box.part, box.part, "changeover", self._changeover(box))
        reading = self.result.parts.get(box.part) if self.result else None
        badge = [reading.doing] if reading else []
        name = words.part_lines(part)[0]
        items = sorted(s.split(".", 1)[1] for s in self.options.suspects
                       if s.startswith(f"{box.part}."))
        if self._suspect(box.part) or items:
            badge.append(": ".join(filter(None, ["suspect", " ".join(items)])))
        first = ", ".join([name, *badge])
        if words.text_width(first, bold=True) > box.x1 - box.x0 - 12:
            first = f"{name}, suspect" if items else name
        title = Label("title", box.part, (), middle, y - 3, "middle", 0, 0, 0, 0)
        second = words.part_lines(part)[1]
        lines = [(first, "name"), (second, "note")]
        wide = max(words.text_width(first, bold=True), words.text_width(second))
        pins = "".join(self._pin(part.id, p) for p, _, _ in box.pins)
        frame = (f'<rect class="line" x="{_n(box.x0)}" y="{_n(box.y0)}" '
                 f'width="{_n(box.x1 - box.x0)}" height="{_n(box.y1 - box.y0)}" rx="3"/>')
        return self._part_group(box.part, box.part, "controller",
                                frame + self._emblem(box, wide) + self._text(title, lines)
                                + pins)

    def _emblem(self, box: BoxArea, title_px: float) -> str:
        """What the part does, left of its name where there is room."""
        x = (box.x0 + box.x1 - title_px - EMBLEM_PX) / 2 - 8
        drawing = emblem(self.circuit.parts[box.part].kind)
        if not drawing or x - EMBLEM_PX / 2 < box.x0 + 4:
            return ""
        return f'<g class="emblem" transform="translate({_n(x)} {_n((box.y0 + box.y1) / 2)})">' \
               f"{drawing}</g>"

    def _pin(self, part: str, point: str) -> str:
        """A pin's name with what the controller makes of it: `shut: on`."""
        found = []
        for label in self.labels.get(("pin", point), ()):
            name, said = label.lines[0], ""
            sides = [self.result.inputs, self.result.outputs] if self.result else []
            for side in sides:
                if name in side.get(part, {}):
                    said = ": on" if side[part][name] else ": off"
            found.append(self._text(label, [(name + said, "note")]))
        return "".join(found)

    def _changeover(self, box: BoxArea) -> str:
        """Rest position: the blade lies on 87a. Fixed contacts stand close on both sides of it."""
        x = {point.rsplit(".", 1)[1]: at for point, at, _ in box.pins}
        y = (box.y0 + box.y1) / 2
        fixed = sorted((pin for pin in ("87", "87a") if pin in x), key=lambda pin: x[pin])
        pivot = x.get("30", x[fixed[0]] if fixed else box.x0)
        path = f"M{_n(pivot)} {_n(box.y0)}V{_n(y - 18)}"
        right = all(x[pin] >= pivot for pin in fixed)
        left = all(x[pin] <= pivot for pin in fixed)
        for pin, side in zip(fixed, (-1, 1), strict=False):
            # the nearer pin passes below the farther one's line
            near = (right and side < 0) or (left and not right and side > 0)
            turn = y + (28 if near else 18)
            path += (f"M{_n(x[pin])} {_n(box.y1)}V{_n(turn)}H{_n(pivot + 14 * side)}"
                     f"V{_n(y + 6)}")
            if pin == "87a":
                path += f"L{_n(pivot)} {_n(y - 18)}"
        return f'<path class="line" d="{path}"/>'

    def _point(self, p: Point) -> str:
        text = words.volts_text(self.result, p.id)
        state = self._point_state(p.id)
        said = [f"Point {p.id}"]
        if text:
            said.append("floating" if text == "float" else text.replace(" V", " volts"))
        marks = []
        for name, points in (("chosen", self.options.chosen_points),
                             ("next", self.options.next_points)):
            if p.id in points:
                marks.append(name)
                said.append("chosen" if name == "chosen" else "next check")
        shown = f"{text} next".strip() if "next" in marks else text
        volts = ""
        if shown:
            volts = (f'<text class="volts"{_INK} x="{_n(p.volts_x)}" y="{_n(p.volts_y)}" '
                     f'text-anchor="{p.anchor}">{shown}</text>')
        more = f'<circle class="mark" cx="{_n(p.x)}" cy="{_n(p.y)}" r="9"/>' if marks else ""
        css = " ".join(filter(None, ["point", state, *marks]))
        names = self._role("number", p.id, ("pin-number",)) + self._role("name", p.id, ("name",))
        return (
            f'<g class="{css}" data-point="{_attr(p.id)}" tabindex="0" role="button" '
            f'aria-label="{_attr(", ".join(said))}">'
            f'<circle class="hit" cx="{_n(p.x)}" cy="{_n(p.y)}" r="{_n(p.hit)}" stroke="none" '
            f'pointer-events="all"/>{more}'
            f'<circle class="ring" cx="{_n(p.x)}" cy="{_n(p.y)}" r="5" fill="#fff"/>'
            f"{names}{volts}</g>"
        )

    # -- the whole ------------------------------------------------------------------------------

    def _rails(self) -> str:
        layout = self.layout
        x0, x1 = layout.rails
        found = []
        for y, dots, node, name in (
            (layout.rail_y, layout.rail_dots, layout.rail_point, f"{self.circuit.system_v:g} V"),
            (layout.body_y, layout.body_dots, BODY, "body"),
        ):
            if node and (node != BODY or layout.has_body):
                state = self._point_state(node)
                circles = "".join(_dot(x, y) for x in dots)
                found.append(
                    f'<g class="rail {state}"><path class="line" d="M{_n(x0)} {_n(y)}H{_n(x1)}"/>'
                    f'{circles}<text class="name"{_INK} x="12" y="{_n(y + 4.5)}">{name}</text></g>'
                )
        numbers = "".join(
            f'<text class="track"{_INK} x="{_n(x)}" y="{_n(layout.body_y + 34)}" '
            f'text-anchor="middle">{i}</text>'
            for i, x in enumerate(layout.tracks, 1)
        )
        return "".join(found) + f'<g class="tracks" aria-hidden="true">{numbers}</g>'

    def _plain_runs(self) -> str:
        found = []
        for run in self.layout.runs:
            d = f"M{_n(run.x)} {_n(run.y0)}V{_n(run.y1)}"
            if run.kind == "earth":
                y = run.y1 - 16
                d += (f"M{_n(run.x)} {_n(y - 6)}H{_n(run.x + 16)}V{_n(y)}M{_n(run.x + 8)} {_n(y)}"
                      f"H{_n(run.x + 24)}M{_n(run.x + 11)} {_n(y + 4)}H{_n(run.x + 21)}"
                      f"M{_n(run.x + 14)} {_n(y + 8)}H{_n(run.x + 18)}")
                inside = f'<path class="line" d="{d}"/>'
                found.append(self._part_group(run.element, run.element, "earth", inside))
            elif not run.element:
                state = self._point_state(run.nodes[0])
                end = self._role("end", run.nodes[0], ("note",))
                found.append(f'<g class="lead {state}"><path class="line" d="{d}"/>{end}</g>')
        return "".join(found)

    def _lane(self, lane: Lane) -> str:
        state = self._point_state(lane.node)
        dots = "".join(_dot(x, lane.y) for x in lane.dots)
        line = "" if lane.element else (
            f'<path class="line" d="M{_n(lane.x0)} {_n(lane.y)}H{_n(lane.x1)}"/>')
        return f'<g class="lane {state}" data-at="{_attr(lane.node.rstrip("~"))}">{line}{dots}</g>'

    def _wires(self) -> str:
        runs: dict[str, list[Run]] = {}
        for run in self.layout.runs:
            if run.kind in ("wire", "bend"):
                runs.setdefault(run.element, []).append(run)
        lanes: dict[str, list[Lane]] = {}
        for lane in self.layout.lanes:
            lanes.setdefault(lane.element, []).append(lane)
        return "".join(self._wire(w, found, lanes.get(w, [])) for w, found in runs.items())

    def write(self) -> str:
        """Return the SVG."""
        layout, options = self.layout, self.options
        title = options.title or f"{self.circuit.title}, {self.circuit.system_v:g} V"
        if self.result and not options.title:
            title += f", {self.result.state}"
        style = ""
        if options.standalone:
            style = (f"<style>{STANDALONE_CSS}</style>"
                     '<rect width="100%" height="100%" fill="#fff" stroke="none"/>')
        size = f"{_n(layout.width)} {_n(layout.height)}"
        width, height = size.split()
        links = "".join(
            '<path class="link" stroke-dasharray="5 4" d="M'
            + "L".join(f"{_n(x)} {_n(y)}" for x, y in link.corners) + '"/>'
            for link in layout.links
        )
        body = "".join([
            self._rails(), links, self._wires(), self._plain_runs(),
            *(self._lane(lane) for lane in layout.lanes),
            *(self._symbol(s) for s in layout.symbols),
            *(self._box(box) for box in layout.boxes),
            *(self._point(p) for p in layout.points),
        ])
        if not options.standalone:
            for said in _SAID_BY_STYLE:
                body = body.replace(said, "")
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="circuit" viewBox="0 0 {size}" '
            f'width="{width}" height="{height}" role="group" aria-label="{_attr(title)}" '
            f'font-family="{words.FONT}" font-size="{words.TEXT_PX}" '
            f'fill="none" stroke="currentColor" stroke-width="1.8">{style}'
            f'<text class="title"{_INK} x="12" y="24">{escape(title)}</text>{body}</svg>'
        )


def write_svg(circuit: Circuit, layout: Layout, result: StateResult | None,
              options: DrawingOptions) -> str:
    """Return a layout as SVG with the values of a state [V, A] written at its points."""
    return _Writer(circuit, layout, result, options).write()
