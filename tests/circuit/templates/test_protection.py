"""Every template: each wire carries what the fuse before it lets through, and has one near by."""

from __future__ import annotations

from collections import defaultdict, deque

import pytest

from loomwright.circuit.model import Circuit
from loomwright.circuit.templates import template, template_names
from tests.circuit.templates.test_templates import circuit_of, results_of

CASES = [(name, system) for name in template_names() for system in template(name).systems]
# Continuous amps of a single PVC cable by area in mm2. Up to 10 mm2 a cable maker's sheet of
# thin-wall ISO 6722 class B cable (published); above, common practice.
AMPS = {0.35: 8, 0.5: 11, 0.75: 14, 1: 16.5, 1.5: 21, 2.5: 29, 4: 39, 6: 50, 10: 70, 16: 95,
        25: 125, 35: 160, 50: 200, 70: 250, 95: 300, 120: 350}
FUSES = {"fuse", "fusible link", "circuit breaker"}
CLOSED = {"switch": ("1", "2"), "relay": ("30", "87"), "latching relay": ("30", "87"),
          "diode": ("1", "2")}
# Common practice: what has no fuse before it is short and stout, or the starter's cable.
BARE_MM2, BARE_M, CABLE_MM2 = 2.5, 1.0, 10.0
# Cranking lasts seconds, not hours.
SHORT_DUTY = {"start-series-batteries"}


def joins_of(circuit: Circuit) -> dict[str, set[str]]:
    """Return what each point is joined to with every switch closed and every fuse out."""
    pairs = [(wire.start.point, wire.end.point) for wire in circuit.wires.values() if wire.end]
    for part in circuit.parts.values():
        if part.kind in CLOSED:
            first, second = CLOSED[part.kind]
            pairs.append((f"{part.id}.{first}", f"{part.id}.{second}"))
        if part.kind == "connector":
            pairs += [(f"{part.id}.{pin}", f"{part.id}.{pin[:-1]}b")
                      for pin in part.pins if pin.endswith("a")]
    joined: dict[str, set[str]] = defaultdict(set)
    for first, second in pairs:
        joined[first].add(second)
        joined[second].add(first)
    return joined


def fuse_before(circuit: Circuit) -> dict[str, float]:
    """Return the rating that protects each point on the feed side, inf where nothing does."""
    joined, found = joins_of(circuit), dict[str, float]()
    waiting = deque((f"{name}.+", float("inf")) for name, part in circuit.parts.items()
                    if part.kind == "battery")
    while waiting:
        point, rating = waiting.popleft()
        if found.get(point, -1.0) >= rating:
            continue
        found[point] = rating
        waiting += [(other, rating) for other in joined[point]]
        name, _, pin = point.partition(".")
        part = circuit.parts.get(name)
        if part is not None and part.kind in FUSES:
            waiting.append((f"{name}.{'2' if pin == '1' else '1'}",
                            min(rating, part.number("rating_a"))))
    return found


@pytest.mark.parametrize(("name", "system"), CASES)
def test_no_fuse_lets_through_more_than_its_wires_carry(name: str, system: str) -> None:
    circuit = circuit_of(name, system)
    found = fuse_before(circuit)
    wrong = []
    for wire in circuit.wires.values():
        rating = found.get(wire.start.point)
        if rating is None:
            continue  # the earth side
        if rating == float("inf"):
            stout = wire.area_mm2 >= CABLE_MM2
            if not stout and (wire.area_mm2 < BARE_MM2 or wire.length_m > BARE_M):
                wrong.append(f"{wire.id} has no fuse before it")
        elif rating > AMPS[wire.area_mm2]:
            wrong.append(f"{wire.id} of {wire.area_mm2} mm2 behind {rating} A")
    assert wrong == []


@pytest.mark.parametrize(("name", "system"), CASES)
def test_no_wire_and_no_fuse_is_overloaded_in_use(name: str, system: str) -> None:
    circuit, results = circuit_of(name, system), results_of(name, system)
    wires = {wire.id: AMPS[wire.area_mm2] for wire in circuit.wires.values()
             if name not in SHORT_DUTY}
    most = {wire: max(abs(one.wires[wire]) for one in results.values()) for wire in wires}
    assert [wire for wire, limit in wires.items() if most[wire] > limit] == []
    # common practice: a fuse carries at most 80 % of its rating for long
    fuses = {part.id: 0.8 * part.number("rating_a") for part in circuit.parts.values()
             if part.kind in FUSES}
    carried = {fuse: max(abs(one.parts[fuse].amps or 0.0) for one in results.values())
               for fuse in fuses}
    assert {fuse: amps for fuse, amps in carried.items() if amps > fuses[fuse]} == {}
