"""The electrical network of a circuit: every pin a node, every part and wire its branches."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.branches import Branch
from loomwright.circuit.elimination import Plan, make_plan
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import BODY, OUT, Circuit, Part, Wire
from loomwright.data.conductors import wire_ohm_per_m
from loomwright.errors import SolveError

__all__ = ["MINIMUM_OHM", "STRAP_OHM", "Network", "network_of", "with_shorts"]

MINIMUM_OHM = 1e-9
STRAP_OHM = 0.0005  # battery negative post to the body; assumed
_OUT_TIMES = 1e15  # ohms of a fuse that is out, against those of one that is in

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Network:
    """Nodes and branches of one circuit, with the elimination plan of its shape."""

    circuit: Circuit
    nodes: tuple[str, ...]
    index: dict[str, int]
    branches: tuple[Branch, ...]
    where: dict[str, int]  # branch id -> number
    start: Indices
    end: Indices
    plan: Plan
    layers: tuple[tuple[Indices, Indices], ...]  # (entries, branches) to add, no entry twice
    ground_layers: tuple[tuple[Indices, Indices], ...]  # (rows, branches) to the reference
    base_count: int  # branches of the unfaulted circuit; shorts come after


_cache: dict[tuple[object, ...], Network] = {}
_CACHE_SIZE = 16


def network_of(circuit: Circuit) -> Network:
    """Return the network of a circuit without its faults (they are overrides, see `faults`).

    Raises
        SolveError: there is no battery, or nothing is joined to its negative post
    """
    return _kept(_key(circuit), lambda: _build(circuit))


def _key(circuit: Circuit) -> tuple[object, ...]:
    out = frozenset(word for conditions in circuit.states.values()
                    for word, value in conditions.items() if value == OUT)
    return id(circuit.parts), id(circuit.wires), circuit.system_v, circuit.temperature_c, out


def _kept(key: tuple[object, ...], make: Callable[[], Network]) -> Network:
    """Return a network made before, or make it; the oldest gives way."""
    found = _cache.get(key)
    if found is None:
        found = make()
        while len(_cache) >= _CACHE_SIZE:
            _cache.pop(next(iter(_cache)), None)
        # the network holds the circuit, so the ids in the key stay taken while it is cached
        _cache[key] = found
    return found


def with_shorts(network: Network, shorts: Iterable[tuple[str, str, str]]) -> Network:
    """Return the network with branches added that only a fault closes: (id, from, to) each."""
    extra = tuple(Branch(name, a, b, 1.0, gate="never") for name, a, b in shorts)
    if not extra:
        return network
    circuit = network.circuit
    key = (*_key(circuit), *(branch.id for branch in extra))
    return _kept(key, lambda: _assemble(circuit, (*network.branches, *extra), network.base_count))


def _build(circuit: Circuit) -> Network:
    """Collect the branches of parts, wires and straps."""
    if not any(part.kind == "battery" for part in circuit.parts.values()):
        raise SolveError(["There is no battery, so nothing drives a current"],
                         next_step="Add a part of kind battery and wire it in.")
    branches: list[Branch] = []
    for part in circuit.parts.values():
        found = KINDS[part.kind].branches(part, circuit.system_v)
        if KINDS[part.kind].opens_above is not None:
            found = tuple(_pulled(branch, circuit) for branch in found)
        branches.extend(found)
    branches.extend(_wire_branch(wire, circuit) for wire in circuit.wires.values() if wire.end)
    branches.extend(_straps(circuit))
    if not any(branch.law == "regulated" for branch in branches):
        # nothing charges, so the simpler law serves
        branches = [dataclasses.replace(b, law="resistor") if b.law == "battery" else b
                    for b in branches]
    return _assemble(circuit, tuple(branches), len(branches))


def _pulled(branch: Branch, circuit: Circuit) -> Branch:
    """Return a fuse's branch such that it joins nothing in a state in which the fuse is out."""
    if all(conditions.get(branch.id) != OUT for conditions in circuit.states.values()):
        return branch
    return dataclasses.replace(branch, by_state=lambda conditions: (
        _OUT_TIMES if conditions.get(branch.id) == OUT else 1.0, 1.0, 1.0))


def _wire_branch(wire: Wire, circuit: Circuit) -> Branch:
    assert wire.end is not None
    ohm = wire.length_m * wire_ohm_per_m(wire.area_mm2, circuit.temperature_c)
    return Branch(wire.id, wire.start.point, wire.end.point, ohm, spread="contact")


def _batteries(circuit: Circuit) -> list[Part]:
    return [part for part in circuit.parts.values() if part.kind == "battery"]


def _straps(circuit: Circuit) -> list[Branch]:
    """Join each battery's negative post to the body where the wires do not say otherwise."""
    if not any(part.kind == "earth" for part in circuit.parts.values()):
        return []
    found = []
    for number, battery in enumerate(_batteries(circuit)):
        post = f"{battery.id}.-"
        ends = [(w.start, w.end) for w in circuit.wires.values() if w.end]
        joined = [far.part for near, far in [*ends, *((b, a) for a, b in ends)]
                  if near.point == post]
        earthed = any(circuit.parts[name].kind == "earth" for name in joined)
        if not earthed and (number == 0 or not joined):
            found.append(Branch(f"strap:{battery.id}", post, BODY, STRAP_OHM, spread="contact"))
    return found


def _assemble(circuit: Circuit, branches: tuple[Branch, ...], base_count: int) -> Network:
    """Number the nodes and plan the elimination."""
    branches = tuple(
        b if b.ohm >= MINIMUM_OHM else dataclasses.replace(b, ohm=MINIMUM_OHM) for b in branches
    )
    nodes = tuple(dict.fromkeys([*circuit.points(), *(n for b in branches for n in (b.a, b.b))]))
    index = {name: number for number, name in enumerate(nodes)}
    reference = index[f"{_batteries(circuit)[0].id}.-"]
    start = np.array([index[b.a] for b in branches], dtype=np.intp)
    end = np.array([index[b.b] for b in branches], dtype=np.intp)
    plan = make_plan(len(nodes), list(zip(start.tolist(), end.tolist(), strict=True)), reference)
    to_entry: list[tuple[int, int]] = []
    to_ground: list[tuple[int, int]] = []
    for number, (a, b) in enumerate(zip(plan.row_of[start], plan.row_of[end], strict=True)):
        if a < 0 or b < 0:
            if a != b:
                to_ground.append((int(max(a, b)), number))
        elif a != b:
            to_entry.append((plan.entry_of[int(min(a, b)), int(max(a, b))], number))
    if len(to_ground) <= 1:
        reason = "Nothing is joined to the battery's negative post, so no current returns"
        fix = f"Wire {nodes[reference]} to the loads or to an earth point."
        raise SolveError([reason], next_step=fix)
    return Network(circuit, nodes, index, branches, {b.id: n for n, b in enumerate(branches)},
                   start, end, plan, _layers(to_entry), _layers(to_ground), base_count)


def _layers(pairs: list[tuple[int, int]]) -> tuple[tuple[Indices, Indices], ...]:
    """Split (target, branch) pairs into layers in which no target stands twice."""
    layers: list[dict[int, int]] = []
    for target, branch in pairs:
        layer = next((found for found in layers if target not in found), None)
        if layer is None:
            layer = {}
            layers.append(layer)
        layer[target] = branch
    return tuple((np.array(list(layer), dtype=np.intp), np.array(list(layer.values()), np.intp))
                 for layer in layers)
