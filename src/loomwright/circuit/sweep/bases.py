"""Bases of a sweep: what the healthy circuit goes through in one state, step by step of its logic.

A variant follows the same steps from rest, each beside the base's step of that number, so that it
ends where the full solve would, hysteresis and all.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.chatter import Wandering
from loomwright.circuit.rules import Flags, Logic
from loomwright.circuit.sweep.alterations import Alterations
from loomwright.circuit.sweep.devices import BEND, Devices, Kept, Live
from loomwright.circuit.sweep.kernel import SOLVED, solve_base
from loomwright.circuit.sweep.lanes import LANES
from loomwright.circuit.sweep.rooms import aligned
from loomwright.circuit.sweep.shape import Shape
from loomwright.circuit.sweep.variants import Changes, Probes
from loomwright.circuit.values import FREE, OPEN, Values

__all__ = ["LAWS", "Base", "Step", "Watch", "base_of", "copied", "live_of", "wanted", "watch_of"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

LAWS = {"resistor": 0, "lamp": 1, "diode": 2, "motor": 3, "battery": 4}  # as in the kernel
_Tuple = TypeVar("_Tuple", Devices, Kept)


@dataclass(frozen=True, slots=True, eq=False)
class Watch:
    """What the logic looks at: nodes, branches, and the branches that it opens and closes."""

    nodes: Indices
    branches: Indices
    gated: Indices
    fuse_rows: tuple[tuple[int, int], ...]  # branch, flag row


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One step of the base: its flags and the network solved under them."""

    flags: Flags
    devices: Devices
    kept: Kept


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """Everything about one base in one state; without steps where the network is not solved.

    The last step is the logic at rest or, where it chatters, as the full solve leaves it.
    """

    shape: Shape
    logic: Logic
    watch: Watch
    steps: tuple[Step, ...]


def watch_of(logic: Logic, alterations: Alterations) -> Watch:
    """Return what a state's logic looks at and what it moves."""
    nodes: list[int] = []
    branches = [branch for branch, _ in logic.fuses.values()]
    for relay in logic.relays.values():
        branches += relay.coils
    for controller in logic.controllers.values():
        nodes += [controller.supply, controller.earth, *(node for _, node in controller.inputs)]
        branches += [branch for _, branch in controller.outputs]
    fuses = tuple((branch, logic.row[f"blown:{name}"])
                  for name, (branch, _) in logic.fuses.items())
    gated = [row for row, _ in logic.gated] + [branch for branch, _ in fuses]
    return Watch(_unique(nodes), _unique(branches), _unique(gated), fuses)


def _unique(numbers: list[int]) -> Indices:
    return np.array(sorted(set(numbers)), np.int64)


def wanted(logic: Logic, watch: Watch, flags: Flags) -> NDArray[np.int8]:
    """Return what the logic has conducting, (variants, gated branches)."""
    on = np.ones((len(watch.gated), flags.shape[1]), np.int8)
    place = {branch: number for number, branch in enumerate(watch.gated.tolist())}
    for branch, gate in logic.gated:
        on[place[branch]] = logic.conduct(gate, flags)
    for branch, row in watch.fuse_rows:
        on[place[branch]] &= ~flags[row]
    return np.ascontiguousarray(on.T)


def copied(arrays: _Tuple) -> _Tuple:
    """Return a copy to work in; what never changes is shared."""
    return type(arrays)._make(array.copy() for array in arrays)


def _devices(alterations: Alterations, values: Values, number: int) -> Devices:
    """Return the branch constants of one base, the branches of shorts to the supply last."""
    branches, more = alterations.network.branches, len(alterations.extra)

    def column(array: NDArray[np.float64], outside: float) -> Array:
        return np.concatenate([array[:, number], np.full(more, outside)])

    law = np.array([LAWS[b.law] for b in branches] + [0] * more, np.int64)
    return Devices(
        law, np.array([b.rated_v or 1.0 for b in branches] + [1.0] * more),
        np.array([(b.cold_ohm / b.ohm) ** (1 / BEND) if b.law == "lamp" else 1.0
                  for b in branches] + [1.0] * more),
        np.array([b.charge_ohm for b in branches] + [1.0] * more),
        np.array([1 / b.off_ohm if b.off_ohm else 0.0 for b in branches] + [0.0] * more),
        column(values.ohm, 1.0), column(values.emf, 0.0), column(values.rated_a, 0.0),
        np.zeros(len(law)), np.array([FREE] * len(branches) + [OPEN] * more, np.int8),
        np.ones(len(law), np.int8), np.flatnonzero(law))


def _kept(shape: Shape, branches: int) -> Kept:
    """Return a network not yet solved."""
    tree = shape.tree
    rows, entries, pairs = len(tree.parent), len(tree.others), int(tree.pairs[-1])
    return Kept(
        np.zeros(branches), np.zeros(branches), np.zeros(branches), np.zeros(branches),
        np.zeros(branches), np.zeros(branches), np.zeros(branches, np.int64),
        np.zeros(entries), np.zeros(entries), np.zeros(entries),
        np.zeros(pairs), np.zeros(rows + 1), np.full(rows, -1.0))


def live_of(shape: Shape) -> Live:
    """Return room to solve sixteen variants at once in networks of one shape."""
    tree = shape.tree
    rows, entries, branches = len(tree.parent), len(tree.others), len(tree.start)
    widest = int(np.diff(tree.front).max(initial=0))

    def lanes(count: int) -> Array:
        return aligned((count, LANES))

    def whole(count: int) -> Indices:
        return np.zeros(count, np.int64)

    return Live(
        lanes(branches), lanes(branches), lanes(branches), lanes(entries), lanes(entries),
        lanes(entries), lanes(int(tree.pairs[-1])), lanes(rows), lanes(rows), lanes(rows),
        lanes(rows + 1), lanes(widest + 1), lanes(1), whole(branches), whole(branches),
        whole(branches), whole(rows), whole(rows), np.zeros(rows, np.bool_), whole(rows),
        whole(rows), whole(branches),
        np.zeros(branches, np.bool_), whole(rows), whole(LANES), whole(LANES), whole(3), whole(1))


def _no_changes() -> Changes:
    """Return the changes of one variant that has none."""
    none, numbers = np.empty(0, np.int64), np.empty(0)
    forced = np.empty(0, np.int8)
    return Changes(np.zeros(2, np.int64), none, numbers, numbers, numbers,
                   numbers, forced, np.zeros(2, np.int64), none, numbers, none,
                   np.empty((1, 0), np.int8))


def base_of(alterations: Alterations, scratch: tuple[Shape, Live], logic: Logic, values: Values,
            number: int) -> Base:
    """Return one base solved in one state; `values` are those of the state."""
    shape, live = scratch
    if values.trips:
        trips = {name: factor[number:number + 1] for name, factor in values.trips.items()}
        logic = dataclasses.replace(logic, trips=trips)
    watch = watch_of(logic, alterations)
    devices = _devices(alterations, values, number)
    kept, nothing = _kept(shape, len(devices.law)), _no_changes()
    flags = np.zeros((len(logic.names), 1), np.bool_)
    for name, on in logic.held.items():
        flags[logic.row[name]] = on
    steps: list[Step] = []
    wandering = Wandering(flags)
    while True:
        devices.on[watch.gated] = wanted(logic, watch, flags)[0]
        if solve_base(shape.tree, (devices, kept, live), nothing) != SOLVED:
            return Base(shape, logic, watch, ())
        steps.append(Step(flags, copied(devices), copied(kept)))
        if wandering.chatters[0]:
            return Base(shape, logic, watch, tuple(steps))
        told = _told(shape, watch, kept)
        following = follow(Told(logic, watch, told.T, devices.ohm[:, None]), flags, {}, wandering)
        if (following == flags).all():
            return Base(shape, logic, watch, tuple(steps))
        wandering.move(flags, following, np.ones(1, np.bool_))
        flags = following


def _told(shape: Shape, watch: Watch, kept: Kept) -> Array:
    """Return the volts and amps that the logic looks at, one line."""
    probes = probes_of(shape, watch, (), ())
    volts = kept.volts[probes.logic_rows] - kept.volts[probes.measured]
    return np.concatenate([volts, kept.flow[watch.branches]])[None, :]


def probes_of(shape: Shape, watch: Watch, nodes: tuple[int, ...], branches: tuple[int, ...]
              ) -> Probes:
    """Return where to read volts and amps; `nodes` and `branches` are what the caller wants."""
    tree, last = shape.tree, len(shape.tree.parent)
    wires = np.array(branches, np.int64)

    def placed(rows: Indices) -> Indices:
        return np.where(rows < 0, last, rows)

    measured, rows, logic = (placed(shape.row_of[np.array(some, np.int64)]) for some in
                             ([shape.measured], nodes, watch.nodes))
    ends = [placed(rows[some]) for some in (watch.branches, wires)
            for rows in (tree.start, tree.end)]
    needed: set[int] = set()
    for row in np.concatenate([measured, rows, logic, *ends]).tolist():
        at = row if row < last else -1
        while at >= 0 and at not in needed:
            needed.add(at)
            at = int(tree.parent[at])
    return Probes(rows, int(measured[0]), logic, watch.branches, ends[0], ends[1], wires, ends[2],
                  ends[3], np.array(sorted(needed, reverse=True), np.int64))


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """Volts and amps that the logic looks at, (nodes + branches, variants), with coil ohms."""

    logic: Logic
    watch: Watch
    numbers: Array
    ohm: Array  # (branches, variants), rows that no relay coil has may hold anything


def follow(told: Told, flags: Flags, forces: dict[str, NDArray[np.int8]], wandering: Wandering
           ) -> Flags:
    """Return the flags that solved volts and amps lead to."""
    logic, watch, count = told.logic, told.watch, told.numbers.shape[1]
    # whole arrays by node and branch, of which only the rows the logic reads are ever touched
    most = int(max(watch.nodes.max(initial=0), watch.branches.max(initial=0))) + 1
    volts, amps = np.empty((most, count)), np.empty((most, count))
    nodes = len(watch.nodes)
    volts[watch.nodes] = told.numbers[:nodes]
    amps[watch.branches] = told.numbers[nodes:nodes + len(watch.branches)]
    return logic.following(flags, volts, amps, logic.pulls(amps, told.ohm), forces,
                           wandering.returns > 0)
