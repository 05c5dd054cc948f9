"""The finished geometry of a drawing, in px: what tests look at and the SVG writer prints."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BoxArea", "Label", "Lane", "Layout", "Link", "Point", "Run", "Symbol"]


@dataclass(frozen=True, slots=True)
class Run:
    """A vertical conductor. `element` is a wire id, '' for a lead of the part or point itself."""

    element: str
    kind: str
    x: float
    y0: float
    y1: float
    nodes: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Lane:
    """A horizontal conductor that joins tracks; `dots` are the x where something is joined."""

    node: str
    y: float
    x0: float
    x1: float
    dots: tuple[float, ...]
    element: str = ""  # the wire that turns here, where the lane is a bend


@dataclass(frozen=True, slots=True)
class Symbol:
    """A part's symbol, centred at x, y; `turned` when its second pin is on top."""

    element: str  # part id, or the way of a connector
    part: str
    kind: str
    x: float
    y: float
    turned: bool = False
    stubs: tuple[float, float] = (0.0, 0.0)  # upper and lower end of its leads


@dataclass(frozen=True, slots=True)
class BoxArea:
    """The frame of a part of many pins."""

    part: str
    x0: float
    x1: float
    y0: float
    y1: float
    framed: bool
    pins: tuple[tuple[str, float, bool], ...]  # point, x, on top


@dataclass(frozen=True, slots=True)
class Point:
    """A place a probe can go, with the radius of its hit circle and where its volts stand."""

    id: str
    x: float
    y: float
    volts_x: float
    volts_y: float
    anchor: str = "start"
    hit: float = 24.0


@dataclass(frozen=True, slots=True)
class Label:
    """Words in a reserved rectangle x0..x1, y0..y1; the baseline of the first line is `y`.

    `role`: wire, part, state, pin, volts, name, end, number, rail. `target` is what they describe.
    """

    role: str
    target: str
    lines: tuple[str, ...]
    x: float
    y: float
    anchor: str
    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True)
class Link:
    """The dashed link of a relay from coil to contact, as corner points."""

    part: str
    corners: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """A whole drawing: `tracks` are the x of every track, `rails` the ends of both rails."""

    width: float
    height: float
    tracks: tuple[float, ...]
    rail_y: float
    body_y: float
    rail_point: str
    has_body: bool
    rails: tuple[float, float]
    runs: tuple[Run, ...]
    lanes: tuple[Lane, ...]
    symbols: tuple[Symbol, ...]
    boxes: tuple[BoxArea, ...]
    points: tuple[Point, ...]
    labels: tuple[Label, ...]
    links: tuple[Link, ...]
    rail_dots: tuple[float, ...]
    body_dots: tuple[float, ...]
