"""Takes variants of one base through the steps of their logic."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.chatter import Wandering
from loomwright.circuit.network import MINIMUM_OHM
from loomwright.circuit.rules import Flags
from loomwright.circuit.sweep.alterations import Alterations
from loomwright.circuit.sweep.bases import Base, Step, Told, follow, probes_of, wanted
from loomwright.circuit.sweep.devices import Live
from loomwright.circuit.sweep.kernel import SOLVED, solve_variants
from loomwright.circuit.sweep.lanes import LANES
from loomwright.circuit.sweep.shape import Shape
from loomwright.circuit.sweep.variants import Changes, Found, Probes
from loomwright.circuit.values import OPEN

__all__ = ["Outcome", "changes_in", "columns_for", "frozen_changes", "neighbours", "probes_for",
           "run", "run_frozen", "unsolved"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
_MILD_OHM = 0.5  # more than before; what adds no more moves little


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """Volts (nodes, columns), amps (branches, columns), flags; `left` needs the full solve.

    There are as many columns as `columns_for` the variants, the last ones to spare.
    """

    volts: Array
    amps: Array
    flags: Flags
    left: NDArray[np.bool_]


def columns_for(variants: int) -> int:
    """Return the columns that variants need, in whole groups."""
    return -(-variants // LANES) * LANES


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
    return Changes(
        at, branch, entries.ohm[which, 0], entries.emf[which, 0],
        entries.rated_a[which, 0], entries.shunt[which, 0], entries.forced[which, 0],
        earth_at, earth_row, alterations.earth_s[earth], base.watch.gated[:on.shape[1]], on)


def neighbours(alterations: Alterations, shape: Shape, lines: Indices) -> Indices:
    """Return lines in the order in which those beside each other alter about the same rows.

    What moves little stands apart from what opens or nearly does, and from shorts.
    """
    tree, count = shape.tree, len(lines)
    row, size = np.full(count, -1), np.zeros(count, np.int64)
    at, which = _lists(alterations.at, lines)
    some = np.flatnonzero(np.diff(at) > 0)
    first = which[at[some]]
    branch = alterations.branch[first]
    low, high = (of(tree.start[branch], tree.end[branch]) for of in (np.minimum, np.maximum))
    row[some] = np.where(low < 0, high, low)
    before = np.concatenate([alterations.bases.ohm[:, 0], np.ones(len(alterations.extra))])
    more = alterations.entries.ohm[first, 0] - before[branch]
    opens = alterations.entries.forced[first, 0] == OPEN
    size[some] = np.where(opens | (more > _MILD_OHM), 1, np.where(more < 0, 2, 0))
    at, which = _lists(alterations.earth_at, lines)
    some = np.flatnonzero(np.diff(at) > 0)
    row[some], size[some] = shape.row_of[alterations.earth_node[which[at[some]]]], 2
    return lines[np.lexsort((row, size))]


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


def run_frozen(base: Base, changes: Changes, probes: Probes, scratch: tuple[Array, Live]
               ) -> Outcome:
    """Return variants solved beside their base, with its logic at rest; see `run`."""
    count, step = len(changes.at) - 1, base.steps[-1]
    outcome = _outcome(np.repeat(step.flags, count, axis=1), probes, scratch[0])
    found = _found(outcome, np.arange(count), 0)
    _solve(base, step, changes, (probes, scratch[1]), found)
    np.not_equal(found.status, SOLVED, out=outcome.left)
    return outcome


def run(base: Base, alterations: Alterations, lines: Indices, probes: Probes,
        scratch: tuple[Array, Live], blown: NDArray[np.bool_] | None = None) -> Outcome:
    """Return variants `lines` solved beside their base, whose steps they follow from rest.

    Parameters
        alterations: as the state makes them
        scratch: room for the results (nodes and branches, columns), and to work in
        blown: fuses blown beforehand (n_fuses, lines)
    """
    count, watch = len(lines), base.watch
    flags = np.repeat(base.steps[0].flags, count, axis=1)
    if blown is not None:
        flags[[row for _, row in watch.fuse_rows]] = blown
    outcome = _outcome(flags, probes, scratch[0])
    told_width = len(probes.logic_rows) + len(probes.logic_branches)
    active, turn = np.arange(count), 0
    wandering = Wandering(flags)
    while active.size:
        step = base.steps[min(turn, len(base.steps) - 1)]
        now = flags[:, active]
        found = _found(outcome, active, told_width)
        changes = _changes(alterations, base, lines[active], wanted(base.logic, watch, now))
        _solve(base, step, changes, (probes, scratch[1]), found)
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
    return outcome


def unsolved(base: Base, count: int, volts: int, room: Array) -> Outcome:
    """Return variants of a base that was not solved itself: all of them are left."""
    flags = np.zeros((len(base.logic.names), count), np.bool_)
    return Outcome(room[:volts], room[volts:], flags, np.ones(count, np.bool_))


def _solve(base: Base, step: Step, changes: Changes, told: tuple[Probes, Live], found: Found
           ) -> None:
    """Solve variants beside one step of their base."""
    probes, live = told
    solve_variants(base.shape.tree, (step.devices, step.kept, live), changes, probes, found,
                   (0, len(found.status)))


def _outcome(flags: Flags, probes: Probes, room: Array) -> Outcome:
    volts = len(probes.rows)
    return Outcome(room[:volts], room[volts:], flags, np.zeros(flags.shape[1], np.bool_))


def _found(outcome: Outcome, active: Indices, told_width: int) -> Found:
    count = len(active)
    return Found(active, len(outcome.left), outcome.volts, outcome.amps,
                 np.empty((count, told_width)), np.zeros(count, np.int64))


def probes_for(base: Base, nodes: tuple[int, ...], branches: tuple[int, ...], frozen: bool
              ) -> Probes:
    """Return what to read of variants of a base; logic that stands still reads nothing."""
    watch = base.watch
    if frozen:
        none = np.empty(0, np.int64)
        watch = dataclasses.replace(watch, nodes=none, branches=none)
    return probes_of(base.shape, watch, nodes, branches)
