"""Takes variants of one base through the steps of their logic, chunk by chunk."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.network import MINIMUM_OHM
from loomwright.circuit.rules import Flags
from loomwright.circuit.sweep.alterations import Alterations
from loomwright.circuit.sweep.bases import Base, Step, Told, follow, live_of, probes_of, wanted
from loomwright.circuit.sweep.kernel import SOLVED, solve_variants
from loomwright.circuit.sweep.variants import Changes, Found, Probes

__all__ = ["Outcome", "Wanted", "run"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

_MOST_STEPS = 16  # of a variant's logic; one that takes more may chatter: the full solve judges
_MOST_THREADS = 2
_LEAST_A_THREAD = 256  # variants that are worth another thread


@dataclass(frozen=True, slots=True)
class Wanted:
    """Nodes and branches whose volts and amps are wanted, and whether the logic stands still."""

    nodes: tuple[int, ...]
    branches: tuple[int, ...]
    frozen: bool = False


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
    order = np.arange(len(lines))
    return Changes(
        order, at, alterations.branch[which], entries.ohm[which, 0], entries.emf[which, 0],
        entries.rated_a[which, 0], entries.shunt[which, 0], entries.forced[which, 0],
        earth_at, base.shape.row_of[alterations.earth_node[earth]], alterations.earth_s[earth],
        base.watch.gated[:on.shape[1]], on)


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


def run(base: Base, alterations: Alterations, lines: Indices, want: Wanted,
        blown: NDArray[np.bool_] | None = None) -> Outcome:
    """Return variants `lines` solved beside their base, whose steps they follow from rest.

    Parameters
        alterations: as the state makes them
        blown: fuses blown beforehand (n_fuses, lines)
    """
    count, watch = len(lines), base.watch
    start = base.steps[-1 if want.frozen else 0].flags
    flags = np.repeat(start, count, axis=1)
    if blown is not None and not want.frozen:
        flags[[row for _, row in watch.fuse_rows]] = blown
    probes = _probes(base, want)
    told_width = len(probes.logic_rows) + len(probes.logic_branches)
    outcome = Outcome(np.empty((count, len(want.nodes))), np.empty((count, len(want.branches))),
                      flags, np.zeros(count, np.bool_), 0)
    active, passes = np.arange(count), 0
    for turn in range(1 if want.frozen else _MOST_STEPS):
        last = len(base.steps) - 1
        step = base.steps[last if want.frozen else min(turn, last)]
        now = flags[:, active]
        found = Found(active, outcome.volts, outcome.amps,
                      np.empty((len(active), told_width)), np.zeros(len(active), np.int64),
                      np.zeros(len(active), np.int64))
        on = now[:0, :0].astype(np.int8) if want.frozen else wanted(base.logic, watch, now)
        changes = _changes(alterations, base, lines[active], on)
        _solve(base, step, changes, probes, found)
        passes += int(found.passes.sum())
        good = found.status == SOLVED
        outcome.left[active[~good]] = True
        if want.frozen:
            return dataclasses.replace(outcome, passes=passes)
        forces = {gate: force[lines[active]] for gate, force in alterations.forces.items()}
        following = follow(Told(base.logic, watch, np.ascontiguousarray(found.logic.T),
                                _coil_ohms(base, alterations, lines[active])), now, forces)
        rests = good & (following == now).all(axis=0)
        flags[:, active] = following
        active = active[good & ~rests]
        if not active.size:
            break
    outcome.left[active] = True
    return dataclasses.replace(outcome, passes=passes)


def _probes(base: Base, want: Wanted) -> Probes:
    """Return what to read; logic that stands still reads nothing."""
    watch = base.watch
    if want.frozen:
        none = np.empty(0, np.int64)
        watch = dataclasses.replace(watch, nodes=none, branches=none)
    return probes_of(base.shape, watch, want.nodes, want.branches)


def _solve(base: Base, step: Step, changes: Changes, probes: Probes, found: Found) -> None:
    """Solve some variants beside one step, on as many threads as they are worth."""
    count = len(found.status)
    threads = min(os.cpu_count() or 1, _MOST_THREADS, 1 + count // _LEAST_A_THREAD)

    def part(number: int) -> None:
        places = count * number // threads, count * (number + 1) // threads
        live = live_of(base.shape)
        solve_variants(base.shape.tree, (step.devices, step.kept, live), changes, probes, found,
                       places)

    if threads == 1:
        part(0)
        return
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(part, range(threads)))
