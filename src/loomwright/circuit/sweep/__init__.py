"""Sweeps of faults: a circuit's states solved for thousands of variants, in pieces as they come.

Each variant is solved beside the healthy circuit by what it changes (see `kernel`), compiled by
numba where that is installed; whatever does not come to rest or does not balance, and every
variant without numba, goes through the full solve of `batch`.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator, Sequence
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
    from loomwright.circuit.sweep.devices import Live
    from loomwright.circuit.sweep.rounds import Crew, Outcome
    from loomwright.circuit.sweep.shape import Shape
    from loomwright.circuit.sweep.variants import Changes, Probes

__all__ = ["Piece", "Reading", "Sweep", "is_fast", "sweep"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]

_LEAST_PIECE = 1024  # variants handed out together
_PIECE_NUMBERS = 4_000_000  # volts and amps handed out together, where that makes more variants
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
        self.failed: Bools | None = None
        self.made: _Made | None = None
        if is_fast(circuit):
            from loomwright.circuit.sweep.alterations import alterations_of
            from loomwright.circuit.sweep.bases import live_of
            from loomwright.circuit.sweep.shape import shape_of

            alterations = alterations_of(circuit, self.variants)
            if alterations.bases.count <= max(len(self.variants) // _LEAST_EACH, 1):
                shape = shape_of(self.network, alterations.extra)
                self.made = _Made(alterations, shape, live_of(shape))

    def read(self, reading: Reading | None = None, blown: Bools | None = None
             ) -> Iterator[Piece]:
        """Yield every state asked for, solved for every variant, in pieces; as `sweep`."""
        reading = reading or Reading()
        work = _Reader(self, reading, blown)
        states = _known("state", reading.states, tuple(self.circuit.states))
        for state in states:
            if self.made is None or not reading.compiled:
                yield from work.in_full(state)
            else:
                yield from work.beside_bases(state, self.made)

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
    states: dict[str, _State] = field(default_factory=dict)
    # changes of a piece where the logic stands still: by base and first variant
    changes: dict[tuple[int, int, int], Changes] = field(default_factory=dict)
    crews: dict[int, Crew] = field(default_factory=dict)  # by threads


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
        self.probes: Probes | None = None

    def in_full(self, state: str) -> Iterator[Piece]:
        """Yield the pieces of one state, by the full solve."""
        logic = logic_of(self.network, conditions_of(self.circuit, state))
        for which in self._pieces(np.arange(len(self.variants))):
            yield self._piece(state, logic, which, self._in_full(state, logic, which))

    def beside_bases(self, state: str, made: _Made) -> Iterator[Piece]:
        """Yield the pieces of one state, each variant solved by what it changes."""
        here = self.ready.state(state, made)
        for number, base in enumerate(here.bases):
            for which in self._pieces(np.flatnonzero(made.alterations.base_of == number)):
                if not base.steps:
                    yield self._piece(state, here.logic, which,
                                      self._in_full(state, here.logic, which))
                    continue
                found = self._run(made, here, number, which)
                solved = _Solved(found.volts.T, found.amps.T, found.flags, found.left)
                if found.left.any():
                    full = self._in_full(state, here.logic, which[found.left],
                                         base.steps[-1].flags)
                    _fill(solved, full)
                yield self._piece(state, here.logic, which, solved)

    def _run(self, made: _Made, here: _State, number: int, which: Indices) -> Outcome:
        """Return some variants of one base by the compiled solve."""
        from loomwright.circuit.sweep.rounds import (
            Crew,
            frozen_changes,
            probes_for,
            run,
            run_frozen,
        )

        base, frozen = here.bases[number], self.reading.frozen
        threads = self.reading.threads
        if threads not in made.crews:
            made.crews[threads] = Crew(made.shape, threads)
        crew = made.crews[threads]
        if self.probes is None or not frozen:
            self.probes = probes_for(base, self.nodes, self.branches, frozen)
        if not frozen:
            before = None if self.blown is None else self.blown[:, which]
            return run(base, here.altered, which, self.probes, crew, before)
        key = number, int(which[0]), len(which)
        changes = made.changes.get(key) if here.altered is made.alterations else None
        if changes is None:
            changes = frozen_changes(here.altered, base, which)
            if here.altered is made.alterations:
                made.changes[key] = changes
        return run_frozen(base, changes, self.probes, crew)

    def _in_full(self, state: str, logic: Logic, which: Indices, healthy: Bools | None = None
                 ) -> _Solved:
        """Return some variants by the full solve; `healthy` are the flags that a frozen one has."""
        some = tuple(self.variants[number] for number in which)
        before = None if self.blown is None else self.blown[:, which]
        if self.reading.frozen:
            if healthy is None:
                _, _, plain = operating(self.circuit, state, (Variant(),))
                healthy = plain.flags
            network = widened(self.network, self.circuit, some)
            start = {name: bool(healthy[row, 0]) for name, row in logic.row.items()}
            found = operate(logic_of(network, logic.conditions),
                            values_of(network, self.circuit, some), follow=False, start=start)
        else:
            _, _, found = operating(self.circuit, state, some, before)
        return _Solved(found.volts[list(self.nodes)], found.amps[list(self.branches)],
                       found.flags, np.ones(len(which), np.bool_))

    def _piece(self, state: str, logic: Logic, which: Indices, found: _Solved) -> Piece:
        fuses = [logic.row[f"blown:{name}"] for name in logic.fuses]
        blown = found.flags[fuses] | self.ready.failed_by_fault(tuple(logic.fuses))[:, which]
        return Piece(state, which, self.points, found.volts, self.wires, found.amps,
                     tuple(logic.fuses), blown, found.in_full)

    def _pieces(self, numbers: Indices) -> Iterator[Indices]:
        size = _PIECE_NUMBERS // max(len(self.points) + len(self.wires), 1)
        size = max(size, _LEAST_PIECE)
        for first in range(0, len(numbers), size):
            yield numbers[first:first + size]


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
