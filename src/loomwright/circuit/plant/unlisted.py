"""Rows for what the file does not list: a load or a joint between two points of the circuit.

By the substitution theorem any two-terminal thing that nobody drew acts on the rest as a current
between its two points, another one in each state. Most of what is found on vehicles (a load tapped
in, two wires chafed together, a wet connector) gives that current by a resistance. It is wired in
and solved like any fault, so that fuses blow and relays move by it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from loomwright.circuit.faults import UNLISTED
from loomwright.circuit.model import Circuit, Fault
from loomwright.circuit.plant.hypotheses import FaultRow
from loomwright.circuit.plant.names import battery_negative, ends_of, fuses_out
from loomwright.plant import Hypothesis, SeverityCell

__all__ = ["UNLISTED_DRAWS", "by_place", "nets", "unlisted_rows"]

_CELLS_OHM = ((0.4, 4.0), (4.0, 40.0))  # 24 V through 0.4 ohm blows a fuse, through 40 is a lamp
_PLACES = 3  # of a net at which the thing is tried
UNLISTED_DRAWS = 4 * _PLACES
# 30 to 300 mA at 12 V, what only an ammeter in series shows; narrow, as its milliamps are sharp.
_DRAINS_OHM = tuple(itertools.pairwise(float(ohm) for ohm in np.geomspace(40.0, 400.0, 13)))
_WIDE = 3.0  # of a cell, highest to lowest ohms: a small load's volts say nothing of its place
_MOST_PAIRS = 40  # of nets; beyond, only those to the body and to the battery
_BODY_SHARE = 3.0  # a joint to the body or the battery against one between two wires; assumed


def nets(circuit: Circuit) -> tuple[tuple[str, ...], ...]:
    """Return the points joined by wires, connectors, splices and earths, the earth's own first."""
    root = {point: point for point in circuit.points()}

    def found(point: str) -> str:
        while root[point] != point:
            point = root[point]
        return point

    for first, second in _joints(circuit):
        root[found(second)] = found(first)
    groups: dict[str, list[str]] = {found(battery_negative(circuit)): []}
    for point in circuit.points():
        groups.setdefault(found(point), []).append(point)
    return tuple(tuple(group) for group in groups.values())


def _joints(circuit: Circuit) -> Iterator[tuple[str, str]]:
    for wire in circuit.wires.values():
        if wire.end is not None:
            yield wire.start.point, wire.end.point
    for part in circuit.parts.values():
        if part.kind == "earth":
            yield battery_negative(circuit), part.id
        elif part.kind == "connector":
            ways = [pin[:-1] for pin in part.pins if pin.endswith("a")]
            for ends in (ends_of(circuit, f"{part.id}.{way}") for way in ways):
                if ends is not None:
                    yield ends


def unlisted_rows(circuit: Circuit, draws: int) -> tuple[FaultRow, ...]:
    """Return a row for each two nets and each cell of resistance; priors sum to one (assumed).

    The draws of a row go through its cell and, place by place, along the points of its second net,
    since nobody knows where on a wire the thing is joined. With many nets only joints to the body
    and to the battery.
    Where a state pulls a fuse, smaller loads too, and one straight across the battery.
    """
    groups = nets(circuit)
    drains = any(fuses_out(circuit, state) for state in circuit.states)
    cells = (*_CELLS_OHM, *_DRAINS_OHM) if drains else _CELLS_OHM
    supply = f"{battery_negative(circuit).split('.', 1)[0]}.+"
    pairs = [(a, b) for a, b in itertools.combinations(groups, 2)
             if drains or not (a is groups[0] and supply in b)]
    weights = [_BODY_SHARE if a is groups[0] or supply in a or supply in b else 1.0
               for a, b in pairs]
    if len(pairs) > _MOST_PAIRS:
        pairs = [pair for pair, weight in zip(pairs, weights, strict=True) if weight > 1.0]
        weights = [_BODY_SHARE] * len(pairs)
    total = sum(weights) * len(cells)
    return tuple(
        _row(pair, cell, weight / total, draws)
        for pair, weight in zip(pairs, weights, strict=True) for cell in cells
    )


def _row(pair: tuple[tuple[str, ...], tuple[str, ...]], span: tuple[float, float], prior: float,
         draws: int) -> FaultRow:
    low, high = span
    first, second = pair
    places = min(_PLACES, len(second))
    each = draws // places
    ohms = np.geomspace(low, high, 2 * each + 1)[1::2]
    samples = []
    for number in range(draws):
        a = first[-1]  # an earth, where it is the body's net
        b = second[(number * places // draws) * len(second) // places]
        ohm = float(ohms[number % each])
        name = f"{b}~{a}"
        samples.append(Fault(f"{UNLISTED}:{name}:{ohm:.6g}", name, UNLISTED, ohm, prior, ""))
    element = f"{second[0]}~{first[0]}"
    cell = SeverityCell(low, float(np.sqrt(low * high)), high)
    row = Hypothesis(f"{UNLISTED}:{element}", element, UNLISTED, "?", prior, cell)
    return FaultRow(row, samples[draws // 2], tuple(samples))


def by_place(row: FaultRow) -> list[int]:
    """Return a number for the place of each draw of a row; one place for a narrow cell of ohms."""
    span = row.hypothesis.severity
    if span is None or span.high_ohm < _WIDE * span.low_ohm:
        return [0] * len(row.samples)
    places = [sample.element for sample in row.samples]
    return [places.index(one) for one in places]
