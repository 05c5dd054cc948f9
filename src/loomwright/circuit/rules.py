"""Rules and logic for a batch: switches, relays, controllers and fuses as one table of flags.

Every yes-or-no of the circuit (a relay pulled in, a controller working, an input on, an output
commanded or protecting itself, a fuse blown) is one row of a boolean array (n_flags, B). The rows
decide which branches conduct; the solved volts and amps decide the rows.
"""

from __future__ import annotations

import dataclasses
import functools
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.blowing import order_s
from loomwright.circuit.branches import Plunger
from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.controller import inputs_of, lamp_out_word, outputs_of
from loomwright.circuit.kinds.switch import rule_of
from loomwright.circuit.model import ControllerInput, ControllerOutput, Part
from loomwright.circuit.network import Network

__all__ = ["Flags", "History", "Logic", "is_yes", "logic_of", "logic_of_states"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Forces = Mapping[str, NDArray[np.int8]]  # gate -> -1 free, 0 off, 1 on

_YES = {"yes", "on", "true", "1", "closed"}
_SOME = re.compile(r"(\d+(?:[.,]\d*)?)\s*[A-Za-z%°]")


def is_yes(value: str) -> bool:
    """Return whether a condition's value means yes; a quantity does when it is more than 0."""
    text = value.strip().lower()
    some = _SOME.match(text)
    return text in _YES if some is None else float(some[1].replace(",", ".")) > 0


def _holds(conditions: Mapping[str, str], name: str, value: str) -> bool:
    """Return whether conditions have a name on, or at a value."""
    found = conditions.get(name, "no")
    return found.lower() == value.lower() if value else is_yes(found)


@dataclass(frozen=True, slots=True)
class History:
    """What came before a solve: the flags it starts from, those a timer holds, rules replaced."""

    flags: Mapping[str, bool] = field(default_factory=dict)
    held: Mapping[str, bool] = field(default_factory=dict)
    rules: Mapping[str, Expression] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Relay:
    plunger: Plunger
    coils: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Controller:
    part: Part
    supply: int
    earth: int
    minimum_v: float
    inputs: tuple[tuple[ControllerInput, int], ...]  # with the node of its pin
    outputs: tuple[tuple[ControllerOutput, int], ...]  # with its branch


@dataclass(frozen=True, slots=True)
class Logic:
    """The flags of one network, and what drives them: in one state, or each variant in its own."""

    names: tuple[str, ...]
    row: dict[str, int]
    conditions: Mapping[str, str]
    relays: Mapping[str, _Relay]
    controllers: Mapping[str, _Controller]
    fuses: Mapping[str, tuple[int, float]]  # part -> branch, what it opens above [A]
    gated: tuple[tuple[int, str], ...]  # branch, gate
    switches: Mapping[str, Expression]  # by part, or by branch for a rule of its own
    held: Mapping[str, bool] = field(default_factory=dict)  # flags that do not follow
    mixed: tuple[Part, ...] = ()  # the fuses, where some are slower than others at one overload
    several: tuple[Mapping[str, str], ...] = ()  # conditions of several states, of which every ...
    column: NDArray[np.intp] | None = None  # ... variant is in one; None: all under `conditions`
    told: dict[Expression, NDArray[np.bool_]] = field(default_factory=dict)  # truths by state
    trips: Mapping[str, Array] = field(default_factory=dict)  # gate -> where it switches, x nominal

    def conduct(self, gate: str, flags: Flags) -> Flags | bool:
        """Return which variants have a gate closed."""
        if gate == "supplied":
            return True
        if gate == "never":
            return False
        kind, _, name = gate.partition(":")
        if kind in {"switch", "rule"}:
            return self._by_state(self.switches[name])
        if kind == "alive":
            working: Flags = flags[self.row[gate]]
            return working
        if kind == "output":
            commanded: Flags = flags[self.row[gate]] & ~flags[self.row[f"protects:{name}"]]
            return commanded
        pulled: Flags = flags[self.row[f"relay:{name}"]]
        return ~pulled if kind.startswith("!") else pulled

    def taken(self, which: NDArray[np.intp]) -> Logic:
        """Return the logic of some of the variants."""
        if self.column is None and not self.trips:
            return self
        column = None if self.column is None else self.column[which]
        return dataclasses.replace(self, column=column, trips={
            name: factor[which] for name, factor in self.trips.items()})

    def _by_state(self, rule: Expression) -> Flags | bool:
        """Return the truth of a rule over conditions alone, in each variant's state."""
        if self.column is None:
            return bool(rule.evaluate(functools.partial(_holds, self.conditions)))
        if rule not in self.told:
            self.told[rule] = np.array([rule.evaluate(functools.partial(_holds, one))
                                        for one in self.several], np.bool_)
        return self.told[rule][self.column]

    def pulls(self, amps: Array, ohm: Array) -> list[Array]:
        """Return what every relay's coils pull: volts by their current, or amps (B,) each."""
        found = []
        for relay in self.relays.values():
            # by its current, so that a coil that is open never pulls in
            by_volts = relay.plunger.by == "volts"
            found.append(np.abs(sum(amps[row] * ohm[row] if by_volts else amps[row]
                                    for row in relay.coils)))
        return found

    def following(self, flags: Flags, volts: Array, amps: Array, pulls: Sequence[Array],
                  forces: Forces, restless: Flags) -> Flags:
        """Return the flags that the solved volts and amps lead to; volts are (n_nodes, B).

        `restless` variants go round in circles, so that their fuses heat meanwhile.
        """
        new = flags.copy()
        for number, (name, relay) in enumerate(self.relays.items()):
            row, pull, plunger = self.row[f"relay:{name}"], pulls[number], relay.plunger
            pull = pull / self.trips.get(f"relay:{name}", 1.0)
            new[row] = (pull >= plunger.pull_in) | (flags[row] & (pull > plunger.drop_out))
        for name, controller in self.controllers.items():
            self._run(name, controller, _Solved(new, volts, amps, forces))
        self._hold(new)
        return self._hold(self._blow((new == flags).all(axis=0) | restless, new, amps))

    def _hold(self, new: Flags) -> Flags:
        """Set the flags that do not follow."""
        for name, on in self.held.items():
            new[self.row[name]] = on
        return new

    def _run(self, name: str, controller: _Controller, solved: _Solved) -> None:
        """Let one controller read its inputs and follow its rules."""
        new, volts = solved.new, solved.volts
        earth = volts[controller.earth]
        least_v = controller.minimum_v * self.trips.get(f"alive:{name}", 1.0)
        alive = _forced(volts[controller.supply] - earth >= least_v,
                        solved.forces.get(f"alive:{name}"))
        new[self.row[f"alive:{name}"]] = alive
        seen: dict[str, Flags] = {}
        for item, node in controller.inputs:
            gate = f"input:{name}.{item.id}"
            high = volts[node] - earth > item.threshold_v * self.trips.get(gate, 1.0)
            on = high if item.on_when == "high" else ~high
            seen[item.id] = _forced(on, solved.forces.get(gate)) & alive
            new[self.row[gate]] = seen[item.id]
        outputs = {out.id: new[self.row[f"output:{name}.{out.id}"]].copy()
                   for out, _ in controller.outputs}
        missed = self._lamps_out(name, controller, solved)
        truth = self._truth({**outputs, **missed, **seen}, alive.shape)
        for out, branch in controller.outputs:
            new[self.row[f"output:{name}.{out.id}"]] = evaluate(out.when, truth) & alive
            protects = new[self.row[f"protects:{name}.{out.id}"]]
            # a driver failed short cannot protect itself: its flag only stops the command
            protects |= np.abs(solved.amps[branch]) > out.limit_a

    def _lamps_out(self, name: str, controller: _Controller, solved: _Solved) -> dict[str, Flags]:
        """Return by name which outputs that are on carry less than their lamps should take."""
        found: dict[str, Flags] = {}
        for out, branch in controller.outputs:
            key = f"out:{name}.{out.id}"
            if key in self.row:
                lit = solved.new[self.row[f"output:{name}.{out.id}"]] \
                    & ~solved.new[self.row[f"protects:{name}.{out.id}"]]
                solved.new[self.row[key]] = lit & (np.abs(solved.amps[branch]) < out.timing.low_a)
                if key in self.held:
                    solved.new[self.row[key]] = self.held[key]
                found[lamp_out_word(out.id)] = solved.new[self.row[key]]
        return found

    def _truth(self, known: Mapping[str, Flags], shape: tuple[int, ...]
               ) -> Callable[[str, str], Flags]:
        def truth(name: str, value: str) -> Flags:
            if name in known:
                on = known[name]
                return on if not value or is_yes(value) else ~on
            return np.full(shape, self._by_state(Expression("name", (), name, value)))

        return truth

    def _quickest(self, amps: Array, load: Array) -> NDArray[np.intp]:
        """Return which of the overloaded fuses opens first (B,), by the time each takes."""
        times = np.array([order_s(part, flow) for part, flow in zip(self.mixed, amps, strict=True)])
        first: NDArray[np.intp] = np.where(load > 1, times, np.inf).argmin(axis=0)
        return first

    def _blow(self, resting: Flags, new: Flags, amps: Array) -> Flags:
        """Blow the fuse that opens first in each variant whose logic has come to rest."""
        if not self.fuses:
            return new
        numbers = [branch for branch, _ in self.fuses.values()]
        most = np.array([opens_a for _, opens_a in self.fuses.values()])
        load = np.abs(amps[numbers]) / most[:, None]
        worst = load.argmax(axis=0)
        blows = resting & (load.max(axis=0) > 1)
        if blows.any():
            several = np.flatnonzero(blows & ((load > 1).sum(axis=0) > 1))
            if self.mixed and several.size:
                worst[several] = self._quickest(np.abs(amps[numbers])[:, several],
                                                load[:, several])
            first = self.row[f"blown:{next(iter(self.fuses))}"]
            which = np.flatnonzero(blows)
            new[first + worst[which], which] = True
        return new


@dataclass(frozen=True, slots=True)
class _Solved:
    new: Flags
    volts: Array
    amps: Array
    forces: Forces


def _forced(value: Flags, force: NDArray[np.int8] | None) -> Flags:
    """Return a flag with a fault's say over it."""
    return value if force is None else np.where(force < 0, value, force > 0)


def evaluate(rule: Expression, truth: Callable[[str, str], Flags]) -> Flags:
    """Return a rule's truth for every variant."""
    if rule.op == "name":
        return truth(rule.name, rule.value)
    if rule.op == "not":
        return ~evaluate(rule.items[0], truth)
    if rule.op == "and":
        return functools.reduce(np.logical_and, [evaluate(item, truth) for item in rule.items])
    if rule.op == "or":
        return functools.reduce(np.logical_or, [evaluate(item, truth) for item in rule.items])
    # always: as many variants as any other name has
    one = truth("", "")
    return one | ~one


def _controller(part: Part, network: Network) -> _Controller:
    point = {pin: network.index[f"{part.id}.{pin}"] for pin in part.pins}
    return _Controller(
        part, point[str(part.params["supply"])], point[str(part.params["earth"])],
        part.number("minimum_v"),
        tuple((item, point[item.pin]) for item in inputs_of(part)),
        tuple((out, network.where[f"{part.id}.{out.id}"]) for out in outputs_of(part)),
    )


def logic_of_states(network: Network, several: Sequence[Mapping[str, str]],
                    column: NDArray[np.intp]) -> Logic:
    """Return the flags of a network of which every variant is in one of several states.

    Parameters
        several: the conditions of each state
        column: the number of each variant's state
    """
    one = logic_of(network, several[0])
    if len(several) == 1:
        return one
    return dataclasses.replace(one, several=tuple(several), column=column)


def logic_of(network: Network, conditions: Mapping[str, str],
             history: History | None = None) -> Logic:
    """Return the flags of a network under a state's conditions and what came before."""
    parts = network.circuit.parts
    relays = {one.id: _Relay(one, tuple(network.where[coil] for coil in one.coils))
              for part in parts.values() for one in KINDS[part.kind].plungers(part)}
    controllers = {name: _controller(part, network) for name, part in parts.items()
                   if part.kind == "controller"}
    fuses = {name: (network.where[name], opens(part)) for name, part in parts.items()
             if (opens := KINDS[part.kind].opens_above) is not None}
    names = [f"relay:{name}" for name in relays]
    for name, controller in controllers.items():
        names.append(f"alive:{name}")
        names.extend(f"input:{name}.{item.id}" for item, _ in controller.inputs)
        for out, _ in controller.outputs:
            names.extend((f"output:{name}.{out.id}", f"protects:{name}.{out.id}"))
        names.extend(f"out:{name}.{out.id}" for out, _ in controller.outputs if out.timing.low_a)
    names.extend(f"blown:{name}" for name in fuses)
    gated = tuple((n, b.gate) for n, b in enumerate(network.branches) if b.gate)
    switches = {name: rule_of(part) for name, part in parts.items() if part.kind == "switch"}
    switches |= {b.id: b.when for b in network.branches if b.when is not None}
    before = history or History()
    protects = tuple(parts[name] for name in fuses)
    mixed = len({(part.kind, part.params.get("type")) for part in protects}) > 1
    return Logic(tuple(names), {name: row for row, name in enumerate(names)}, conditions, relays,
                 controllers, fuses, gated, {**switches, **before.rules}, before.held,
                 protects if mixed else ())
