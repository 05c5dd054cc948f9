"""Find the operating points of a batch: Newton's method for parts, fixed point for logic.

Every pass linearises the nonlinear parts at their last volts, solves all variants that still
move, and where a variant's volts have settled lets its relays, controllers and fuses follow. A
variant whose logic keeps changing chatters: it is stopped and marked, never an error.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping, Sequence
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

__all__ = ["GMIN_S", "Operating", "Room", "branch_conductance", "factor_of", "operate",
           "room_for", "slopes_at_rest"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

GMIN_S = 1e-12  # every node to the reference, so that a floating one has a value
# A nonlinear part has settled when a step moves its volts by no more (relative above 1 V). Steps
# shrink quadratically, so the error left is about the square of this.
_SETTLED_V = 1e-6
_MAX_PASSES = 400
_DAMP_AFTER = 20  # passes since the logic last changed
_DROP_BELOW = 0.75  # share of a batch still moving at which the others are dropped
_SMALL = 2**12  # numbers of a guess that cost nothing to remember
# Patterns of flags whose volts are remembered: as many as fit into so many numbers, at least ...
_LEFT_NUMBERS = 2**19
_LEFT_LEAST = 4  # ... those of most chatter


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
    conducts = values.forced != OPEN
    conductance *= conducts
    _switch(logic, values, flags, (conductance, conducts))
    return conductance, conducts


def _switch(logic: Logic, values: Values, flags: Flags, found: tuple[Array, Flags],
            changed: frozenset[str] | None = None) -> None:
    """Write conductance and whether they conduct of the branches that are switched.

    Only those that follow one of the flags that `changed`; None: all of them.
    """
    conductance, conducts = found
    fuses = {row: name for name, (row, _) in logic.fuses.items()}
    gates = dict(logic.gated)
    for row in {*gates, *fuses}:
        if changed is not None and not changed & _followed(gates.get(row, ""), fuses.get(row)):
            continue
        closed = logic.conduct(gates[row], flags) if row in gates else True
        if row in fuses:
            closed = closed & ~flags[logic.row[f"blown:{fuses[row]}"]]
        forced, off_ohm = values.forced[row], values.network.branches[row].off_ohm
        conducts[row] = (closed & (forced == FREE)) | (forced == CLOSED)
        conductance[row] = conducts[row] / values.ohm[row]
        if off_ohm:
            conductance[row] += (~conducts[row] & (forced != OPEN)) / off_ohm


@functools.lru_cache(maxsize=4096)
def _followed(gate: str, fuse: str | None) -> frozenset[str]:
    """Return the names of the flags that a branch's gate and its fuse follow."""
    kind, _, name = gate.partition(":")
    found = {gate.removeprefix("!")} if kind in {"alive", "output", "relay", "!relay"} else set()
    found |= {f"protects:{name}"} if kind == "output" else set()
    return frozenset(found | ({f"blown:{fuse}"} if fuse is not None else set()))


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


def _watched(logic: Logic) -> NDArray[np.intp]:
    """Return the branches whose amps relays, controllers and fuses follow."""
    rows = [row for relay in logic.relays.values() for row in relay.coils]
    rows += [row for one in logic.controllers.values() for _, row in one.outputs]
    rows += [row for row, _ in logic.fuses.values()]
    return np.array(sorted(set(rows)), np.intp)


@dataclass(frozen=True, slots=True, eq=False)
class _Pass:
    """What one pass came to: node volts, branch slopes, amps of sources and curved branches."""

    volts: Array
    slope: Array
    given: Array
    added: Array
    settled: NDArray[np.bool_]


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
        self.left: list[Array] = []  # guesses, as each pattern of flags met was left
        self.conductance, self.conducts = branch_conductance(logic, values, flags)
        self.shunted = np.flatnonzero(values.shunt.any(axis=1))
        self.watched = _watched(logic)
        self.watched_rows = frozenset(self.watched.tolist())

    def keep(self, which: NDArray[np.intp]) -> None:
        """Drop the variants that have come to rest."""
        self.values, self.logic = self.values.take(which), self.logic.taken(which)
        self.flags, self.guess = self.flags[:, which], self.guess[:, which]
        self.since = self.since[which]
        self.wandering.keep(which)
        self.swings = self.swings[:, which]
        self.left = [one[:, which] for one in self.left]
        self.conductance, self.conducts = self.conductance[:, which], self.conducts[:, which]

    @property
    def chatters(self) -> NDArray[np.bool_]:
        """Return which variants never come to rest."""
        return self.wandering.chatters

    def move(self, following: Flags, moved: NDArray[np.bool_]) -> None:
        """Take over the flags of the variants that moved."""
        if self.left or self.guess.size < _SMALL or self.wandering.returns.any():
            kept = max(_LEFT_NUMBERS // max(self.guess.size, 1), _LEFT_LEAST)
            self.left = [*self.left[1 - kept:], self.guess]
        before = self.wandering.move(self.flags, following, moved)
        self.swings |= (following != self.flags) & moved & (self.wandering.returns > 0)
        self.since[moved] = 0
        # what a blown fuse leaves without supply would swing for ever about where it was: from rest
        fuses = [self.logic.row[f"blown:{name}"] for name in self.logic.fuses]
        self.guess[:, moved & (following[fuses] & ~self.flags[fuses]).any(axis=0)] = 0.0
        self._recall(before)
        rows = np.flatnonzero(((following != self.flags) & moved).any(axis=1))
        self.flags = np.where(moved, following, self.flags)
        _switch(self.logic, self.values, self.flags, (self.conductance, self.conducts),
                frozenset(self.logic.names[row] for row in rows))

    def _recall(self, before: Sequence[Flags]) -> None:
        """Start variants that come back to a pattern of flags from where they were in it.

        `before` tells, for each of the last patterns met, which variants are back in it: what goes
        to and fro then settles at once.
        """
        for known, back in zip(self.left, before[len(before) - len(self.left):], strict=True):
            if back.any():
                self.guess = np.where(back, known, self.guess)

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
        slope[self.shunted] += values.shunt[self.shunted]
        return slope, added

    def solve(self) -> _Pass:
        """Return volts, slopes and sources, and which variants' parts have settled."""
        network, kinds, values = self.network, self.kinds, self.values
        slope, added = self.linearised()
        factor = factor_of(network, slope)
        injected = np.zeros((network.plan.size + 1, values.count))  # last row: the reference
        given = values.emf[kinds.sourced] * self.conductance[kinds.sourced]
        for number, row in enumerate(kinds.sourced):
            self._inject(injected, row, given[number])
        for number, row in enumerate(kinds.curved):
            self._inject(injected, row, added[number])
        volts = _node_volts(network, solve_factored(factor, injected[:-1]))
        curved = kinds.curved
        settled = self._advance(volts[network.start[curved]] - volts[network.end[curved]])
        return _Pass(volts, slope, given, added, settled)

    def amps(self, found: _Pass, which: NDArray[np.intp]) -> Array:
        """Return the amps of every branch (n_branches, B) of some variants."""
        network, kinds = self.network, self.kinds
        volts = found.volts[:, which]
        amps: Array = found.slope[:, which] * (volts[network.start] - volts[network.end])
        amps[kinds.sourced] += found.given[:, which]
        amps[kinds.curved] += found.added[:, which]
        return amps

    def watched_amps(self, found: _Pass) -> Array:
        """Return amps of the branches that flags follow; of the others 0."""
        network, kinds, rows = self.network, self.kinds, self.watched
        amps = np.zeros(found.slope.shape)
        amps[rows] = found.slope[rows] * (
            found.volts[network.start[rows]] - found.volts[network.end[rows]])
        for sources, some in ((kinds.sourced, found.given), (kinds.curved, found.added)):
            for number, row in enumerate(sources):
                if row in self.watched_rows:
                    amps[row] += some[number]
        return amps

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
            follow: bool = True, start: Mapping[str, bool | Bools] | None = None,
            room: Room | None = None) -> Operating:
    """Return the operating points of a batch, starting from everything at rest.

    Parameters
        logic: flags of the network, in one state or each variant in its own
        values: branch numbers of the variants
        blown: fuses blown beforehand (n_fuses, B)
        follow: False keeps relays, controllers and fuses as they are at the start
        start: flags that are on or off at the start (or on in some variants), where not all are
            at rest
        room: where to write them, among others (None: on their own)
    """
    batch, count = _begun(logic, values, blown, start), values.count
    if room is None:
        room = Room(room_for(logic, values.network, count), np.arange(count))
    done, active, waits = room.whole, room.places, np.ones(count, np.bool_)
    for left in reversed(range(_MAX_PASSES)):
        found = batch.solve()
        ends = waits & (_follow(batch, found, waits) if follow else found.settled)
        if ends.any():
            _note(done, batch, (active, np.flatnonzero(ends)), found)
            waits &= ~ends
            stay = np.flatnonzero(waits)
            if not stay.size:
                return done
            if left and stay.size <= _DROP_BELOW * len(waits):  # each time would cost more
                batch.keep(stay)
                active, waits = active[stay], np.ones(stay.size, np.bool_)
    _note(done, batch, (active, np.flatnonzero(waits)), found)
    done.settled[active[waits]] = False
    return done


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Room for operating points: those of many variants, and the places of some among them."""

    whole: Operating
    places: NDArray[np.intp]


def room_for(logic: Logic, network: Network, count: int) -> Operating:
    """Return an empty operating point of many variants."""
    nodes, branches, flags = len(network.nodes), len(network.branches), len(logic.names)
    return Operating(
        np.zeros((nodes, count)), np.zeros((branches, count)), np.zeros((branches, count)),
        np.zeros((flags, count), np.bool_), np.zeros(count, np.bool_), np.zeros(count, np.bool_),
        np.zeros((flags, count), np.bool_))


def _note(done: Operating, batch: _Batch, places: tuple[NDArray[np.intp], NDArray[np.intp]],
          found: _Pass) -> None:
    """Write what a pass found of some variants of the batch; `places` are all, and those."""
    active, out = places
    which, rows = active[out], len(found.slope)  # the branches of shorts come last
    done.volts[:, which], done.amps[:rows, which] = found.volts[:, out], batch.amps(found, out)
    done.slope_s[:rows, which], done.flags[:, which] = found.slope[:, out], batch.flags[:, out]
    done.chatters[which] = batch.chatters[out]
    done.swings[:, which] = (batch.swings & batch.chatters)[:, out]
    done.settled[which] = True


def _begun(logic: Logic, values: Values, blown: NDArray[np.bool_] | None,
           start: Mapping[str, bool | Bools] | None = None) -> _Batch:
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


def _follow(batch: _Batch, found: _Pass, waits: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Let the logic of settled variants follow; return which variants have come to rest.

    `waits`: those that had not come to rest before.
    """
    logic, amps = batch.logic, batch.watched_amps(found)
    pulls = logic.pulls(amps, batch.values.ohm)
    following = logic.following(batch.flags, found.volts, amps, pulls, batch.values.forces,
                                batch.wandering.returns > 0)
    moved = waits & found.settled & (following != batch.flags).any(axis=0)
    batch.since += 1
    if moved.any():
        batch.move(following, moved)
    ends: NDArray[np.bool_] = (found.settled & ~moved) | batch.chatters
    return ends
