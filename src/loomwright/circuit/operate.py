"""Find the operating points of a batch: Newton's method for parts, fixed point for logic.

Every pass linearises the nonlinear parts at their last volts, solves all variants that still
move, and where a variant's volts have settled lets its relays, controllers and fuses follow. A
variant whose logic keeps changing chatters: it is stopped and marked, never an error.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.chatter import Wandering
from loomwright.circuit.elimination import Factor, factorise, solve_factored
from loomwright.circuit.laws import (
    battery_current,
    diode_current,
    lamp_current,
    mirror_current,
    motor_current,
    regulated_current,
)
from loomwright.circuit.network import Network
from loomwright.circuit.rules import Flags, Logic
from loomwright.circuit.values import CLOSED, FREE, OPEN, Values, in_state, in_states

__all__ = ["GMIN_S", "Operating", "branch_conductance", "factor_of", "operate",
           "slopes_at_rest"]

Array = NDArray[np.float64]

GMIN_S = 1e-12  # every node to the reference, so that a floating one has a value
# A nonlinear part has settled when a step moves its volts by no more (relative above 1 V). Steps
# shrink quadratically, so the error left is about the square of this.
_SETTLED_V = 1e-6
_MAX_PASSES = 400
_DAMP_AFTER = 20  # passes since the logic last changed


@dataclass(frozen=True, slots=True, eq=False)
class Operating:
    """Solved batch: volts (n_nodes, B), amps and slopes of branches (n_branches, B), flags.

    `swings` (n_flags, B): flags that go on and off without end, where a variant chatters.
    """

    volts: Array
    amps: Array
    slope_s: Array
    flags: Flags
    chatters: NDArray[np.bool_]
    settled: NDArray[np.bool_]
    swings: Flags


@dataclass(frozen=True, slots=True)
class _Kinds:
    """Branch numbers by law, with their constants as columns."""

    curved: NDArray[np.intp]
    lamps: NDArray[np.intp]
    diodes: NDArray[np.intp]
    motors: NDArray[np.intp]
    batteries: NDArray[np.intp]
    regulated: NDArray[np.intp]
    mirrors: NDArray[np.intp]
    fed: NDArray[np.intp]  # of each mirror, the place of what it feeds among the regulated
    efficiency: Array  # of each mirror, as a column
    charge_ohm: Array  # of each battery, as a column
    lamp_cold_share: Array
    rated_v: Array  # (n_branches, 1)
    sourced: NDArray[np.intp]


def _kinds(network: Network) -> _Kinds:
    def of(law: str) -> NDArray[np.intp]:
        return np.array([n for n, b in enumerate(network.branches) if b.law == law], np.intp)

    lamps, diodes, motors = of("lamp"), of("diode"), of("motor")
    batteries, regulated, mirrors = of("battery"), of("regulated"), of("mirror")
    place = {network.branches[row].id: number for number, row in enumerate(regulated)}
    share = [network.branches[n].cold_ohm / network.branches[n].ohm for n in lamps]
    return _Kinds(
        np.concatenate([lamps, diodes, motors, batteries, regulated, mirrors]),
        lamps, diodes, motors, batteries, regulated, mirrors,
        np.array([place[network.branches[n].feeds] for n in mirrors], np.intp),
        np.array([network.branches[n].efficiency for n in mirrors]).reshape(-1, 1),
        np.array([network.branches[n].charge_ohm for n in batteries]).reshape(-1, 1),
        np.array(share).reshape(-1, 1),
        np.array([[b.rated_v or 1.0] for b in network.branches]),
        np.array([n for n, b in enumerate(network.branches) if b.emf and b.law == "resistor"],
                 np.intp),
    )


def _curved(kinds: _Kinds, values: Values, volts: Array, conducts: Flags
            ) -> tuple[Array, Array]:
    """Return currents and slopes of the nonlinear branches, in the order of `kinds.curved`."""
    lamps, diodes, motors, regulated = kinds.lamps, kinds.diodes, kinds.motors, kinds.regulated
    rows = (lamps, diodes, motors, kinds.batteries, regulated)
    lamp_v, diode_v, motor_v, battery_v, source_v, mirror_v = np.split(
        volts, np.cumsum([len(some) for some in rows]))
    hot = values.ohm[lamps]
    parts = [
        lamp_current(lamp_v, hot, hot * kinds.lamp_cold_share, kinds.rated_v[lamps]),
        diode_current(diode_v, values.ohm[diodes]),
        motor_current(motor_v, values.ohm[motors], kinds.rated_v[motors],
                      values.rated_a[motors]),
    ]
    if kinds.batteries.size:
        parts.append(battery_current(battery_v, values.emf[kinds.batteries],
                                     values.ohm[kinds.batteries], kinds.charge_ohm))
    if regulated.size:
        given = regulated_current(source_v, values.emf[regulated], values.ohm[regulated],
                                  values.rated_a[regulated])
        fed = given[0][kinds.fed] * conducts[regulated][kinds.fed]
        parts += [given, mirror_current(
            mirror_v, kinds.rated_v[kinds.mirrors], (-source_v[kinds.fed], fed),
            kinds.efficiency)]
    return (np.concatenate([current for current, _ in parts]),
            np.concatenate([slope for _, slope in parts]))


def branch_conductance(logic: Logic, values: Values, flags: Flags) -> tuple[Array, Flags]:
    """Return 1/R of every branch (0 where it does not conduct), and which conduct."""
    conductance = 1 / values.ohm
    conducts = np.ones(conductance.shape, np.bool_)
    for row, gate in logic.gated:
        conducts[row] = logic.conduct(gate, flags)
    for name, (row, _) in logic.fuses.items():
        conducts[row] &= ~flags[logic.row[f"blown:{name}"]]
    conducts &= values.forced == FREE
    conducts |= values.forced == CLOSED
    conductance *= conducts
    for row, _ in logic.gated:
        off_ohm = values.network.branches[row].off_ohm
        if off_ohm:
            leaks = ~conducts[row] & (values.forced[row] != OPEN)
            conductance[row] += leaks / off_ohm
    return conductance, conducts


def factor_of(network: Network, conductance: Array) -> Factor:
    """Return the factored batch for branch conductances [S] (n_branches, B)."""
    plan, count = network.plan, conductance.shape[1]
    entries = np.zeros((len(plan.entry_of), count))
    ground = np.full((plan.size, count), GMIN_S)
    for target, branch in network.layers:
        entries[target] += conductance[branch]
    for target, branch in network.ground_layers:
        ground[target] += conductance[branch]
    return factorise(plan, entries, ground)


def _node_volts(network: Network, rows: Array) -> Array:
    """Return volts in node order from volts in elimination order."""
    volts = rows[network.plan.row_of]
    volts[network.plan.row_of < 0] = 0.0
    return volts


class _Batch:
    """The variants still moving in one run, with everything that follows them."""

    def __init__(self, logic: Logic, values: Values, flags: Flags) -> None:
        self.logic, self.values = logic, values
        self.network = values.network
        self.kinds = _kinds(self.network)
        self.flags = flags
        self.guess = np.zeros((len(self.kinds.curved), values.count))
        self.since = np.zeros(values.count, np.int64)
        self.wandering = Wandering(flags)
        self.swings = np.zeros(flags.shape, np.bool_)
        self.conductance, self.conducts = branch_conductance(logic, values, flags)

    def keep(self, which: NDArray[np.intp]) -> None:
        """Drop the variants that have come to rest."""
        self.values, self.logic = self.values.take(which), self.logic.taken(which)
        self.flags, self.guess = self.flags[:, which], self.guess[:, which]
        self.since = self.since[which]
        self.wandering.keep(which)
        self.swings = self.swings[:, which]
        self.conductance, self.conducts = self.conductance[:, which], self.conducts[:, which]

    @property
    def chatters(self) -> NDArray[np.bool_]:
        """Return which variants never come to rest."""
        return self.wandering.chatters

    def move(self, following: Flags, moved: NDArray[np.bool_]) -> None:
        """Take over the flags of the variants that moved."""
        self.wandering.move(self.flags, following, moved)
        self.swings |= (following != self.flags) & moved & (self.wandering.returns > 0)
        self.since[moved] = 0
        # what a blown fuse leaves without supply would swing for ever about where it was: from rest
        fuses = [self.logic.row[f"blown:{name}"] for name in self.logic.fuses]
        self.guess[:, moved & (following[fuses] & ~self.flags[fuses]).any(axis=0)] = 0.0
        self.flags = np.where(moved, following, self.flags)
        self.conductance, self.conducts = branch_conductance(self.logic, self.values, self.flags)

    def linearised(self) -> tuple[Array, Array]:
        """Return the slope of every branch and the source amps of the curved ones, at the guess."""
        kinds, values = self.kinds, self.values
        slope = self.conductance.copy()
        added = np.zeros((len(kinds.curved), values.count))
        if kinds.curved.size:
            current, tangent = _curved(kinds, values, self.guess, self.conducts)
            live = self.conducts[kinds.curved]
            slope[kinds.curved] = tangent * live
            added = (current - tangent * self.guess) * live
        slope += values.shunt
        return slope, added

    def solve(self) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
        """Return node volts, branch amps, slopes and which variants' parts have settled."""
        network, kinds, values = self.network, self.kinds, self.values
        slope, added = self.linearised()
        factor = factor_of(network, slope)
        injected = np.zeros((network.plan.size + 1, values.count))  # last row: the reference
        for row in kinds.sourced:
            self._inject(injected, row, values.emf[row] * self.conductance[row])
        for number, row in enumerate(kinds.curved):
            self._inject(injected, row, added[number])
        volts = _node_volts(network, solve_factored(factor, injected[:-1]))
        across = volts[network.start] - volts[network.end]
        amps = slope * across
        amps[kinds.sourced] += values.emf[kinds.sourced] * self.conductance[kinds.sourced]
        amps[kinds.curved] += added
        return volts, amps, slope, self._advance(across[kinds.curved])

    def _inject(self, injected: Array, row: int, amps: Array) -> None:
        """Put a branch's source current into its nodes: it flows from start to end."""
        rows = self.network.plan.row_of
        injected[rows[self.network.start[row]]] -= amps
        injected[rows[self.network.end[row]]] += amps

    def _advance(self, across: Array) -> NDArray[np.bool_]:
        """Move the guesses to the solved volts and return which variants have settled."""
        if not across.size:
            return np.ones(self.values.count, np.bool_)
        off = np.abs(across - self.guess)
        near = off <= _SETTLED_V * np.maximum(np.abs(across), 1)
        settled = np.asarray(near.all(axis=0))
        # a lamp switched off would swing to and fro about 0 V: start it again from there
        lamps = slice(0, len(self.kinds.lamps))
        following = across.copy()
        following[lamps][across[lamps] * self.guess[lamps] < 0] = 0.0
        self._enter_regulation(following)
        slow = np.flatnonzero(self.since > _DAMP_AFTER)
        following[:, slow] = 0.5 * (following[:, slow] + self.guess[:, slow])
        self.guess = following
        return settled


    def _enter_regulation(self, following: Array) -> None:
        """Let no regulated source jump between its limit and nothing, over its narrow middle."""
        rows = self.kinds.regulated
        if not rows.size:
            return
        first = len(self.kinds.curved) - len(rows) - len(self.kinds.mirrors)
        place = slice(first, first + len(rows))
        emf, width = self.values.emf[rows], self.values.ohm[rows] * self.values.rated_a[rows]
        before, after = emf + self.guess[place], emf + following[place]
        over = ((before >= width) & (after <= 0)) | ((before <= 0) & (after >= width))
        following[place] = np.where(over, 0.5 * width - emf, following[place])


def operate(logic: Logic, values: Values, blown: NDArray[np.bool_] | None = None,
            follow: bool = True, start: Mapping[str, bool] | None = None) -> Operating:
    """Return the operating points of a batch, starting from everything at rest.

    Parameters
        logic: flags of the network, in one state or each variant in its own
        values: branch numbers of the variants
        blown: fuses blown beforehand (n_fuses, B)
        follow: False keeps relays, controllers and fuses as they are at the start
        start: flags that are on or off at the start, where not all are at rest
    """
    batch = _begun(logic, values, blown, start)
    network, count, flags = values.network, values.count, batch.flags
    done = Operating(
        np.zeros((len(network.nodes), count)), np.zeros((len(network.branches), count)),
        np.zeros((len(network.branches), count)), flags.copy(), np.zeros(count, np.bool_),
        np.zeros(count, np.bool_), np.zeros(flags.shape, np.bool_),
    )
    active = np.arange(count)
    for _ in range(_MAX_PASSES):
        volts, amps, slope, settled = batch.solve()
        ends = _follow(batch, volts, amps, settled) if follow else settled
        out, stay = np.flatnonzero(ends), np.flatnonzero(~ends)
        if out.size:
            which = active[out]
            done.volts[:, which], done.amps[:, which] = volts[:, out], amps[:, out]
            done.slope_s[:, which], done.flags[:, which] = slope[:, out], batch.flags[:, out]
            done.chatters[which] = batch.chatters[out]
            done.swings[:, which] = (batch.swings & batch.chatters)[:, out]
            done.settled[which] = True
            active = active[stay]
            if not active.size:
                return done
            batch.keep(stay)
    done.volts[:, active], done.amps[:, active] = volts[:, stay], amps[:, stay]
    done.slope_s[:, active], done.flags[:, active] = slope[:, stay], batch.flags
    return done


def _begun(logic: Logic, values: Values, blown: NDArray[np.bool_] | None,
           start: Mapping[str, bool] | None = None) -> _Batch:
    """Return a batch before its first pass; see `operate`."""
    if logic.column is None:
        values = in_state(values, logic.conditions)
    else:
        values = in_states(values, logic.several, logic.column)
    logic = dataclasses.replace(logic, trips=values.trips) if values.trips else logic
    flags = np.zeros((len(logic.names), values.count), np.bool_)
    if blown is not None and logic.fuses:
        first = logic.row[f"blown:{next(iter(logic.fuses))}"]
        flags[first:first + len(logic.fuses)] = blown
    for name, on in {**(start or {}), **logic.held}.items():
        flags[logic.row[name]] = on
    return _Batch(logic, values, flags)


def slopes_at_rest(logic: Logic, values: Values, blown: NDArray[np.bool_] | None = None) -> Array:
    """Return the slope of every branch [S] (n_branches, B) where nothing drives a current.

    Parameters as of `operate`; no source may conduct.
    """
    return _begun(logic, values, blown).linearised()[0]


def _follow(batch: _Batch, volts: Array, amps: Array, settled: NDArray[np.bool_]
            ) -> NDArray[np.bool_]:
    """Let the logic of settled variants follow; return which variants have come to rest."""
    logic = batch.logic
    pulls = logic.pulls(amps, batch.values.ohm)
    following = logic.following(batch.flags, volts, amps, pulls, batch.values.forces,
                                batch.wandering.returns > 0)
    moved = settled & (following != batch.flags).any(axis=0)
    batch.since += 1
    if moved.any():
        batch.move(following, moved)
    ends: NDArray[np.bool_] = (settled & ~moved) | batch.chatters
    return ends
