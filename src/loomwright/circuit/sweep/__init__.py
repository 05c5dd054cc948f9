"""Sweeps of faults: a circuit's states solved for thousands of variants, in pieces as they come.

Each variant is solved beside the healthy circuit by what it changes (see `kernel`), compiled by
numba where that is installed; whatever does not come to rest or does not balance, and every
variant without numba, goes through the full solve of `batch`.
"""

from __future__ import annotations

import dataclasses
import importlib.util
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.batch import conditions_of, operating
from loomwright.circuit.faults import overrides_of
from loomwright.circuit.model import Circuit
from loomwright.circuit.network import network_of
from loomwright.circuit.operate import operate
from loomwright.circuit.rules import Logic, logic_of
from loomwright.circuit.values import Variant, in_state, values_of, widened
from loomwright.errors import UnknownNameError

if TYPE_CHECKING:  # numba is optional and slow to load
    from loomwright.circuit.sweep.alterations import Alterations
    from loomwright.circuit.sweep.bases import Base
    from loomwright.circuit.sweep.crew import Crew, Task
    from loomwright.circuit.sweep.devices import Live
    from loomwright.circuit.sweep.rounds import Outcome
    from loomwright.circuit.sweep.shape import Shape
    from loomwright.circuit.sweep.variants import Changes, Probes

__all__ = ["Piece", "Reading", "Sweep", "is_fast", "sweep"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]

# Variants handed out together are at least so many, and as many as make so many volts and amps.
# Where the logic stands still a piece is quickly made, and so small that it stays near the
# processor: writing to far memory takes as long as solving.
_PIECE, _NEAR_PIECE = (1024, 4_000_000), (128, 250_000)
_LEAST_EACH = 8  # variants that a base must have to be worth its own solve


@dataclass(frozen=True, slots=True)
class Reading:
    """What a sweep reads: points, wires (their amps), states; empty is all of them.

    `frozen` keeps relays, rules and fuses as the healthy circuit has them in each state.
    `compiled` False asks for the full solve of every variant. `threads` share the variants.
    """

    points: tuple[str, ...] = ()
    wires: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    frozen: bool = False
    compiled: bool = True
    threads: int = 2


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Some variants in one state.

    `variants` are their numbers; `volts` (points, variants) [V] unloaded against the negative post
    of the battery, `amps` (wires, variants) [A] from a wire's start to its end, `blown` (fuses,
    variants). `in_full` tells which went through the full solve.
    """

    state: str
    variants: NDArray[np.int64]
    points: tuple[str, ...]
    volts: NDArray[np.float64]
    wires: tuple[str, ...]
    amps: NDArray[np.float64]
    fuses: tuple[str, ...]
    blown: NDArray[np.bool_]
    in_full: NDArray[np.bool_]


def is_fast(circuit: Circuit) -> bool:
    """Return whether a circuit's sweep is compiled: numba is there and knows all its laws."""
    if importlib.util.find_spec("numba") is None:
        return False
    from loomwright.circuit.sweep.bases import LAWS

    return all(branch.law in LAWS for branch in network_of(circuit).branches)


def sweep(circuit: Circuit, variants: Sequence[Variant], reading: Reading | None = None,
          blown: Bools | None = None) -> Iterator[Piece]:
    """Yield every state solved for every variant, in pieces, by what each variant changes.

    Parameters
        circuit: its own faults are in every variant
        variants: faults, battery factor and draw of tolerances of each; many should share one
            factor and draw, for each such pair is a base that is solved in whole
        reading: what to read; all points and wires in all states where it is None
        blown: fuses blown beforehand (n_fuses, variants), as `blown_after` returns them;
            a frozen reading leaves them out, as its fuses stand as in the healthy circuit
    Raises
        UnknownNameError: unknown state, point, wire or element
        SolveError: there is no battery, or nothing is joined to its negative post
    Validity
        steady direct current; volts within 50 microvolts of the full solve's, see
        docs/models/sweep.md. A point without any path has no certain volts.
    """
    yield from Sweep(circuit, variants, keep=False).read(reading, blown)


class Sweep:
    """A circuit and its variants made ready once, to be read again and again.

    Parameters as of `sweep`; `keep` holds every state's healthy solution for the next reading
    (about 1 kB a branch, step of the logic and state). One reading at a time: all of them work in
    the same scratch, so readings from several threads want a `Sweep` each.
    """

    def __init__(self, circuit: Circuit, variants: Sequence[Variant], keep: bool = True) -> None:
        self.circuit, self.variants, self.keep = circuit, tuple(variants), keep
        self.network = network_of(circuit)
        self.healthy = dataclasses.replace(circuit, faults=()) if circuit.faults else circuit
        self.failed: Bools | None = None
        self.made: _Made | None = None
        if is_fast(circuit):
            from loomwright.circuit.sweep.alterations import alterations_of, drivers
            from loomwright.circuit.sweep.bases import live_of
            from loomwright.circuit.sweep.rounds import neighbours
            from loomwright.circuit.sweep.shape import shape_of

            alterations = alterations_of(circuit, self.variants)
            if alterations.bases.count <= max(len(self.variants) // _LEAST_EACH, 1):
                shape = shape_of(self.network, alterations.extra, drivers(alterations))
                orders = tuple(
                    neighbours(alterations, shape, np.flatnonzero(alterations.base_of == number))
                    for number in range(alterations.bases.count))
                self.made = _Made(alterations, shape, live_of(shape), orders)

    def read(self, reading: Reading | None = None, blown: Bools | None = None
             ) -> Iterator[Piece]:
        """Yield every state asked for, solved for every variant, in pieces; as `sweep`."""
        reading = reading or Reading()
        work = _Reader(self, reading, blown)
        states = _known("state", reading.states, tuple(self.circuit.states))
        if self.made is None or not reading.compiled:
            for state in states:
                yield from work.in_full(state)
        else:
            yield from work.beside_bases(states, self.made)

    def state(self, name: str, made: _Made) -> _State:
        """Return a state's logic, its alterations and its bases."""
        from loomwright.circuit.sweep.bases import base_of
        from loomwright.circuit.sweep.rounds import changes_in

        if name in made.states:
            return made.states[name]
        logic = logic_of(self.network, conditions_of(self.circuit, name))
        values = in_state(made.alterations.bases, logic.conditions)
        altered = changes_in(made.alterations, logic.conditions)
        bases = tuple(base_of(altered, (made.shape, made.live), logic, values, number)
                      for number in range(values.count))
        found = _State(logic, altered, bases)
        if self.keep:
            made.states[name] = found
        return found

    def failed_by_fault(self, fuses: tuple[str, ...]) -> Bools:
        """Return which fuses a fault has opened (fuses, variants); the same in all states."""
        if self.failed is None:
            found = np.zeros((len(fuses), len(self.variants)), np.bool_)
            place = {name: number for number, name in enumerate(fuses)}
            for column, variant in enumerate(self.variants):
                for fault in (*self.circuit.faults, *variant.faults):
                    if fault.element in place:
                        acts = overrides_of(self.circuit, fault)
                        found[place[fault.element], column] |= any(
                            act.act == "open" for act in acts)
            self.failed = found
        return self.failed


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """What the compiled sweep needs once: changes listed, the elimination tree, scratch."""

    alterations: Alterations
    shape: Shape
    live: Live
    orders: tuple[Indices, ...]  # of each base, its variants as they are solved
    states: dict[str, _State] = field(default_factory=dict)
    # changes of a piece where the logic stands still: by base and places in its order
    changes: dict[tuple[int, int, int], Changes] = field(default_factory=dict)
    crews: dict[int, Crew] = field(default_factory=dict)  # by threads

    def crew(self, threads: int) -> Crew:
        """Return so many threads, the same ones at every reading."""
        from loomwright.circuit.sweep.crew import Crew

        if threads not in self.crews:
            self.crews[threads] = Crew(self.shape, threads)
        return self.crews[threads]


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """One state: its logic, the changes as its conditions make them, the healthy solutions."""

    logic: Logic
    altered: Alterations
    bases: tuple[Base, ...]


class _Reader:
    """One reading of a sweep: names looked up."""

    def __init__(self, ready: Sweep, reading: Reading, blown: Bools | None) -> None:
        self.ready, self.reading, self.blown = ready, reading, blown
        self.circuit, self.variants, self.network = ready.circuit, ready.variants, ready.network
        network = self.network
        self.points = _known("point", reading.points, self.circuit.points())
        wires = tuple(name for name in self.circuit.wires if name in network.where)
        self.wires = _known("wire", reading.wires, wires)
        self.nodes = tuple(network.index[point] for point in self.points)
        self.branches = tuple(network.where[wire] for wire in self.wires)
        near = reading.frozen and reading.compiled and ready.made is not None
        least, numbers = _NEAR_PIECE if near else _PIECE
        self.size = max(least, numbers // max(len(self.points) + len(self.wires), 1))
        self.probes: Probes | None = None
        self.stands: dict[tuple[str, Variant], Bools] = {}  # flags without a fault

    def in_full(self, state: str) -> Iterator[Piece]:
        """Yield the pieces of one state, by the full solve."""
        logic = logic_of(self.network, conditions_of(self.circuit, state))
        made = self.ready.made
        for order in made.orders if made else (np.arange(len(self.variants)),):
            for first, stop in self._pieces(len(order)):
                which = order[first:stop]
                yield self._piece(state, logic, which, self._in_full(state, logic, which))

    def beside_bases(self, states: tuple[str, ...], made: _Made) -> Iterator[Piece]:
        """Yield the pieces of some states, each variant solved by what it changes."""
        for found, asked in made.crew(self.reading.threads).in_turn(self._tasks(states, made)):
            which, logic, count = asked.which, asked.here.logic, len(asked.which)
            solved = _Solved(found.volts[:, :count], found.amps[:, :count], found.flags,
                             found.left)
            if found.left.any():
                _fill(solved, self._in_full(asked.state, logic, which[found.left]))
            yield self._piece(asked.state, logic, which, solved)

    def _tasks(self, states: tuple[str, ...], made: _Made) -> Iterator[Task[_Asked]]:
        """Yield what there is to solve, ready to be handed to a thread."""
        from loomwright.circuit.sweep.crew import Task

        crew, rows = made.crew(self.reading.threads), len(self.network.nodes)
        for state in states:
            here = self.ready.state(state, made)
            for number, order in enumerate(made.orders):
                for first, stop in self._pieces(len(order)):
                    which = order[first:stop]
                    work = self._work(made, here, (number, first, stop), crew)
                    yield Task(work, len(which) * rows, _Asked(state, here, which))

    def _work(self, made: _Made, here: _State, place: tuple[int, int, int], crew: Crew
              ) -> Callable[[Live], Outcome]:
        """Return what solves some variants, given scratch; `place` is base, first and last."""
        from loomwright.circuit.sweep import rounds

        number, first, stop = place
        base, frozen = here.bases[number], self.reading.frozen
        which = made.orders[number][first:stop]
        room = crew.rooms.take(len(self.nodes) + len(self.branches),
                               rounds.columns_for(len(which)))
        if not base.steps:
            return lambda _: rounds.unsolved(base, len(which), len(self.nodes), room)
        if self.probes is None or not frozen:
            self.probes = rounds.probes_for(base, self.nodes, self.branches, frozen)
        probes = self.probes
        if not frozen:
            before = None if self.blown is None else self.blown[:, which]
            return lambda live: rounds.run(base, here.altered, which, probes, (room, live), before)
        changes = made.changes.get(place) if here.altered is made.alterations else None
        if changes is None:
            changes = rounds.frozen_changes(here.altered, base, which)
            if here.altered is made.alterations:
                made.changes[place] = changes
        known = changes
        return lambda live: rounds.run_frozen(base, known, probes, (room, live))

    def _in_full(self, state: str, logic: Logic, which: Indices) -> _Solved:
        """Return some variants by the full solve."""
        some = tuple(self.variants[number] for number in which)
        before = None if self.blown is None else self.blown[:, which]
        if self.reading.frozen:
            network = widened(self.network, self.circuit, some)
            stands = self._healthy(state, some)
            start = {name: stands[row] for name, row in logic.row.items()}
            found = operate(logic_of(network, logic.conditions),
                            values_of(network, self.circuit, some), follow=False, start=start)
        else:
            _, _, found = operating(self.circuit, state, some, before)
        return _Solved(found.volts[list(self.nodes)], found.amps[list(self.branches)],
                       found.flags, np.ones(len(which), np.bool_))

    def _healthy(self, state: str, variants: Sequence[Variant]) -> Bools:
        """Return the flags of the circuit without any fault, its own included (flags, variants)."""
        plain = [dataclasses.replace(variant, faults=()) for variant in variants]
        missing = tuple(one for one in dict.fromkeys(plain) if (state, one) not in self.stands)
        if missing:
            _, _, found = operating(self.ready.healthy, state, missing)
            for number, one in enumerate(missing):
                self.stands[state, one] = found.flags[:, number]
        return np.stack([self.stands[state, one] for one in plain], axis=1)

    def _piece(self, state: str, logic: Logic, which: Indices, found: _Solved) -> Piece:
        fuses = [logic.row[f"blown:{name}"] for name in logic.fuses]
        blown = found.flags[fuses] | self.ready.failed_by_fault(tuple(logic.fuses))[:, which]
        return Piece(state, which, self.points, found.volts, self.wires, found.amps,
                     tuple(logic.fuses), blown, found.in_full)

    def _pieces(self, count: int) -> Iterator[tuple[int, int]]:
        """Yield the first and last places of pieces of so many variants."""
        for first in range(0, count, self.size):
            yield first, min(first + self.size, count)


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """Which variants a piece is to tell of, in which state."""

    state: str
    here: _State
    which: Indices


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """Volts (points, variants), amps (wires, variants), flags, and which were solved in full."""

    volts: Array
    amps: Array
    flags: Bools
    in_full: Bools


def _fill(solved: _Solved, full: _Solved) -> None:
    """Write what was solved in full to its places."""
    where = np.flatnonzero(solved.in_full)
    solved.volts[:, where], solved.amps[:, where] = full.volts, full.amps
    solved.flags[:, where] = full.flags


def _known(kind: str, names: tuple[str, ...], there: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names asked for, or all there are.

    Raises
        UnknownNameError: one of them is not there
    """
    known = set(there)
    for name in names:
        if name not in known:
            raise UnknownNameError(kind, name, there)
    return names or there
