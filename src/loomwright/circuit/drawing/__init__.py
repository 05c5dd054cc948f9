"""The circuit as a drawing: supply on top, body below, one numbered track per current path."""

from __future__ import annotations

from functools import lru_cache

from loomwright.circuit.drawing.compose import Drawn
from loomwright.circuit.drawing.compose import compose as _compose
from loomwright.circuit.drawing.graph import read_graph
from loomwright.circuit.drawing.layout import Layout
from loomwright.circuit.drawing.order import arrange
from loomwright.circuit.drawing.place import heights
from loomwright.circuit.drawing.style import DRAWING_CSS
from loomwright.circuit.drawing.svg import DrawingOptions, write_svg
from loomwright.circuit.drawing.tracks import cut_into_tracks, one_box_per_track
from loomwright.circuit.model import Circuit, StateResult

__all__ = ["DRAWING_CSS", "DrawingOptions", "Layout", "draw_circuit", "lay_out"]


class _Content:
    """A circuit with the content its layout depends on as the cache key."""

    def __init__(self, circuit: Circuit, only: frozenset[str]) -> None:
        self.circuit, self.only = circuit, only
        parts = tuple(
            (p.id, p.kind, p.pins, p.label, p.assumed, repr(p.params))
            for p in circuit.parts.values()
        )
        wires = tuple(
            (w.id, w.start, w.end, w.area_mm2, w.colour, w.assumed)
            for w in circuit.wires.values()
        )
        self.key = (parts, wires, only)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Content) and self.key == other.key


@lru_cache(maxsize=64)
def _layout(content: _Content) -> Layout:
    graph = read_graph(content.circuit, content.only)
    tracks = cut_into_tracks(graph)
    columns = arrange(graph, tracks)
    if columns.foreign:
        tracks = one_box_per_track(tracks)
        columns = arrange(graph, tracks, one_box=True)
    drawn = Drawn(content.circuit.parts, content.circuit.wires)
    return _compose(drawn, graph, tracks, columns, heights(tracks, columns))


def lay_out(circuit: Circuit, only_elements: frozenset[str] = frozenset()) -> Layout:
    """Return a circuit's geometry [px]; cached by its parts and wires, whatever its state.

    Model: chains between junctions as vertical tracks, ordered by a bounded hill climb. The same
    content always gives the same geometry.
    """
    return _layout(_Content(circuit, only_elements))


def draw_circuit(circuit: Circuit, result: StateResult | None = None,
                 options: DrawingOptions | None = None) -> str:
    """Return the circuit as SVG, with volts, amps and states of a solved state where given.

    Practice: current-track drawing as in EN 61082, symbols in the style of IEC 60617 (common
    practice; drawn from memory). No style element unless `options.standalone`.
    """
    options = options or DrawingOptions()
    return write_svg(circuit, lay_out(circuit, options.only_elements), result, options)
