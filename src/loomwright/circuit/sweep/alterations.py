"""What every variant of a sweep changes against its base, as flat lists that a state completes."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.branches import Override
from loomwright.circuit.faults import overrides_of
from loomwright.circuit.model import Circuit, Fault
from loomwright.circuit.network import MINIMUM_OHM, Network, network_of
from loomwright.circuit.values import (
    CLOSED,
    FREE,
    OPEN,
    Values,
    Variant,
    apply_to_branch,
    short_at,
    values_of,
)

__all__ = ["Alterations", "alterations_of", "drivers"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
BaseKey = tuple[float, int | None, tuple[int, int] | None]


@dataclass(frozen=True, slots=True, eq=False)
class Alterations:
    """Changes of branches, entries `at[n]:at[n+1]` for variant n, and shorts to the reference.

    `bases` are the numbers of what the variants are compared with: the same battery and draw of
    tolerances without a fault; `base_of` says which. `extra` are branches (nodes) that only a
    short to the supply closes; they follow those of the network.
    """

    network: Network
    bases: Values
    base_of: Indices
    extra: tuple[tuple[int, int], ...]
    at: Indices
    branch: Indices
    entries: Values  # one variant, a row for each entry
    earth_at: Indices
    earth_node: Indices
    earth_s: Array
    forces: Mapping[str, NDArray[np.int8]]  # gate -> (variants)


class _Collector:
    """The changes found so far, one variant after another."""

    def __init__(self, circuit: Circuit, network: Network) -> None:
        self.circuit, self.network = circuit, network
        self.known: dict[Fault, tuple[Override, ...]] = {}
        self.extra: dict[tuple[int, int], int] = {}
        self.branch: list[int] = []
        self.acts: list[tuple[int, Override]] = []  # entry, act
        self.earth: list[tuple[int, float]] = []  # node, siemens
        self.gates: list[tuple[int, Override]] = []  # variant, act
        self.post = network.index[
            f"{next(n for n, part in circuit.parts.items() if part.kind == 'battery')}.+"]

    def take(self, number: int, faults: Sequence[Fault]) -> None:
        """Note what one variant's faults change."""
        entries: dict[int, int] = {}
        for act in self._acts(faults):
            if act.act in {"on", "off"}:
                self.gates.append((number, act))
            elif act.act == "earth":
                node = self.network.index[short_at(self.circuit, act)]
                self.earth.append((node, 1 / max(act.value, MINIMUM_OHM)))
            elif (branch := self._branch(act)) is not None:
                if branch not in entries:
                    entries[branch] = len(self.branch)
                    self.branch.append(branch)
                self.acts.append((entries[branch], act))

    def _acts(self, faults: Sequence[Fault]) -> Iterator[Override]:
        for fault in faults:
            if fault not in self.known:
                self.known[fault] = overrides_of(self.circuit, fault)
            yield from self.known[fault]

    def _branch(self, act: Override) -> int | None:
        """Return the branch an act is on; None for what changes no current."""
        if act.act == "supply":
            pair = self.network.index[short_at(self.circuit, act)], self.post
            return len(self.network.branches) + self.extra.setdefault(pair, len(self.extra))
        return None if act.act == "idle" else self.network.where.get(act.target)


def alterations_of(circuit: Circuit, variants: Sequence[Variant]) -> Alterations:
    """Return what variants change; a circuit's own faults are in all of them.

    Raises
        UnknownNameError: the circuit has no such element or the element no such fault
    """
    network = network_of(circuit)
    found = _Collector(circuit, network)
    keys: dict[BaseKey, int] = {}
    base_of, at, earth_at = np.empty(len(variants), np.int64), [0], [0]
    for number, one in enumerate(variants):
        base_of[number] = keys.setdefault(
            (one.emf_factor, one.spread_seed, one.balanced), len(keys))
        found.take(number, (*circuit.faults, *one.faults))
        at.append(len(found.branch))
        earth_at.append(len(found.earth))
    plain = circuit if not circuit.faults else _healthy(circuit)
    bases = values_of(network, plain, [
        Variant((), factor, seed, balanced) for factor, seed, balanced in keys])
    branch = np.array(found.branch, np.int64)
    variant_of = np.repeat(np.arange(len(variants)), np.diff(at))
    return Alterations(
        network, bases, base_of, tuple(found.extra), np.array(at), branch,
        _entries(bases, (branch, base_of[variant_of]), found.acts), np.array(earth_at),
        np.array([node for node, _ in found.earth], np.int64),
        np.array([siemens for _, siemens in found.earth], np.float64),
        _forces(found.gates, len(variants)))


def drivers(alterations: Alterations) -> frozenset[int]:
    """Return the branches that can drive a current by themselves: curved ones and sources."""
    network, bases = alterations.network, alterations.bases
    curved = [row for row, branch in enumerate(network.branches) if branch.law != "resistor"]
    sources = np.flatnonzero((bases.emf != 0).any(axis=1))
    made = alterations.branch[alterations.entries.emf[:, 0] != 0]
    return frozenset((*curved, *sources.tolist(), *made.tolist()))


def _healthy(circuit: Circuit) -> Circuit:
    # the same parts and wires, so that the network made for them serves
    return dataclasses.replace(circuit, faults=())


def _entries(bases: Values, place: tuple[Indices, Indices], acts: list[tuple[int, Override]]
             ) -> Values:
    """Return the base's numbers at (branch, base) with the acts on them."""
    branch, base = place
    inside = branch < bases.ohm.shape[0]
    row = np.where(inside, branch, 0)
    one = (len(branch), 1)

    def taken(array: NDArray[np.float64], outside: float) -> Array:
        return np.where(inside, array[row, base], outside).reshape(one)

    forced = np.where(inside, FREE, OPEN).astype(np.int8).reshape(one)
    found = Values(bases.network, taken(bases.ohm, 1.0), taken(bases.emf, 0.0),
                   taken(bases.shunt, 0.0), forced, taken(bases.rated_a, 0.0), {}, {})
    for entry, act in acts:
        if act.act == "supply":
            found.forced[entry, 0] = CLOSED
            found.ohm[entry, 0] = max(act.value, MINIMUM_OHM)
        else:
            apply_to_branch(found, act, entry, 0)
    return found


def _forces(gates: list[tuple[int, Override]], count: int) -> dict[str, NDArray[np.int8]]:
    found: dict[str, NDArray[np.int8]] = {}
    for number, act in gates:
        force = found.setdefault(act.target, np.full(count, FREE, np.int8))
        force[number] = CLOSED if act.act == "on" else OPEN
    return found
