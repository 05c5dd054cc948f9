"""The vehicle of the benchmark: its own solver and part laws, apart from the product's.

Nodal analysis by repeated secant conductances, one vehicle at a time, with dense matrices. Shares
with the product only the circuit text, the part values named in it, and the rule expressions. The
laws differ on purpose: filaments, motors, temperature, shorts somewhere along a wire.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from benchmarks.diagnosis.true_laws import Edge, motor_speed, siemens_of
from benchmarks.diagnosis.world import Extra, World
from loomwright.circuit.kinds.controller import inputs_of, outputs_of
from loomwright.circuit.kinds.switch import rule_of
from loomwright.circuit.model import Circuit, Fault, Part

__all__ = ["OPEN_OHM", "TrueVehicle"]

OPEN_OHM = 1e7
_METER_OHM = 1e7
_PICK_UP_A = 5e-9  # what a meter picks up: 0.05 V on its own 10 Mohm, nothing on a joined wire
_LEAST_S = 1e-12
_RESISTIVITY = 0.0172  # ohm mm2 / m at 20 degC, annealed copper
_COPPER_PER_K = 0.00393
_BLOW = 1.35
_MOST_HEALTHY_OHM = 0.03
_ROUNDS = 60
_YES = {"yes", "on", "true", "1"}


@dataclass(slots=True)
class _Solved:
    volts: np.ndarray
    inverse: np.ndarray
    siemens: np.ndarray
    flags: dict[str, bool] = field(default_factory=dict)


class TrueVehicle:
    """One vehicle with its faults; solved when asked, its fuses blown by whatever state does it."""

    def __init__(self, circuit: Circuit, world: World, faults: Sequence[Fault] = (),
                 extras: Sequence[Extra] = ()) -> None:
        self.circuit, self.world = circuit, world
        self.faults, self.extras = tuple(faults), tuple(extras)
        self._nodes: dict[str, int] = {"BAT.-": 0}
        self._forced: dict[str, bool] = {}
        self._idle: set[str] = set()
        self._shorted: dict[str, tuple[str, float]] = {}
        self._wire_edge: dict[str, int] = {}
        self._edges: list[Edge] = []
        self._rng = np.random.default_rng(world.seed)
        self._build()
        for fault in self.faults:
            self._break(fault)
        self._start = np.array([edge.a for edge in self._edges])
        self._end = np.array([edge.b for edge in self._edges])
        self.blown: set[str] = set()
        self._known: dict[tuple[str, bool], _Solved] = {}
        self._blow_all()

    # --- building ------------------------------------------------------------------------------

    def _node(self, point: str) -> int:
        return self._nodes.setdefault(point, len(self._nodes))

    def _contact(self, ohm: float) -> float:
        """Return a contact with a heavy tail: log Student t with three degrees of freedom.

        A healthy one adds at most 30 milliohm: from 50 on the product calls it a fault.
        """
        luck = float(np.clip(0.4 * self._rng.standard_t(3), -1.5, 2.5))
        return min(ohm * math.exp(luck), ohm + _MOST_HEALTHY_OHM)

    def _load(self, ohm: float, per_k: float = 0.0) -> float:
        warm = 1.0 + per_k * (self.world.temperature_c - 20.0)
        return ohm * warm * math.exp(float(np.clip(0.05 * self._rng.standard_t(4), -0.25, 0.25)))

    def _add(self, edge: Edge) -> None:
        self._edges.append(edge)

    def _build(self) -> None:
        for part in self.circuit.parts.values():
            for point in part.points():
                self._node(point)
            _BUILD.get(part.kind, TrueVehicle._nothing)(self, part)
        strap = self._contact(0.0005)
        self._add(Edge("strap", 0, self._node("body"), strap))
        warm = 1.0 + _COPPER_PER_K * (self.world.temperature_c - 20.0)
        for wire in self.circuit.wires.values():
            assert wire.end is not None
            copper = _RESISTIVITY * warm * wire.length_m / wire.area_mm2
            ohm = copper * float(self._rng.uniform(0.9, 1.3)) + self._contact(0.001)
            middle = self._node(f"{wire.id}~")
            share = float(self._rng.uniform(0.1, 0.9))
            self._wire_edge[wire.id] = len(self._edges)
            self._add(Edge(wire.id, self._node(wire.start.point), middle, share * ohm))
            self._add(Edge(f"{wire.id}~", middle, self._node(wire.end.point),
                            (1.0 - share) * ohm))
        for extra in self.extras:
            self._add(Edge("extra", self._node(extra.at), self._node(extra.to), extra.ohm))

    def _nothing(self, part: Part) -> None:
        """A splice is its node alone."""

    def _two(self, part: Part) -> tuple[int, int]:
        first, second = part.points()
        return self._node(first), self._node(second)

    def _battery(self, part: Part) -> None:
        cold = 1.0 + 0.008 * max(25.0 - self.world.temperature_c, 0.0)
        self._add(Edge(part.id, self._node(f"{part.id}.-"), self._node(f"{part.id}.+"),
                        self._load(part.number("resistance_ohm")) * cold,
                        emf=part.number("emf_v") * self.world.emf_factor))

    def _contact_part(self, part: Part) -> None:
        gate = f"switch:{part.id}" if part.kind == "switch" else ""
        a, b = self._two(part)
        self._add(Edge(part.id, a, b, self._contact(part.number("resistance_ohm")), gate=gate))

    def _earth(self, part: Part) -> None:
        self._add(Edge(part.id, self._node(part.id), self._node("body"),
                        self._contact(part.number("resistance_ohm"))))

    def _connector(self, part: Part) -> None:
        ways = part.params["ways"]
        assert isinstance(ways, tuple)
        for way in ways:
            name = f"{part.id}.{way}"
            self._add(Edge(name, self._node(f"{name}a"), self._node(f"{name}b"),
                            self._contact(part.number("resistance_ohm"))))

    def _relay(self, part: Part) -> None:
        name = part.id
        self._add(Edge(f"{name}.coil", self._node(f"{name}.86"), self._node(f"{name}.85"),
                        self._load(part.number("coil_ohm"), _COPPER_PER_K)))
        self._add(Edge(f"{name}.no", self._node(f"{name}.30"), self._node(f"{name}.87"),
                        self._contact(part.number("contact_ohm")), gate=f"relay:{name}"))

    def _resistive(self, part: Part) -> None:
        a, b = self._two(part)
        per_k = _COPPER_PER_K if part.kind == "solenoid" else 0.0005
        self._add(Edge(part.id, a, b, self._load(part.number("resistance_ohm"), per_k),
                        rated_v=self.circuit.system_v))

    def _lamp(self, part: Part) -> None:
        a, b = self._two(part)
        rated = part.number("rated_v")
        hot = self._load(rated**2 / part.number("power_w"))
        cold = hot * float(self._rng.uniform(0.06, 0.10))
        self._add(Edge(part.id, a, b, hot, "lamp", cold_ohm=cold, rated_v=rated))

    def _motor(self, part: Part) -> None:
        a, b = self._two(part)
        self._add(Edge(part.id, a, b, self._load(part.number("resistance_ohm"), _COPPER_PER_K),
                        "motor", rated_v=self.circuit.system_v,
                        rated_a=self._load(part.number("rated_a"))))

    def _controller(self, part: Part) -> None:
        name = part.id
        supply = self._node(f"{name}.{part.params['supply']}")
        earth = self._node(f"{name}.{part.params['earth']}")
        self._add(Edge(f"{name}.draw", supply, earth,
                        self._load(self.circuit.system_v / part.number("draw_a"))))
        for item in inputs_of(part):
            to = supply if item.pull == "up" else earth
            self._add(Edge(f"{name}.{item.id}.pull", self._node(f"{name}.{item.pin}"), to,
                            self._load(item.pull_ohm)))
        for out in outputs_of(part):
            pin = self._node(f"{name}.{out.pin}")
            a, b = (supply, pin) if out.drives == "high side" else (pin, earth)
            self._add(Edge(f"{name}.{out.id}", a, b, self._contact(out.on_ohm),
                            rated_a=out.limit_a, gate=f"output:{name}.{out.id}"))

    # --- faults --------------------------------------------------------------------------------

    def _edge(self, name: str) -> Edge:
        return next(edge for edge in self._edges if edge.name == name)

    def _break(self, fault: Fault) -> None:
        """Do to this vehicle what a fault does; shorts lie somewhere along the wire."""
        kind, element = fault.kind, fault.element
        rng = self._rng
        if kind in {"short-to-earth", "short-to-supply"}:
            ohm = float(np.exp(rng.uniform(np.log(0.01), np.log(0.3))))
            to = "body" if kind == "short-to-earth" else "BAT.+"
            self._shorted[element] = ("earth" if to == "body" else "supply", ohm)
            self._add(Edge("short", self._node(f"{element}~"), self._node(to), ohm))
        elif kind in {"dead", "input-dead", "input-stuck-on", "driver-dead", "driver-stuck-on",
                      "stuck-open", "stuck-closed", "contact-open", "welded"}:
            gate, on = _GATES[kind]
            self._forced[gate + element] = on
        elif kind == "stuck":
            self._idle.add(element)
        else:
            self._change(self._edge(f"{element}{_EDGE_OF.get((self._kind(element), kind), '')}"),
                         fault)

    def _kind(self, element: str) -> str:
        part = self.circuit.parts.get(element)
        return part.kind if part is not None else ""

    def _change(self, edge: Edge, fault: Fault) -> None:
        rng = self._rng
        if fault.kind == "high-resistance":
            edge.ohm += fault.ohms or 1.0
        elif fault.kind == "shorted":
            edge.ohm *= float(rng.uniform(0.01, 0.06))
        elif fault.kind == "worn":
            edge.ohm *= float(rng.uniform(2.0, 4.5))
        elif fault.kind == "seized":
            edge.law = "ohm"
            self._idle.add(edge.name)
        elif fault.kind == "flat":
            edge.emf *= float(rng.uniform(0.4, 0.75))
            edge.ohm *= float(rng.uniform(4.0, 20.0))
        elif fault.kind == "weak":
            edge.ohm += float(rng.uniform(0.1, 0.4))
        else:  # open, blown, burnt-out, coil-open
            edge.ohm = math.inf

    # --- solving -------------------------------------------------------------------------------

    def _blow_all(self) -> None:
        """Try every state until no further fuse blows."""
        for _ in range(8):
            before = len(self.blown)
            for state in self.circuit.states:
                self._known.pop((state, False), None)
                worst = self._overloaded(state)
                if worst:
                    self.blown.add(worst)
            if len(self.blown) == before:
                break
            self._known.clear()

    def _overloaded(self, state: str) -> str:
        solved = self.solved(state)
        amps = self._amps(solved)
        loads = {edge.name: abs(amps[n]) / self.circuit.parts[edge.name].number("rating_a")
                 for n, edge in enumerate(self._edges)
                 if edge.name in self.circuit.parts
                 and self.circuit.parts[edge.name].kind == "fuse"}
        worst = max(loads, key=lambda name: loads[name], default="")
        return worst if worst and loads[worst] > _BLOW else ""

    def _amps(self, solved: _Solved) -> np.ndarray:
        emf = np.array([edge.emf for edge in self._edges])
        drop = solved.volts[self._start] - solved.volts[self._end]
        return solved.siemens * (drop + emf)

    def solved(self, state: str, isolated: bool = False) -> _Solved:
        """Return a state's solution (isolated: battery off, nothing switched by current)."""
        key = (state, isolated)
        if key not in self._known:
            self._known[key] = self._solve(state, isolated)
        return self._known[key]

    def _solve(self, state: str, isolated: bool) -> _Solved:
        given = self.circuit.states[state]
        size = len(self._nodes)
        flags: dict[str, bool] = {}
        volts, siemens = np.zeros(size), np.zeros(len(self._edges))
        emf = np.array([0.0 if isolated else edge.emf for edge in self._edges])
        inverse = np.eye(size)
        last = np.full(size, np.inf)
        for _ in range(_ROUNDS):
            closed = [self._conducts(edge, flags, given, isolated) for edge in self._edges]
            siemens = np.array([
                siemens_of(edge, float(volts[edge.a] - volts[edge.b]), isolated, before, self.world)
                if on else 0.0
                for edge, on, before in zip(self._edges, closed, siemens, strict=True)])
            matrix = np.zeros((size, size))
            np.add.at(matrix, (self._start, self._start), siemens)
            np.add.at(matrix, (self._end, self._end), siemens)
            np.add.at(matrix, (self._start, self._end), -siemens)
            np.add.at(matrix, (self._end, self._start), -siemens)
            matrix[np.diag_indices(size)] += _LEAST_S
            matrix[0, 0] += 1e6
            inverse = np.linalg.inv(matrix)
            push = np.zeros(size)
            np.add.at(push, self._start, -siemens * emf)
            np.add.at(push, self._end, siemens * emf)
            volts = inverse @ push
            amps = siemens * (volts[self._start] - volts[self._end] + emf)
            new = flags if isolated else self._flags(volts, flags, given, amps)
            if new == flags and np.abs(volts - last).max() < 1e-4:
                break
            flags, last = new, volts
        return _Solved(volts, inverse, siemens, flags)

    def _conducts(self, edge: Edge, flags: Mapping[str, bool], given: Mapping[str, str],
                  isolated: bool) -> bool:
        if edge.name in self.blown or math.isinf(edge.ohm):
            return False
        if isolated and (edge.emf or edge.name.endswith(".draw")):
            return False
        return not edge.gate or self._closed(edge, flags, given)

    def _closed(self, edge: Edge, flags: Mapping[str, bool], given: Mapping[str, str]) -> bool:
        forced = self._forced.get(edge.gate)
        if forced is not None:
            return forced
        kind, _, name = edge.gate.partition(":")
        if kind == "switch":
            rule = rule_of(self.circuit.parts[name])
            return bool(rule.evaluate(_truth(given, {})))
        if flags.get(f"protects:{name}", False):
            return False
        return flags.get(edge.gate, False)

    def _flags(self, volts: np.ndarray, old: Mapping[str, bool], given: Mapping[str, str],
               amps: np.ndarray) -> dict[str, bool]:
        new = {name: on for name, on in old.items() if name.startswith("protects:")}
        for number, edge in enumerate(self._edges):
            if edge.rated_a and edge.gate.startswith("output:"):
                name = f"protects:{edge.name}"
                new[name] = new.get(name, False) or abs(float(amps[number])) > edge.rated_a
        for part in self.circuit.parts.values():
            if part.kind == "relay":
                coil = self._edge(f"{part.id}.coil")
                pull = 0.0 if math.isinf(coil.ohm) else abs(volts[coil.a] - volts[coil.b])
                limit = "drop_out_v" if old.get(f"relay:{part.id}") else "pull_in_v"
                new[f"relay:{part.id}"] = bool(pull >= part.number(limit))
            elif part.kind == "controller":
                self._run(part, volts, given, new)
        return new

    def _run(self, part: Part, volts: np.ndarray, given: Mapping[str, str],
             new: dict[str, bool]) -> None:
        name = part.id
        earth = volts[self._node(f"{name}.{part.params['earth']}")]
        supply = volts[self._node(f"{name}.{part.params['supply']}")]
        alive = bool(supply - earth >= part.number("minimum_v"))
        alive = new[f"alive:{name}"] = self._forced.get(f"alive:{name}", alive)
        seen = {}
        for item in inputs_of(part):
            high = bool(volts[self._node(f"{name}.{item.pin}")] - earth > item.threshold_v)
            on = high if item.on_when == "high" else not high
            seen[item.id] = alive and self._forced.get(f"input:{name}.{item.id}", on)
            new[f"input:{name}.{item.id}"] = seen[item.id]
        for out in outputs_of(part):
            on = alive and bool(out.when.evaluate(_truth(given, seen)))
            new[f"output:{name}.{out.id}"] = on

    # --- exact readings ------------------------------------------------------------------------

    def volts(self, state: str, at: str, to: str, pick_up: float) -> float:
        """Return volts as a 10 Mohm meter shows them; `pick_up` is its standard normal luck."""
        solved = self.solved(state)
        a, b = self._nodes[at], self._nodes[to]
        inverse = solved.inverse
        inner = float(inverse[a, a] + inverse[b, b] - 2.0 * inverse[a, b])
        inner = min(inner, 1e10)
        together = inner * _METER_OHM / (inner + _METER_OHM)
        open_v = float(solved.volts[a] - solved.volts[b])
        return open_v * _METER_OHM / (inner + _METER_OHM) + _PICK_UP_A * pick_up * together

    def amps(self, state: str, wire: str) -> float:
        """Return amps of a wire near its start."""
        return float(self._amps(self.solved(state))[self._wire_edge[wire]])

    def branches(self, state: str) -> list[tuple[int, int, float, float]]:
        """Return (node, node, siemens, emf) of every branch as it stands in a state's solution."""
        solved = self.solved(state)
        return [(edge.a, edge.b, float(siemens), edge.emf)
                for edge, siemens in zip(self._edges, solved.siemens, strict=True)]

    def node(self, point: str) -> int:
        """Return the number of a point's node; 0 is the battery's negative post."""
        return self._nodes[point]

    def most_amps(self, element: str) -> float:
        """Return the largest current of a wire, part or connector way over all states [A]."""
        names = {element, f"{element}.no", f"{element}.coil"}
        return max(abs(float(amps[n])) for state in self.circuit.states
                   for amps in [self._amps(self.solved(state))]
                   for n, edge in enumerate(self._edges) if edge.name in names)

    def load_volts(self, state: str, name: str) -> float:
        """Return the volts across a load of two pins."""
        solved, edge = self.solved(state), self._edge(name)
        return abs(float(solved.volts[edge.a] - solved.volts[edge.b]))

    def ohms(self, state: str, at: str, to: str) -> float:
        """Return what an ohmmeter shows, leads not counted; a bare wire shows its own short."""
        if at in self.circuit.wires:
            kind, ohm = self._shorted.get(at, ("", OPEN_OHM))
            return ohm if kind == ("supply" if to == "BAT.+" else "earth") else OPEN_OHM
        inverse = self.solved(state, isolated=True).inverse
        a, b = self._nodes[at], self._nodes[to]
        return min(float(inverse[a, a] + inverse[b, b] - 2.0 * inverse[a, b]), OPEN_OHM)

    def doing(self, state: str, name: str, shift: float = 0.0) -> int:
        """Return 0 off, 1 dim or slow, 2 on, with an observer's shift of the limits."""
        part = self.circuit.parts[name]
        if name in self._idle:
            return 0
        solved, edge = self.solved(state), self._edge(name)
        if math.isinf(edge.ohm):
            return 0
        drop = abs(float(solved.volts[edge.a] - solved.volts[edge.b]))
        share = drop / edge.rated_v
        low, high = _LIMITS[part.kind]
        if edge.law == "motor":
            share = motor_speed(edge, drop, self.world)
        return int(share > low + 0.3 * shift) + int(share > high + shift)

    def clicks(self, state: str, relay: str) -> bool:
        """Return whether a relay's armature moves as the state is set; a weld holds it."""
        gate = f"relay:{relay}"
        if self._forced.get(gate):
            return False
        least = min(self.circuit.states, key=lambda name: len(self.circuit.states[name]))
        before = least != state and self.solved(least).flags.get(gate, False)
        return bool(self.solved(state).flags.get(gate, False)) != before

    def listed(self, state: str, quantity: str, name: str) -> int:
        """Return what a controller's list says of an input or output: 0 off, 1 on, 2 no answer.

        A controller that is dead or has too little supply answers nothing.
        """
        flags = self.solved(state).flags
        if not flags.get(f"alive:{name.partition('.')[0]}", False):
            return 2
        return int(flags.get(f"{quantity}:{name}", False))

    def without(self, repair: str) -> TrueVehicle:
        """Return the vehicle after a repair; a fuse that a fault blew is renewed with it."""
        left = tuple(fault for fault in self.faults if fault.repair != repair)
        return TrueVehicle(self.circuit, replace(self.world), left, self.extras)


def _truth(given: Mapping[str, str], known: Mapping[str, bool]) -> Callable[[str, str], bool]:
    def truth(name: str, value: str) -> bool:
        if name in known:
            return known[name] if not value or value.lower() in _YES else not known[name]
        found = given.get(name, "no").strip().lower()
        return found == value.lower() if value else found in _YES

    return truth


_LIMITS = {"lamp": (0.15, 0.75), "solenoid": (0.60, 0.60), "motor": (0.05, 0.70),
           "heater": (0.20, 0.75)}
_GATES = {
    "dead": ("alive:", False), "input-dead": ("input:", False), "input-stuck-on": ("input:", True),
    "driver-dead": ("output:", False), "driver-stuck-on": ("output:", True),
    "stuck-open": ("switch:", False), "stuck-closed": ("switch:", True),
    "contact-open": ("relay:", False), "welded": ("relay:", True),
}
_EDGE_OF = {("relay", "coil-open"): ".coil", ("relay", "high-resistance"): ".no"}
_BUILD: Mapping[str, Callable[[TrueVehicle, Part], None]] = {
    "battery": TrueVehicle._battery, "fuse": TrueVehicle._contact_part,
    "switch": TrueVehicle._contact_part, "earth": TrueVehicle._earth,
    "connector": TrueVehicle._connector, "relay": TrueVehicle._relay,
    "lamp": TrueVehicle._lamp, "motor": TrueVehicle._motor, "heater": TrueVehicle._resistive,
    "solenoid": TrueVehicle._resistive, "controller": TrueVehicle._controller,
}
