"""Solve one state of a circuit in many variants at once, and read it as instruments would."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.elimination import Factor, solve_factored
from loomwright.circuit.impedance import Impedances, impedances
from loomwright.circuit.instruments import METER_OHM, OPEN_LINE_OHM, load_levels, reach
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import BODY, Circuit
from loomwright.circuit.network import Network, network_of
from loomwright.circuit.operate import (
    Operating,
    Room,
    factor_of,
    operate,
    room_for,
    slopes_at_rest,
)
from loomwright.circuit.rules import History, Logic, logic_of, logic_of_states
from loomwright.circuit.values import (
    CLOSED,
    OPEN,
    Known,
    Values,
    Variant,
    in_state,
    values_of,
    widened,
)
from loomwright.errors import UnknownNameError

__all__ = ["BatchResult", "Solved", "Variant", "blown_after", "conditions_of", "operating",
           "solve_batch", "solve_from", "solve_isolated"]

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

_CHUNK_NUMBERS = 2**21  # of one array of variants solved together; bounds the memory
_LEAST_CHUNK = 256  # variants


@dataclass(frozen=True, eq=False)
class BatchResult:
    """One state solved for B variants.

    `points` gives each point's row in `volts` (n_points, B), which are unloaded; `voltage` reads
    them as a meter would. `wire_amps` (n_wires, B) by `wire_index`, from a wire's start to its
    end. `doing` is 0 off, 1 dim or slow, 2 on. `inputs` and `outputs` are keyed `ECU.shut`.
    `moved` is where each plunger stands (0 at rest, 1 pulled in, 2 to and fro without end), by
    plunger; one that a welded contact holds does not move.
    """

    circuit: Circuit
    state: str
    points: Mapping[str, int]
    volts: Array
    wire_index: Mapping[str, int]
    wire_amps: Array
    part_amps: Mapping[str, Array]
    doing: Mapping[str, NDArray[np.int64]]
    inputs: Mapping[str, Bools]
    outputs: Mapping[str, Bools]
    alive: Mapping[str, Bools]
    protects: Mapping[str, Bools]
    blown: Mapping[str, Bools]
    moved: Mapping[str, NDArray[np.int64]]
    chatters: Bools
    settled: Bools
    network: Network
    slope_s: Array  # of every branch at the operating point
    body_v: Array | None = None  # of the body's metal, where earth points join it

    @functools.cached_property
    def factor(self) -> Factor:
        """Return the factored network at the operating point."""
        return factor_of(self.network, self.slope_s)

    @functools.cached_property
    def impedances(self) -> Impedances:
        """Return the resistance seen at every point, and between every joined pair."""
        return impedances(self.factor)

    @functools.cached_property
    def floating(self) -> Bools:
        """Return which points have no path to the battery's negative post (n_points, B)."""
        return self._floats[: len(self.points)]

    @functools.cached_property
    def _floats(self) -> Bools:
        return ~reach(self.network, self.slope_s)

    def voltage(self, at: str, to: str = "", load_ohm: float = METER_OHM) -> tuple[Array, Bools]:
        """Return volts between two points as a meter shows them, and where one of them floats.

        The instrument loads the circuit: V = V_open / (1 + R_thevenin / R_meter), exact where the
        circuit is linear. A floating point then reads next to nothing.

        Parameters
            at: point of the red lead, or `body`
            to: point of the black lead; '' is the battery's negative post
            load_ohm: resistance of the instrument [ohm]
        Returns
            volts (B,) and floating (B,)
        Raises
            UnknownNameError: no such point
        """
        volts, floats = self.voltages(((at, to),), load_ohm)
        return volts[0], floats[0]

    def voltages(self, pairs: Sequence[tuple[str, str]], load_ohm: float = METER_OHM
                 ) -> tuple[Array, Bools]:
        """Return volts and floating (n_pairs, B) between several pairs of points; see `voltage`."""
        reference = self.network.nodes[self._reference]
        rows = [(self._row(at), self._row(to or reference)) for at, to in pairs]
        unloaded = np.empty((len(rows), self.volts.shape[1]))
        thevenin = np.empty(unloaded.shape)
        for number, (first, second) in enumerate(rows):
            np.subtract(self._volts_at(first), self._volts_at(second), out=unloaded[number])
            thevenin[number] = _between(self.network, self.impedances, self.factor,
                                        (first, second))
        thevenin /= load_ohm
        thevenin += 1
        unloaded /= thevenin
        near, far = (list(column) for column in zip(*rows, strict=True))
        return unloaded, self._floats[near] | self._floats[far]

    @functools.cached_property
    def _reference(self) -> int:
        return int(np.flatnonzero(self.network.plan.row_of < 0)[0])

    def _volts_at(self, row: int) -> Array:
        if row < len(self.points) or self.body_v is None:
            return np.asarray(self.volts[row])
        return self.body_v

    def _row(self, point: str) -> int:
        if point == BODY and self.body_v is not None:
            return self.network.index[BODY]
        if point not in self.points:
            raise UnknownNameError("point", point, self.points)
        return self.points[point]


def _between(network: Network, known: Impedances, factor: Factor, nodes: tuple[int, int]
             ) -> Array:
    """Return the resistance seen between two nodes [ohm] in every variant."""
    quick = known.between(*nodes)
    if quick is not None:
        return quick
    first, second = nodes
    rows = network.plan.row_of
    injected = np.zeros((network.plan.size, known.own.shape[1]))
    injected[rows[first]] += 1.0
    injected[rows[second]] -= 1.0
    solve_factored(factor, injected)
    found: Array = injected[rows[first]] - injected[rows[second]]
    return found


def conditions_of(circuit: Circuit, state: str) -> Mapping[str, str]:
    """Return a state's conditions.

    Raises
        UnknownNameError: the circuit has no such state
    """
    if state not in circuit.states:
        raise UnknownNameError("state", state, circuit.states)
    return circuit.states[state]


@dataclass(slots=True, eq=False)
class _Prepared:
    """The numbers of one set of variants, and the states already solved for them."""

    circuit: Circuit
    variants: Sequence[Variant]
    network: Network
    values: Values
    solved: dict[str, Operating]  # by state, as `blown_after` left them ...
    blown: Bools | None = None  # ... with these fuses blown


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What to solve: variants by number, each in a state by number, fuses blown beforehand."""

    states: tuple[str, ...]
    column: NDArray[np.intp]
    which: NDArray[np.intp]
    blown: Bools | None

    @classmethod
    def all_in(cls, states: Sequence[str], count: int, blown: Bools | None) -> _Asked:
        """Return every variant in each state, states one after the other."""
        return cls(tuple(states), np.repeat(np.arange(len(states)), count),
                   np.tile(np.arange(count), len(states)), blown)

    def take(self, places: NDArray[np.intp]) -> _Asked:
        """Return some of it."""
        blown = None if self.blown is None else self.blown[:, places]
        return _Asked(self.states, self.column[places], self.which[places], blown)


_prepared: list[_Prepared] = []
_PREPARED_KEPT = 2


def _prepare(circuit: Circuit, variants: Sequence[Variant]) -> _Prepared:
    """Return the numbers of variants; the same variants in the next state need no new ones."""
    for known in _prepared:
        if known.circuit is circuit and known.variants is variants:
            return known
    acts: Known = {}
    network = widened(network_of(circuit), circuit, variants, acts)
    values = values_of(network, circuit, variants, acts)
    fresh = _Prepared(circuit, variants, network, values, {})
    if isinstance(variants, tuple):  # a list could change behind our back
        _prepared.insert(0, fresh)
        del _prepared[_PREPARED_KEPT:]
    return fresh


def _operate(prepared: _Prepared, asked: _Asked) -> Operating:
    """Solve variants, those without a short on the leaner network without shorts."""
    base, wide = network_of(prepared.circuit), prepared.network
    shorted = (prepared.values.forced[base.base_count:] == CLOSED).any(axis=0)[asked.which]
    groups = [(np.flatnonzero(~shorted), base), (np.flatnonzero(shorted), wide)]
    if base is wide:
        groups = [(np.arange(len(asked.which)), wide)]
    whole = room_for(logic_of(wide, {}), wide, len(asked.which))
    for places, network in groups:
        most = max(_CHUNK_NUMBERS // len(network.branches), _LEAST_CHUNK)
        for first in range(0, len(places), most):
            some = places[first:first + most]
            _operate_on(network, prepared, asked.take(some), Room(whole, some))
    return whole


def _operate_on(network: Network, prepared: _Prepared, asked: _Asked, room: Room) -> None:
    """Solve variants together on one network."""
    conditions = [conditions_of(prepared.circuit, state) for state in asked.states]
    values = prepared.values
    values = (values if network is prepared.network else values.on(network)).take(asked.which)
    operate(logic_of_states(network, conditions, asked.column), values, asked.blown, room=room)


def _put(found: Operating, whole: Operating, places: NDArray[np.intp]) -> None:
    """Write the operating points of some variants to their places among all.

    The branches of shorts come last and stay at nothing where there is no short.
    """
    for field in dataclasses.fields(Operating):
        array, target = getattr(found, field.name), getattr(whole, field.name)
        if array.ndim == 1:
            target[places] = array
        else:
            target[:len(array), places] = array


def _blown_rows(logic: Logic) -> list[int]:
    return [logic.row[f"blown:{name}"] for name in logic.fuses]


def _state(prepared: _Prepared, state: str, blown: Bools | None) -> tuple[Logic, Operating]:
    """Return one state solved, taking over what `blown_after` already solved with these fuses."""
    logic = logic_of(prepared.network, conditions_of(prepared.circuit, state))
    before = prepared.solved.get(state)
    asked = _Asked.all_in((state,), len(prepared.variants), blown)
    if before is None or blown is None:
        return logic, _operate(prepared, asked)
    if prepared.blown is not None and np.array_equal(blown, prepared.blown):
        return logic, before
    stale = np.flatnonzero((before.flags[_blown_rows(logic)] != blown).any(axis=0))
    if not stale.size:
        return logic, before
    merged = Operating(**{field.name: getattr(before, field.name).copy()
                          for field in dataclasses.fields(Operating)})
    _put(_operate(prepared, asked.take(stale)), merged, stale)
    return logic, merged


def solve_batch(circuit: Circuit, state: str, variants: Sequence[Variant],
                blown: Bools | None = None) -> BatchResult:
    """Return one state solved for every variant, by nodal analysis with all variants at once.

    Parameters
        circuit: its own faults are in every variant
        state: a state of the circuit
        variants: faults, battery factor and tolerance draw of each
        blown: fuses blown beforehand, as `blown_after` returns them
    Raises
        UnknownNameError: unknown state or element
        SolveError: there is no battery, or nothing is joined to its negative post
    Validity
        steady direct current; see docs/models/circuit.md
    """
    prepared = _prepare(circuit, variants)
    return _read(prepared, state, *_state(prepared, state, blown))


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """One solved state with the logic, numbers and operating point behind it."""

    result: BatchResult
    logic: Logic
    values: Values
    found: Operating


def solve_from(circuit: Circuit, state: str, history: History, follow: bool = True) -> Solved:
    """Return one state solved after what came before.

    Parameters
        history: flags the solve starts from, flags that timers hold, rules replaced
        follow: False keeps every flag as it is at the start
    Errors as of `solve_batch`.
    """
    prepared = _prepare(circuit, (Variant(),))
    logic = logic_of(prepared.network, conditions_of(circuit, state), history)
    found = operate(logic, prepared.values, follow=follow, start=history.flags)
    return Solved(_read(prepared, state, logic, found), logic,
                  in_state(prepared.values, logic.conditions), found)


def _read(prepared: _Prepared, state: str, logic: Logic, found: Operating) -> BatchResult:
    """Return what instruments and people see of an operating point."""
    circuit, values, network, row = (prepared.circuit, prepared.values, prepared.network,
                                     logic.row)
    points = {name: network.index[name] for name in circuit.points()}
    wires = [name for name in circuit.wires if name in network.where]
    loose = _joined(network)
    amps = found.amps[[network.where[name] for name in wires]]
    if loose:
        more = [found.amps[rows].sum(axis=0) for rows in loose.values()]
        amps = np.concatenate([amps, np.array(more)])
    flags = {kind: {name.partition(":")[2]: found.flags[number]
                    for name, number in row.items() if name.startswith(f"{kind}:")}
             for kind in ("relay", "input", "output", "alive", "protects", "blown")}
    dead = values.forced[[branch for branch, _ in logic.fuses.values()]] == OPEN
    for number, name in enumerate(logic.fuses):
        flags["blown"][name] = flags["blown"][name] | dead[number]
    return BatchResult(
        circuit, state, points, found.volts[: len(points)],
        {name: number for number, name in enumerate([*wires, *loose])},
        amps,
        {name: found.amps[network.where[key]] for name, key in _main_branch(network).items()},
        load_levels(values, found, flags),
        flags["input"], flags["output"], flags["alive"], flags["protects"], flags["blown"],
        _moved(values, logic, found),
        found.chatters, found.settled, network, found.slope_s,
        found.volts[network.index[BODY]] if BODY in network.index else None,
    )


def _moved(values: Values, logic: Logic, found: Operating) -> dict[str, NDArray[np.int64]]:
    """Return where each plunger stands: 0 at rest, 1 pulled in, 2 to and fro without end."""
    places = {}
    for name in logic.relays:
        row = logic.row[f"relay:{name}"]
        contacts = [branch for branch, gate in logic.gated if gate == f"relay:{name}"]
        welded = (values.forced[contacts] == CLOSED).any(axis=0)
        place = np.where(found.swings[row], 2, found.flags[row].astype(np.int64))
        places[name] = np.where(welded, 0, place)
    return places


def operating(circuit: Circuit, state: str, variants: Sequence[Variant],
              blown: Bools | None = None) -> tuple[Logic, Values, Operating]:
    """Return one state's logic, branch numbers and operating points, as `solve_batch` reads them.

    Parameters and errors as of `solve_batch`.
    """
    prepared = _prepare(circuit, variants)
    logic, found = _state(prepared, state, blown)
    return logic, in_state(prepared.values, logic.conditions), found


def _joined(network: Network) -> dict[str, list[int]]:
    """Return, by loose wire, the branches that join its end to a point in some variant."""
    found: dict[str, list[int]] = {}
    for number in range(network.base_count, len(network.branches)):
        sort, _, name = network.branches[number].id.partition(":")
        if sort == "join":
            found.setdefault(name.partition(">")[0], []).append(number)
    return found


def _main_branch(network: Network) -> dict[str, str]:
    """Return the branch whose current is a part's current."""
    suffix = {"relay": ".coil", "controller": ".draw"}
    names = {name: f"{name}{suffix.get(part.kind, '')}"
             for name, part in network.circuit.parts.items()}
    return {name: key for name, key in names.items() if key in network.where}


def blown_after(circuit: Circuit, variants: Sequence[Variant]) -> Bools:
    """Return which fuses are blown (n_fuses, B) once the vehicle has been in every state.

    A vehicle arrives after its fuse has blown, so a fuse that blows in one state is open in all.
    States are taken in file order, each with the fuses the earlier ones blew. All states are solved
    together first; only variants that blow a fuse are solved again, from that state on.
    """
    prepared = _prepare(circuit, variants)
    states, count = tuple(circuit.states), len(variants)
    fuses = [part for part in circuit.parts.values()
             if KINDS[part.kind].opens_above is not None]
    blown = np.zeros((len(fuses), count), np.bool_)
    if not states or not count:
        return blown
    # a breaker that closes again by itself is closed when the next state begins
    stays = np.array([part.params.get("reset") != "automatic" for part in fuses], np.bool_)
    rows = _blown_rows(logic_of(prepared.network, conditions_of(circuit, states[0])))
    asked = _Asked.all_in(states, count, None)
    whole = _operate(prepared, asked)
    while True:
        opened = whole.flags[rows].reshape(len(fuses), len(states), count)
        more: Bools = np.asarray((opened & stays[:, None, None] & ~blown[:, None]).any(axis=0))
        touched: Bools = np.asarray(more.any(axis=0))
        if not touched.any():
            break
        first, blows = more.argmax(axis=0), np.flatnonzero(touched)
        blown[:, blows] |= opened[:, first[blows], blows] & stays[:, None]
        later = asked.column > first[asked.which]
        _again(prepared, whole, asked, blown, later & touched[asked.which])
    # a fuse is open in the states before it blew, too: the vehicle came in with it
    _again(prepared, whole, asked, blown,
           (whole.flags[rows] != blown[:, asked.which]).any(axis=0))
    for number, state in enumerate(states):
        span = slice(number * count, (number + 1) * count)
        prepared.solved[state] = Operating(**{
            field.name: getattr(whole, field.name)[..., span]
            for field in dataclasses.fields(Operating)})
    prepared.blown = blown
    return blown


def _again(prepared: _Prepared, whole: Operating, asked: _Asked, blown: Bools, where: Bools
           ) -> None:
    """Solve some of what was asked anew, with the fuses now known to be blown."""
    places = np.flatnonzero(where)
    if places.size:
        some = dataclasses.replace(asked, blown=blown[:, asked.which]).take(places)
        _put(_operate(prepared, some), whole, places)


def solve_isolated(circuit: Circuit, variants: Sequence[Variant],
                   pairs: Sequence[tuple[str, str]], blown: Bools | None = None,
                   state: str = "") -> Array:
    """Return what an ohmmeter shows between pairs of points (n_pairs, B), capped at open line.

    Battery and controller supplies are disconnected, relays and outputs at rest, filaments cold,
    diodes block. What hangs in parallel counts.

    Parameters
        pairs: points of the two leads
        state: whose switch positions hold; '' is everything at rest
    Raises
        UnknownNameError: unknown state or point
    """
    prepared = _prepare(circuit, variants)
    network = prepared.network
    logic = logic_of(network, conditions_of(circuit, state) if state else {})
    values = dataclasses.replace(prepared.values, forced=prepared.values.forced.copy())
    for number, branch in enumerate(network.branches):
        # a battery off its posts, a controller without supply, a diode against the meter's volts
        if branch.emf or branch.gate == "supplied" or branch.law == "diode":
            values.forced[number] = OPEN
    known = (*circuit.points(), *([BODY] if BODY in network.index else []))
    for point in [name for pair in pairs for name in pair]:
        if point not in known:
            raise UnknownNameError("point", point, known)
    factor = factor_of(network, slopes_at_rest(logic, values, blown))
    seen = impedances(factor)
    ohms = [_between(network, seen, factor, (network.index[a], network.index[b]))
            for a, b in pairs]
    return np.minimum(np.array(ohms).reshape(len(pairs), len(variants)), OPEN_LINE_OHM)
