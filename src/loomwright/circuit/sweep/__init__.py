"""Sweeps of faults: a circuit's states solved for thousands of variants, in pieces as they come.

Each variant is solved beside the healthy circuit by what it changes (see `kernel`), compiled by
numba where that is installed; whatever does not come to rest or does not balance, and every
variant without numba, goes through the full solve of `batch`.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

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

__all__ = ["Piece", "Reading", "is_fast", "sweep"]

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
    `compiled` False asks for the full solve of every variant.
    """

    points: tuple[str, ...] = ()
    wires: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    frozen: bool = False
    compiled: bool = True


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
          blown: NDArray[np.bool_] | None = None) -> Iterator[Piece]:
    """Yield every state solved for every variant, in pieces, by what each variant changes.

    Parameters
        circuit: its own faults are in every variant
        variants: faults, battery factor and draw of tolerances of each; many should share one
            factor and draw, for each such pair is a base that is solved in whole
        reading: what to read; all points and wires in all states where it is None
        blown: fuses blown beforehand (n_fuses, variants), as `blown_after` returns them
    Raises
        UnknownNameError: unknown state, point, wire or element
        SolveError: there is no battery, or nothing is joined to its negative post
    Validity
        steady direct current; volts within 50 microvolts of the full solve's, see
        docs/models/sweep.md. A point without any path has no certain volts.
    """
    work = _Sweep(circuit, tuple(variants), reading or Reading(), blown)
    for state in work.states:
        yield from work.in_state(state)


class _Sweep:
    """One sweep: names looked up, changes listed, the elimination tree made."""

    def __init__(self, circuit: Circuit, variants: tuple[Variant, ...], reading: Reading,
                 blown: NDArray[np.bool_] | None) -> None:
        self.circuit, self.variants, self.reading, self.blown = circuit, variants, reading, blown
        network = self.network = network_of(circuit)
        self.points = _known("point", reading.points, circuit.points())
        wires = tuple(name for name in circuit.wires if name in network.where)
        self.wires = _known("wire", reading.wires, wires)
        self.states = _known("state", reading.states, tuple(circuit.states))
        self.nodes = tuple(network.index[point] for point in self.points)
        self.branches = tuple(network.where[wire] for wire in self.wires)
        self.failed: Bools | None = None
        self.compiled = reading.compiled and is_fast(circuit)
        if self.compiled:
            from loomwright.circuit.sweep.alterations import alterations_of
            from loomwright.circuit.sweep.shape import shape_of

            self.alterations = alterations_of(circuit, variants)
            self.shape = shape_of(network, self.alterations.extra)
            most = len(variants) // _LEAST_EACH
            self.compiled = self.alterations.bases.count <= max(most, 1)

    def in_state(self, state: str) -> Iterator[Piece]:
        """Yield the pieces of one state."""
        logic = logic_of(self.network, conditions_of(self.circuit, state))
        if self.compiled:
            yield from self._beside_bases(state, logic)
            return
        for which in self._pieces(np.arange(len(self.variants))):
            yield self._piece(state, logic, which, self._in_full(state, logic, which))

    def _beside_bases(self, state: str, logic: Logic) -> Iterator[Piece]:
        """Yield the pieces of one state, each variant solved by what it changes."""
        from loomwright.circuit.sweep.bases import base_of, live_of
        from loomwright.circuit.sweep.rounds import Wanted, changes_in, run

        values = in_state(self.alterations.bases, logic.conditions)
        altered = changes_in(self.alterations, logic.conditions)
        want = Wanted(self.nodes, self.branches, self.reading.frozen)
        for number in range(values.count):
            base = base_of(altered, (self.shape, live_of(self.shape)), logic, values, number)
            for which in self._pieces(np.flatnonzero(altered.base_of == number)):
                if not base.steps:
                    yield self._piece(state, logic, which, self._in_full(state, logic, which))
                    continue
                before = None if self.blown is None else self.blown[:, which]
                found = run(base, altered, which, want, before)
                solved = _Solved(found.volts.T, found.amps.T, found.flags, found.left)
                if found.left.any():
                    full = self._in_full(state, logic, which[found.left], base.steps[-1].flags)
                    _fill(solved, full)
                yield self._piece(state, logic, which, solved)

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
        blown = found.flags[fuses] | self._failed(tuple(logic.fuses))[:, which]
        return Piece(state, which, self.points, found.volts, self.wires, found.amps,
                     tuple(logic.fuses), blown, found.in_full)

    def _failed(self, fuses: tuple[str, ...]) -> Bools:
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
