"""Random but sensible vehicle circuits of any size, for the drawing's laws and timings."""

from __future__ import annotations

import random

from loomwright.circuit.expressions import Expression
from loomwright.circuit.model import (
    Circuit,
    ControllerInput,
    ControllerOutput,
    ParamValue,
    Part,
    Wire,
    WireEnd,
)

TRUE = Expression("true")
COLOURS = ("RD", "BK", "BN", "BU", "GN/YE", "BK/WH", "GY", "")


class Builder:
    """Collects parts and wires under short names."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.parts: dict[str, Part] = {}
        self.wires: dict[str, Wire] = {}
        self.counts: dict[str, int] = {}

    def part(self, letter: str, kind: str, pins: tuple[str, ...] = ("1", "2"),
             **params: ParamValue) -> str:
        self.counts[letter] = self.counts.get(letter, 0) + 1
        name = f"{letter}{self.counts[letter]}"
        label = self.draw.choice(["", "Work lamp", "Tailgate shut", "Very long label of a part"])
        self.parts[name] = Part(name, kind, pins, params, label=label)
        return name

    def wire(self, start: str, end: str | None) -> None:
        name = f"W{len(self.wires) + 1}"
        self.wires[name] = Wire(
            name, _end(start), _end(end) if end else None,
            self.draw.choice([0.75, 1.0, 2.5, 16.0]), 1.0, self.draw.choice(COLOURS),
        )

    def circuit(self) -> Circuit:
        return Circuit("Random circuit", 24.0, {}, self.parts, self.wires, {"on": {}})


def _end(point: str) -> WireEnd:
    part, _, pin = point.partition(".")
    return WireEnd(part, pin)


class _Vehicle(Builder):
    def __init__(self, seed: int, size: int) -> None:
        super().__init__(seed)
        self.size = size
        self.hot = [f"{self.part('BAT', 'battery', ('+', '-'))}.+"]
        self.earths = [self.part("E", "earth", ("",)) for _ in range(self.draw.randint(1, 3))]
        self.highs: list[str] = []  # controller pins that feed loads
        self.lows: list[str] = []  # controller pins that earth loads
        self.inputs: list[str] = []
        self.connector, self.way = "", 0

    def through(self, start: str) -> str:
        """Continue from a point through a fuse, switch, connector way, diode or splice."""
        kind = self.draw.choice(["fuse", "switch", "way", "way", "splice", "diode"])
        if kind == "way":
            if not self.connector or self.way == 6:
                pins = tuple(f"{way}{half}" for way in range(1, 7) for half in "ab")
                self.connector, self.way = self.part("X", "connector", pins), 0
            self.way += 1
            first, second = self.draw.sample([f"{self.connector}.{self.way}{h}" for h in "ab"], 2)
        elif kind == "splice":
            first = second = self.part("SP", "splice", ("",))
            self.hot.append(first)
        else:
            name = self.part({"fuse": "F", "switch": "S", "diode": "D"}[kind], kind)
            first, second = f"{name}.1", f"{name}.2"
        self.wire(start, first)
        return second

    def chain(self, start: str, longest: int) -> str:
        for _ in range(self.draw.randint(0, longest)):
            start = self.through(start)
        return start

    def controller(self) -> None:
        draw = self.draw
        ins = [str(10 + i) for i in range(draw.randint(1, 5))]
        outs = [str(30 + i) for i in range(draw.randint(1, 5))]
        sides = {pin: draw.choice(["high side", "high side", "low side"]) for pin in outs}
        pulls = {pin: draw.choice(["down", "down", "up"]) for pin in ins}
        name = self.part(
            "A", "controller", ("1", "2", *ins, *outs), supply="1", earth="2",
            inputs=tuple(ControllerInput(f"in{p}", p, pulls[p]) for p in ins),
            outputs=tuple(ControllerOutput(f"out{p}", p, sides[p], TRUE) for p in outs),
        )
        self.wire(self.chain(draw.choice(self.hot), 2), f"{name}.1")
        self.wire(f"{name}.2", draw.choice(self.earths))
        for pin, pull in pulls.items():
            source = draw.choice(self.hot) if pull == "down" else draw.choice(self.earths)
            if draw.random() < 0.85:
                self.wire(self.chain(source, 2), f"{name}.{pin}")
        for pin, side in sides.items():
            (self.highs if side == "high side" else self.lows).append(f"{name}.{pin}")

    def load(self) -> tuple[str, str]:
        kind = self.draw.choice(["lamp", "lamp", "motor", "solenoid", "horn", "heater", "resistor"])
        letter = {"lamp": "H", "motor": "M", "solenoid": "Y"}.get(kind, "R")
        name = self.part(letter, kind)
        return f"{name}.1", f"{name}.2"

    def relay(self) -> None:
        change = self.draw.random() < 0.3
        pins = ("30", "85", "86", "87", "87a") if change else ("30", "85", "86", "87")
        name = self.part("K", "relay", pins)
        self.wire(self.chain(self.draw.choice(self.hot), 2), f"{name}.86")
        low = self.lows.pop() if self.lows and self.draw.random() < 0.6 else (
            self.draw.choice(self.earths))
        self.wire(f"{name}.85", low)
        self.wire(self.draw.choice(self.hot), f"{name}.30")
        self.hot.append(f"{name}.87")
        if change and self.draw.random() < 0.5:
            first, second = self.load()
            self.wire(f"{name}.87a", first)
            self.wire(second, self.draw.choice(self.earths))

    def path(self) -> None:
        start = self.highs.pop() if self.highs else self.draw.choice(self.hot)
        first, second = self.load()
        self.wire(self.chain(start, 3), first)
        end = self.lows.pop() if self.lows and self.draw.random() < 0.3 else (
            self.draw.choice(self.earths))
        if self.draw.random() < 0.3:
            second = self.through(second)
        self.wire(second, end)

    def odd(self) -> None:
        """Loose ends, parts alone, sensors between two pins, bridges between paths."""
        draw = self.draw
        what = draw.choice(["loose", "alone", "sensor", "bridge", "backfeed"])
        if what == "loose":
            self.wire(self.chain(draw.choice(self.hot), 2), None)
        elif what == "alone":
            self.load()
        elif what == "sensor" and len(self.highs) > 1:
            first, second = self.load()
            self.wire(self.highs.pop(), first)
            self.wire(second, self.highs.pop())
        elif what == "bridge":
            self.wire(self.chain(draw.choice(self.hot), 1), draw.choice(self.hot))
        elif self.highs and (free := self.free_inputs()):
            self.wire(self.highs.pop(), draw.choice(free))

    def free_inputs(self) -> list[str]:
        return [f"{p.id}.1" for p in self.parts.values() if p.kind == "controller"]

    def build(self) -> Circuit:
        main = self.part("F", "fuse")
        self.wire(self.hot[0], f"{main}.1")
        self.hot = [f"{main}.2"]
        while len(self.parts) < self.size:
            dice = self.draw.random()
            step = (self.controller if dice < 0.06 else self.relay if dice < 0.2
                    else self.odd if dice < 0.35 else self.path)
            step()
        return self.circuit()


def random_circuit(seed: int, size: int = 25) -> Circuit:
    """Return a random circuit of about `size` parts; the same for the same seed."""
    return _Vehicle(seed, size).build()
