"""Checks that a circuit can work at all: a battery, a way back to it, no dead short by wire."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.model import BODY, Mark, Wire
from loomwright.circuit.reader.parts import Parts
from loomwright.circuit.reader.problems import Problems

__all__ = ["check_sense"]

_BATTERY, _EARTH = "battery", "earth"


def check_sense(parts: Parts, wires: Mapping[str, Wire], top: Mark, problems: Problems) -> None:
    """Note what no circuit can do without, and both posts of a battery joined by wires alone.

    Parameters
        top: where to point when a whole section is missing
    """
    kinds = parts.declared.values()
    if "" not in kinds and _BATTERY not in kinds:
        problems.add(top, "The circuit has no battery.",
                     "Add 'BAT: {kind: battery}' to the parts.")
    batteries = [part for part, kind in parts.declared.items() if kind == _BATTERY]
    if problems or not batteries:
        return
    posts = {f"{part}.-" for part in batteries}
    if not wires:
        problems.add(top, "The circuit has no wires.", "Add 'wires:' with [W1, BAT.+, F1.1].")
    elif _EARTH not in kinds and not any(_touches(wire, posts) for wire in wires.values()):
        problems.add(top, "Nothing leads back to the battery: no earth, no wire to its - post.",
                     f"Add 'E1: {{kind: earth}}' and wires to it, or a wire to {batteries[0]}.-.")
    _check_short(parts, wires, batteries, problems)


def _touches(wire: Wire, points: set[str]) -> bool:
    return wire.start.point in points or (wire.end is not None and wire.end.point in points)


def _check_short(parts: Parts, wires: Mapping[str, Wire], batteries: list[str],
                 problems: Problems) -> None:
    """Join what wires, splices and earths join; a battery's posts must stay apart."""
    root: dict[str, str] = {}

    def top_of(point: str) -> str:
        first = point
        while point in root:
            point = root[point]
        while first != point:  # a long chain is walked once, not for every wire of it
            above = root[first]
            root[first] = point
            first = above
        return point

    def join(one: str, other: str) -> None:
        if top_of(one) != top_of(other):
            root[top_of(one)] = top_of(other)

    for part, kind in parts.declared.items():
        if kind == _EARTH:
            join(part, BODY)
    for number, part in enumerate(batteries):
        # the default strap, as the solver sets it: a second battery whose - is wired has none
        if number == 0 or not any(_touches(wire, {f"{part}.-"}) for wire in wires.values()):
            join(f"{part}.-", BODY)
    for wire in wires.values():
        if wire.end is None:
            continue
        join(wire.start.point, wire.end.point)
        short = next((part for part in batteries if top_of(f"{part}.+") == top_of(f"{part}.-")), "")
        if short:
            problems.add(wire.mark, f"With wire {wire.id} both posts of {short} are joined by "
                         "wires alone: a dead short.", "Check the ends of this wire.")
            return
