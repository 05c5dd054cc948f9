"""The numbers of a batch: every branch's ohms and volts in every variant, faults applied."""

from __future__ import annotations

import dataclasses
import functools
import statistics
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.branches import Override
from loomwright.circuit.faults import overrides_of
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.controller import inputs_of
from loomwright.circuit.model import BODY, Circuit, Fault
from loomwright.circuit.network import MINIMUM_OHM, Network, with_shorts

__all__ = ["SPREADS", "TRIPS", "Values", "Variant", "apply_to_branch", "in_state", "in_states",
           "short_at", "values_of", "widened"]

Array = NDArray[np.float64]
Known = dict[Fault, tuple[Override, ...]]  # what faults do, looked up once
FREE, OPEN, CLOSED = -1, 0, 1

# Log-normal tolerance of resistances by what they are; assumed.
SPREADS = {"contact": 0.35, "load": 0.06, "": 0.0}
# Log-normal tolerance of where things switch, against their nominal volts or amps: a relay's
# pull-in and drop-out, a controller's input, the supply it works from, a load that just works; all
# assumed.
TRIPS = {"relay": 0.08, "input": 0.08, "alive": 0.05, "load": 0.08}


@dataclass(frozen=True, slots=True)
class Variant:
    """One version of a circuit to solve: more faults, a battery factor, a draw of tolerances.

    `spread_seed` None means nominal values; the same seed always gives the same draw.
    `balanced` (number, count) asks instead for one of an even count of draws at plus or minus one
    standard deviation which together have the right mean and spread in every branch.
    """

    faults: tuple[Fault, ...] = ()
    emf_factor: float = 1.0
    spread_seed: int | None = None
    balanced: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Values:
    """Branch numbers of a batch, each (n_branches, B); `shunt` is a conductance in parallel."""

    network: Network
    ohm: Array
    emf: Array
    shunt: Array
    forced: NDArray[np.int8]
    rated_a: Array  # infinite where seized
    forces: dict[str, NDArray[np.int8]]  # gates
    idle: dict[str, NDArray[np.bool_]]  # loads that do nothing though they take current
    trips: dict[str, Array] = dataclasses.field(default_factory=dict)  # by gate: see `TRIPS`

    @property
    def count(self) -> int:
        """Return how many variants there are."""
        return int(self.ohm.shape[1])

    def take(self, which: NDArray[np.intp]) -> Values:
        """Return some of the variants."""
        return Values(
            self.network, self.ohm[:, which], self.emf[:, which], self.shunt[:, which],
            self.forced[:, which], self.rated_a[:, which],
            {name: array[which] for name, array in self.forces.items()},
            {name: array[which] for name, array in self.idle.items()},
            {name: array[which] for name, array in self.trips.items()},
        )

    def on(self, network: Network) -> Values:
        """Return these numbers for the network they were widened from."""
        rows = len(network.branches)
        return Values(network, self.ohm[:rows], self.emf[:rows], self.shunt[:rows],
                      self.forced[:rows], self.rated_a[:rows], self.forces, self.idle,
                      self.trips)


@functools.lru_cache(maxsize=4096)
def _draw(seed: int, count: int) -> Array:
    """Return standard normal draws, the same for the same seed."""
    found = np.random.default_rng(seed).standard_normal(count)
    found.setflags(write=False)  # kept, and given to many
    return found


def _balanced(network: Network, count: int) -> Array:
    """Return `count` sign draws of every branch (n_branches, count), half +1 and half -1.

    The patterns are few, so branches that meet get different ones where possible: what lies in
    series then varies independently, and a volt drop over both has the right spread.
    """
    patterns = _patterns(count)
    rng = np.random.default_rng(count)
    near: dict[int, list[int]] = {}  # node -> patterns of the branches that end there
    signs = np.empty((network.base_count, count))
    for number in range(network.base_count):
        ends = (int(network.start[number]), int(network.end[number]))
        taken = [pattern for node in ends for pattern in near.get(node, ())]
        uses = [taken.count(pattern) for pattern in range(len(patterns))]
        free = [pattern for pattern, times in enumerate(uses) if times == min(uses)]
        chosen = free[int(rng.integers(len(free)))]
        for node in ends:
            near.setdefault(node, []).append(chosen)
        signs[number] = patterns[chosen] * (1.0 if rng.random() < 0.5 else -1.0)
    return signs


def _patterns(count: int) -> Array:
    """Return balanced sign patterns: all three orthogonal ones of four draws, else random ones."""
    if count == 4:
        return np.array([[1.0, 1.0, -1.0, -1.0], [1.0, -1.0, 1.0, -1.0], [1.0, -1.0, -1.0, 1.0]])
    signs = np.tile([1.0, -1.0], (64, count // 2))
    drawn: Array = np.random.default_rng(count).permuted(signs, axis=1)
    return drawn


def _acts(network: Network, faults: Iterable[Fault], known: Known) -> list[Override]:
    """Return the overrides of faults, looked up once each."""
    found: list[Override] = []
    for fault in faults:
        if fault not in known:
            known[fault] = overrides_of(network.circuit, fault)
        found.extend(known[fault])
    return found


def short_at(circuit: Circuit, act: Override) -> str:
    """Return the point that a short joins: the start of its wire, or the point it names."""
    wire = circuit.wires.get(act.target)
    return act.target if wire is None else wire.start.point


def _short_name(act: Override) -> str:
    return f"{act.act}:{act.target}"


def widened(network: Network, circuit: Circuit, variants: Sequence[Variant],
            known: Known | None = None) -> Network:
    """Return the network with a branch for every short that some variant has.

    `known` takes what faults do, for `values_of`.
    """
    known = {} if known is None else known
    faults = dict.fromkeys([*circuit.faults, *(f for v in variants for f in v.faults)])
    shorts: dict[str, tuple[str, str, str]] = {}
    batteries = [name for name, part in circuit.parts.items() if part.kind == "battery"]
    # without earth points there is no body: a chafed wire then meets the negative post
    body = BODY if BODY in network.index else f"{batteries[0]}.-"
    for act in _acts(network, faults, known):
        if act.act == "link":
            near, _, far = act.target.partition("~")
            shorts[_short_name(act)] = (_short_name(act), near, far)
        elif act.act in {"earth", "supply"}:
            near = short_at(circuit, act)
            far = body if act.act == "earth" else f"{batteries[0]}.+"
            shorts[_short_name(act)] = (_short_name(act), near, far)
        elif act.act == "join":
            wire, _, far = act.target.partition(">")
            shorts[_short_name(act)] = (_short_name(act), circuit.wires[wire].start.point, far)
    return with_shorts(network, shorts.values())


def values_of(network: Network, circuit: Circuit, variants: Sequence[Variant],
              known: Known | None = None) -> Values:
    """Return the numbers of variants of a circuit, whose own faults are in all of them.

    `known`: what `widened` found that faults do.
    """
    size = (len(network.branches), len(variants))
    ohm = np.array([b.ohm for b in network.branches])[:, None] * _spread(network, variants)
    # battery volts wander; what a regulator holds does not
    steady = np.array([b.steady or b.law == "regulated" for b in network.branches])
    factor = np.where(steady[:, None], 1.0, [[v.emf_factor for v in variants]])
    emf = np.array([[b.emf] for b in network.branches]) * factor
    rated_a = np.repeat(np.array([[b.rated_a] for b in network.branches]), size[1], axis=1)
    values = Values(network, ohm, emf, np.zeros(size), np.full(size, FREE, np.int8), rated_a,
                    {}, {}, _trips(circuit, variants))
    known = {} if known is None else known
    for number, variant in enumerate(variants):
        for act in _acts(network, (*circuit.faults, *variant.faults), known):
            _apply(values, act, number)
    return values


def in_state(values: Values, conditions: Mapping[str, str]) -> Values:
    """Return the numbers as a state's conditions make them: levels, temperatures, engine speed."""
    return in_states(values, (conditions,), np.zeros(values.count, np.intp))


def in_states(values: Values, several: Sequence[Mapping[str, str]], column: NDArray[np.intp]
              ) -> Values:
    """Return the numbers as the conditions of each variant's own state make them.

    Parameters
        several: the conditions of each state
        column: the number of each variant's state
    """
    follows = [(row, b.by_state) for row, b in enumerate(values.network.branches)
               if b.by_state is not None]
    if not follows:
        return values
    ohm, emf, rated_a = values.ohm.copy(), values.emf.copy(), values.rated_a.copy()
    for row, by_state in follows:
        factors = np.array([by_state(conditions) for conditions in several])[column].T
        ohm[row] = np.maximum(ohm[row] * factors[0], MINIMUM_OHM)
        emf[row] *= factors[1]
        rated_a[row] *= factors[2]
    return dataclasses.replace(values, ohm=ohm, emf=emf, rated_a=rated_a)


def _trips(circuit: Circuit, variants: Sequence[Variant]) -> dict[str, Array]:
    """Return where everything that switches does so in balanced variants, against nominal (B,)."""
    drawn = [(number, *one.balanced) for number, one in enumerate(variants) if one.balanced]
    if not drawn:
        return {}
    numbers, draws, counts = (np.array(column) for column in zip(*drawn, strict=True))
    found = {}
    for gate in _gates(circuit):
        factor = np.ones(len(variants))
        for count in sorted(set(counts.tolist())):  # np.unique would load masked arrays
            some = counts == count
            sigmas = TRIPS[gate.partition(":")[0]] * _stratified(gate, count)
            factor[numbers[some]] = np.exp(sigmas[draws[some]])
        found[gate] = factor
    return found


def _gates(circuit: Circuit) -> list[str]:
    """Return the name of everything that switches by volts or amps: `relay:K3`, `load:Y1`, ..."""
    found = []
    for name, part in circuit.parts.items():
        found += [f"relay:{one.id}" for one in KINDS[part.kind].plungers(part)]
        if part.kind == "controller":
            found += [f"alive:{name}", *(f"input:{name}.{item.id}" for item in inputs_of(part))]
        elif KINDS[part.kind].load:
            found.append(f"load:{name}")
    return found


@functools.lru_cache(maxsize=4096)
def _stratified(name: str, count: int) -> Array:
    """Return `count` draws of a standard normal, one from each slice of it.

    In the order of a van der Corput sequence, so that draws next to one another (severities next
    to one another) see both ends of it; turned otherwise for every name.
    """
    digits = max(count - 1, 1).bit_length()
    order = sorted(range(count), key=lambda number: f"{number:0{digits}b}"[::-1])
    ranks = (np.argsort(order) + zlib.crc32(name.encode())) % count
    normal = statistics.NormalDist()
    drawn = np.array([normal.inv_cdf((rank + 0.5) / count) for rank in ranks])
    spread = float(drawn.std())
    found: Array = drawn / spread if spread else drawn
    found.setflags(write=False)  # kept, and given to many
    return found


def _spread(network: Network, variants: Sequence[Variant]) -> Array:
    """Return the tolerance factor of every branch in every variant."""
    sigma = np.array([SPREADS[b.spread] for b in network.branches])
    sigma[network.base_count:] = 0.0
    draws = np.zeros((len(sigma), len(variants)))
    balanced: dict[int, Array] = {}
    for number, variant in enumerate(variants):
        if variant.balanced is not None:
            draw, count = variant.balanced
            if count not in balanced:
                balanced[count] = _balanced(network, count)
            draws[:network.base_count, number] = balanced[count][:, draw]
        elif variant.spread_seed is not None:
            draws[:network.base_count, number] = _draw(variant.spread_seed, network.base_count)
    factor: Array = np.exp(sigma[:, None] * draws)
    return factor


def _apply(values: Values, act: Override, number: int) -> None:
    """Write one override into the numbers of one variant."""
    network = values.network
    if act.act in {"on", "off"}:
        force = values.forces.setdefault(act.target, np.full(values.count, FREE, np.int8))
        force[number] = CLOSED if act.act == "on" else OPEN
    elif act.act == "idle":
        idle = values.idle.setdefault(act.target, np.zeros(values.count, np.bool_))
        idle[number] = True
    elif act.act in {"earth", "supply", "link", "join"}:
        row = network.where[_short_name(act)]
        values.forced[row, number] = CLOSED
        values.ohm[row, number] = max(act.value, MINIMUM_OHM)
    elif act.target in network.where:  # a relay without a changeover contact has none to open
        apply_to_branch(values, act, network.where[act.target], number)


def apply_to_branch(values: Values, act: Override, row: int, number: int) -> None:
    """Write an override of a branch into its numbers, `row` of variant `number`."""
    at = (row, number)
    if act.act == "open":
        values.forced[at] = OPEN
    elif act.act == "closed":
        values.forced[at] = CLOSED
    elif act.act == "add":
        values.ohm[at] += act.value
    elif act.act == "ohm":
        values.ohm[at] = act.value
    elif act.act == "scale":
        values.ohm[at] *= act.value
    elif act.act == "emf":
        values.emf[at] *= act.value
    elif act.act == "limit":
        values.rated_a[at] *= act.value
    elif act.act == "shunt":
        values.shunt[at] += 1 / act.value
    elif act.act == "seized":
        values.rated_a[at] = np.inf
