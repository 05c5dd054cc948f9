"""Vehicle-like circuits of any size and their faults, the workloads of `batch.py`."""

from __future__ import annotations

import random
from collections.abc import Iterator

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Fault, Part, Wire, WireEnd

__all__ = ["STATES", "harness", "workload_faults"]

STATES = 10
_AREAS = (0.5, 0.75, 1.0, 1.5, 2.5)
# small loads, so that a hundred of them leave a battery its volts
_LOADS: tuple[tuple[str, dict[str, str]], ...] = (
    ("lamp", {"power": "5 W"}), ("lamp", {"power": "3 W"}), ("lamp", {"power": "10 W"}),
    ("led lamp", {}), ("motor", {"current": "0.5 A"}), ("motor", {"current": "1 A"}),
    ("solenoid", {"resistance": "36 ohm"}), ("heater", {"power": "10 W"}),
)
_LINEAR: tuple[tuple[str, dict[str, str]], ...] = (
    ("solenoid", {"resistance": "36 ohm"}), ("heater", {"power": "10 W"}),
)


class _Harness:
    """Parts and wires as they are added, seeded."""

    def __init__(self, seed: int, linear: bool) -> None:
        self.dice, self.linear = random.Random(seed), linear
        self.parts: dict[str, Part] = {}
        self.wires: dict[str, Wire] = {}
        self.counts: dict[str, int] = {}
        self.nodes = 0
        self.words: list[str] = []  # conditions of the states

    def part(self, letter: str, kind: str, **keys: object) -> str:
        """Add a part and return its name."""
        number = self.counts[letter] = self.counts.get(letter, 0) + 1
        name, known = f"{letter}{number}", KINDS[kind]
        model = known.model.model_validate(
            {"kind": kind, **{key.replace("_", " "): value for key, value in keys.items()}})
        values, assumed = known.values(model, 12.0)
        self.parts[name] = Part(name, kind, known.pins(model), values, assumed)
        self.nodes += len(self.parts[name].pins)
        return name

    def wire(self, start: str, end: str, area: float = 0.0) -> None:
        """Join two points, now and then over a connector."""
        ends = [start]
        if self.dice.random() < 0.3:
            plug = self.part("X", "connector")
            ends += [f"{plug}.1a", f"{plug}.1b"]
        ends.append(end)
        for a, b in zip(ends[::2], ends[1::2], strict=True):
            name = f"W{len(self.wires) + 1}"
            self.wires[name] = Wire(name, _end(a), _end(b), area or self.dice.choice(_AREAS),
                                    self.dice.uniform(0.3, 4))

    def switch(self, start: str) -> str:
        """Add a switch behind a point and return its far side."""
        word = f"word {len(self.words)}"
        self.words.append(word)
        name = self.part("S", "switch", closed_when=word)
        self.wire(start, f"{name}.1")
        return f"{name}.2"

    def load(self, feed: str, earth: str) -> None:
        """Add a load from a point to an earth."""
        kind, keys = self.dice.choice(_LINEAR if self.linear else _LOADS)
        name = self.part("L", kind, **keys)
        self.wire(feed, f"{name}.1")
        self.wire(f"{name}.2", earth)


def _end(point: str) -> WireEnd:
    part, _, pin = point.partition(".")
    return WireEnd(part, pin)


def harness(nodes: int, linear: bool, seed: int = 1, states: int = STATES) -> Circuit:
    """Return a 12 V circuit of about so many nodes, in ten states or as many as asked for.

    Fused feeds lead over switches, relays and controllers to lamps, light diodes, motors,
    solenoids and heaters; a linear one has resistances only. Our own invention, seeded.
    """
    built = _Harness(seed, linear)
    built.part("BAT", "battery")
    built.parts["BAT"] = _renamed(built.parts.pop("BAT1"), "BAT")
    built.nodes += 1  # the body
    earths = [built.part("E", "earth") for _ in range(max(2, nodes // 150))]
    rails = []
    for _ in range(max(1, nodes // 700)):
        main = built.part("F", "fuse", rating="200 A")
        rail = built.part("SP", "splice")
        built.wire("BAT.+", f"{main}.1", 25.0)
        built.wire(f"{main}.2", rail, 25.0)
        rails.append(rail)
    feeds: list[str] = []
    count = 0
    while built.nodes < nodes:
        if count % 5 == 0:
            feeds.append(_feed(built, built.dice.choice(rails)))
        if count % 12 == 4:
            _controller(built, feeds, earths)
        else:
            _path(built, feeds, earths)
        count += 1
    named = {f"state {n}": _conditions(built, n) for n in range(states)}
    return Circuit(f"Harness {nodes}", 12.0, {}, built.parts, built.wires, named)


def _renamed(part: Part, name: str) -> Part:
    return Part(name, part.kind, part.pins, part.params, part.assumed)


def _conditions(built: _Harness, number: int) -> dict[str, str]:
    """Return a state's conditions: each more likely on than not."""
    dice = random.Random(1000 + number)
    return {word: "yes" if dice.random() < 0.6 else "no" for word in built.words}


def _feed(built: _Harness, rail: str) -> str:
    """Add a fused feed and return its splice."""
    fuse = built.part("F", "fuse", rating=f"{built.dice.choice([15, 20, 30])} A")
    splice = built.part("SP", "splice")
    built.wire(rail, f"{fuse}.1", 4.0)
    built.wire(f"{fuse}.2", splice, 2.5)
    return splice


def _path(built: _Harness, feeds: list[str], earths: list[str]) -> None:
    """Add a load behind a switch, or behind a relay that a switch closes."""
    dice = built.dice
    feed, earth = dice.choice(feeds[-3:]), dice.choice(earths)
    if dice.random() < 0.65:
        built.load(built.switch(feed), earth)
        return
    relay = built.part("K", "relay", clamp_diode=not built.linear and dice.random() < 0.5)
    built.wire(built.switch(dice.choice(feeds[-3:])), f"{relay}.86")
    built.wire(f"{relay}.85", earth)
    built.wire(feed, f"{relay}.30")
    for _ in range(dice.choice([1, 1, 2])):
        built.load(f"{relay}.87", dice.choice(earths))


def _controller(built: _Harness, feeds: list[str], earths: list[str]) -> None:
    """Add a controller with three inputs and three outputs, each output with a load."""
    dice = built.dice
    rules = ["a", "a and b", "b or c", "a and not c", "not b"]
    inputs = {name: {"pin": pin, "pull": pull} for name, pin, pull in
              (("a", "11", "down"), ("b", "12", "up"), ("c", "13", "down"))}
    outputs = {f"o{n}": {"pin": f"3{n}", "drives": "low side" if n == 3 else "high side",
                         "limit": "12 A", "when": dice.choice(rules)} for n in (1, 2, 3)}
    name = built.part("U", "controller", supply="1", earth="2", inputs=inputs, outputs=outputs)
    feed, earth = dice.choice(feeds[-3:]), dice.choice(earths)
    built.wire(feed, f"{name}.1")
    built.wire(f"{name}.2", earth)
    for pin, source in (("11", feed), ("12", earth), ("13", feed)):
        built.wire(built.switch(source), f"{name}.{pin}")
    built.load(f"{name}.31", earth)
    built.load(f"{name}.32", earth)
    built.load(feed, f"{name}.33")


def workload_faults(circuit: Circuit) -> Iterator[Fault]:
    """Yield every wire open and with 0.1, 1, 10 ohm more, every point shorted to earth, every
    switch stuck, every load open and short."""
    for wire in circuit.wires:
        yield Fault(f"open:{wire}", wire, "open")
        for ohms in (0.1, 1.0, 10.0):
            yield Fault(f"high-resistance:{wire}:{ohms}", wire, "high-resistance", ohms)
    for point in circuit.points():
        if circuit.parts[point.partition(".")[0]].kind != "earth" and point != "BAT.-":
            yield Fault(f"short-to-earth:{point}", point, "short-to-earth", 0.05)
    for name, part in circuit.parts.items():
        if part.kind == "switch":
            yield Fault(f"stuck-open:{name}", name, "stuck-open")
            yield Fault(f"stuck-closed:{name}", name, "stuck-closed")
        elif KINDS[part.kind].load:
            modes = {mode.kind for mode in KINDS[part.kind].fault_modes}
            opens = "open" if "open" in modes else "burnt-out"
            yield Fault(f"{opens}:{name}", name, opens)
            yield Fault(f"shorted:{name}", name, "shorted")
