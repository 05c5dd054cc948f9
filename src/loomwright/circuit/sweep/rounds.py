"""Takes variants of one base through the steps of their logic, on two threads."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.chatter import Wandering
from loomwright.circuit.network import MINIMUM_OHM
from loomwright.circuit.rules import Flags
from loomwright.circuit.sweep.alterations import Alterations
from loomwright.circuit.sweep.bases import Base, Step, Told, follow, live_of, probes_of, wanted
from loomwright.circuit.sweep.kernel import SOLVED, solve_variants
from loomwright.circuit.sweep.shape import Shape
from loomwright.circuit.sweep.variants import Changes, Found, Probes

__all__ = ["Crew", "Outcome", "changes_in", "frozen_changes", "probes_for", "run", "run_frozen"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

_LEAST_A_THREAD = 256  # variants that are worth another thread


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """Volts (variants, nodes), amps (variants, branches), flags; `left` needs the full solve."""

    volts: Array
    amps: Array
    flags: Flags
    left: NDArray[np.bool_]
    passes: int


def changes_in(alterations: Alterations, conditions: Mapping[str, str]) -> Alterations:
    """Return the alterations as a state's conditions make them: levels, engine speed."""
    follows = [(row, b.by_state(conditions)) for row, b in enumerate(alterations.network.branches)
               if b.by_state is not None]
    if not follows or not len(alterations.branch):
        return alterations
    size = len(alterations.network.branches) + len(alterations.extra)
    factors = np.ones((3, size))
    for row, factor in follows:
        factors[:, row] = factor
    ohm, emf, amps = factors[:, alterations.branch, None]
    old = alterations.entries
    entries = dataclasses.replace(old, ohm=np.maximum(old.ohm * ohm, MINIMUM_OHM),
                                  emf=old.emf * emf, rated_a=old.rated_a * amps)
    return dataclasses.replace(alterations, entries=entries)


def _lists(at: Indices, lines: Indices) -> tuple[Indices, Indices]:
    """Return where each line's entries start in a list of theirs, and that list."""
    sizes = at[lines + 1] - at[lines]
    starts = np.concatenate([[0], np.cumsum(sizes)])
    return starts, np.arange(starts[-1]) + np.repeat(at[lines] - starts[:-1], sizes)


def _changes(alterations: Alterations, base: Base, lines: Indices, on: NDArray[np.int8]
             ) -> Changes:
    """Return the changes of some variants for the kernel."""
    at, which = _lists(alterations.at, lines)
    earth_at, earth = _lists(alterations.earth_at, lines)
    entries = alterations.entries
    branch, earth_row = alterations.branch[which], base.shape.row_of[alterations.earth_node[earth]]
    order = _neighbours(base, (at, branch, entries.ohm[which, 0]), (earth_at, earth_row))
    return Changes(
        order, at, branch, entries.ohm[which, 0], entries.emf[which, 0],
        entries.rated_a[which, 0], entries.shunt[which, 0], entries.forced[which, 0],
        earth_at, earth_row, alterations.earth_s[earth], base.watch.gated[:on.shape[1]], on)


def _neighbours(base: Base, changed: tuple[Indices, Indices, Array],
                earthed: tuple[Indices, Indices]) -> Indices:
    """Return the order of lines in which those beside each other alter about the same rows.

    Shorts, which move much, stand apart from what only adds resistance.
    """
    at, branch, ohm = changed
    tree, count = base.shape.tree, len(at) - 1
    row, short = np.full(count, -1), np.zeros(count, np.bool_)
    for starts, rows in ((at, np.maximum(tree.start[branch], tree.end[branch])), earthed):
        some = np.flatnonzero(np.diff(starts) > 0)
        row[some] = rows[starts[some]]
    some = np.flatnonzero(np.diff(at) > 0)
    short[some] = ohm[at[some]] < base.steps[-1].devices.ohm[branch[at[some]]]
    short |= np.diff(earthed[0]) > 0
    return np.lexsort((row, short))


def _coil_ohms(base: Base, alterations: Alterations, lines: Indices) -> Array:
    """Return the ohms of relay coils in every variant; other rows hold anything."""
    coils = sorted({coil for relay in base.logic.relays.values() for coil in relay.coils})
    if not coils:
        return np.empty((0, len(lines)))
    ohm = np.empty((coils[-1] + 1, len(lines)))
    ohm[coils] = base.steps[-1].devices.ohm[coils, None]
    at, which = _lists(alterations.at, lines)
    column = np.repeat(np.arange(len(lines)), np.diff(at))
    branch = alterations.branch[which]
    inside = np.isin(branch, coils)
    ohm[branch[inside], column[inside]] = alterations.entries.ohm[which[inside], 0]
    return ohm


def frozen_changes(alterations: Alterations, base: Base, lines: Indices) -> Changes:
    """Return the changes of some variants where the logic stands still."""
    return _changes(alterations, base, lines, np.empty((0, 0), np.int8))


def run_frozen(base: Base, changes: Changes, probes: Probes, crew: Crew) -> Outcome:
    """Return variants solved beside their base, with its logic at rest."""
    count, step = len(changes.order), base.steps[-1]
    outcome = _outcome(np.repeat(step.flags, count, axis=1), probes)
    found = _found(outcome, np.arange(count), 0)
    crew.solve(step, changes, probes, found)
    outcome.left[:] = found.status != SOLVED
    return dataclasses.replace(outcome, passes=int(found.passes.sum()))


def run(base: Base, alterations: Alterations, lines: Indices, probes: Probes, crew: Crew,
        blown: NDArray[np.bool_] | None = None) -> Outcome:
    """Return variants `lines` solved beside their base, whose steps they follow from rest.

    Parameters
        alterations: as the state makes them
        blown: fuses blown beforehand (n_fuses, lines)
    """
    count, watch = len(lines), base.watch
    flags = np.repeat(base.steps[0].flags, count, axis=1)
    if blown is not None:
        flags[[row for _, row in watch.fuse_rows]] = blown
    outcome = _outcome(flags, probes)
    told_width = len(probes.logic_rows) + len(probes.logic_branches)
    active, passes, turn = np.arange(count), 0, 0
    wandering = Wandering(flags)
    while active.size:
        step = base.steps[min(turn, len(base.steps) - 1)]
        now = flags[:, active]
        found = _found(outcome, active, told_width)
        changes = _changes(alterations, base, lines[active], wanted(base.logic, watch, now))
        crew.solve(step, changes, probes, found)
        passes += int(found.passes.sum())
        good = found.status == SOLVED
        outcome.left[active[~good]] = True
        forces = {gate: force[lines[active]] for gate, force in alterations.forces.items()}
        told = Told(base.logic, watch, np.ascontiguousarray(found.logic.T),
                    _coil_ohms(base, alterations, lines[active]))
        following = follow(told, now, forces, wandering)
        moved = (following != now).any(axis=0)
        wandering.move(now, following, moved)
        flags[:, active] = following
        stay = np.flatnonzero(good & moved & ~wandering.chatters)
        active, turn = active[stay], turn + 1
        wandering.keep(stay)
    return dataclasses.replace(outcome, passes=passes)


def _outcome(flags: Flags, probes: Probes) -> Outcome:
    count = flags.shape[1]
    return Outcome(np.empty((count, len(probes.rows))),
                   np.empty((count, len(probes.branches))), flags,
                   np.zeros(count, np.bool_), 0)


def _found(outcome: Outcome, active: Indices, told_width: int) -> Found:
    count = len(active)
    return Found(active, outcome.volts, outcome.amps, np.empty((count, told_width)),
                 np.zeros(count, np.int64), np.zeros(count, np.int64))


def probes_for(base: Base, nodes: tuple[int, ...], branches: tuple[int, ...], frozen: bool
              ) -> Probes:
    """Return what to read of variants of a base; logic that stands still reads nothing."""
    watch = base.watch
    if frozen:
        none = np.empty(0, np.int64)
        watch = dataclasses.replace(watch, nodes=none, branches=none)
    return probes_of(base.shape, watch, nodes, branches)


class Crew:
    """Threads that solve parts of a piece, each with scratch of its own."""

    def __init__(self, shape: Shape, threads: int) -> None:
        self.tree = shape.tree
        self.live = [live_of(shape) for _ in range(max(1, min(threads, os.cpu_count() or 1)))]
        self.pool: ThreadPoolExecutor | None = None

    def solve(self, step: Step, changes: Changes, probes: Probes, found: Found) -> None:
        """Solve some variants beside one step, on as many threads as they are worth."""
        count = len(found.status)
        threads = min(len(self.live), 1 + count // _LEAST_A_THREAD)

        def part(number: int) -> None:
            places = count * number // threads, count * (number + 1) // threads
            solve_variants(self.tree, (step.devices, step.kept, self.live[number]), changes,
                           probes, found, places)

        if threads == 1:
            part(0)
            return
        if self.pool is None:
            self.pool = ThreadPoolExecutor(threads)
        list(self.pool.map(part, range(threads)))
