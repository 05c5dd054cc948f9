"""Random linear and curved circuits, and two other ways to solve them: dense numpy and ngspice."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np

from loomwright.circuit.exchange import node_names, spice_text
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Part, Wire, WireEnd
from loomwright.circuit.network import network_of
from tests.support.ngspice import node_volts

Resistor = tuple[str, str, float]
Source = tuple[str, str, float, float]  # minus, plus, volts, ohm


class _Builder:
    """Collects parts and wires between splices N0, N1 ..."""

    def __init__(self, dice: random.Random) -> None:
        self.dice = dice
        self.parts: dict[str, Part] = {}
        self.wires: dict[str, Wire] = {}

    def part(self, name: str, kind: str, **keys: str) -> None:
        """Add a part from its keys in a circuit file."""
        known = KINDS[kind]
        model = known.model.model_validate({"kind": kind, **keys})
        values, assumed = known.values(model, 12.0)
        self.parts[name] = Part(name, kind, known.pins(model), values, assumed)

    def between(self, name: str, pins: tuple[str, str], nodes: tuple[int, int]) -> None:
        """Wire a part's two pins to two splices."""
        for pin, node in zip(pins, nodes, strict=True):
            wire = f"W{len(self.wires)}"
            self.wires[wire] = Wire(wire, WireEnd(name, pin), WireEnd(f"N{node}", ""),
                                    self.dice.choice([0.5, 1, 2.5, 6, 16]),
                                    self.dice.uniform(0.1, 9))

    def battery(self, name: str, nodes: tuple[int, int], most_ohm: float) -> None:
        """Add a battery with its resistance."""
        self.part(name, "battery", volts=f"{self.dice.uniform(1, 30):.3f} V",
                  resistance=f"{self.dice.uniform(0.001, most_ohm):.4f} ohm")
        self.between(name, ("-", "+"), nodes)


def random_circuit(seed: int) -> Circuit:
    """Return a circuit of batteries and resistors on a connected graph of splices."""
    dice = random.Random(seed)
    built, count = _Builder(dice), dice.randint(3, 12)
    built.battery("BAT", (0, 1), 0.5)
    for number in range(count):
        built.part(f"N{number}", "splice")
    # a tree first, so that no part is left hanging in the air
    pairs = [(n, dice.randrange(n)) for n in range(1, count)]
    for _ in range(dice.randint(1, 2 * count)):
        a, b = dice.sample(range(count), 2)
        pairs.append((a, b))
    for number, nodes in enumerate(pairs):
        if dice.random() < 0.15:
            built.battery(f"B{number}", nodes, 2.0)
        else:
            ohm = 10 ** dice.uniform(-2, 4)
            built.part(f"R{number}", "resistor", resistance=f"{ohm:.6g} ohm")
            built.between(f"R{number}", ("1", "2"), nodes)
    return Circuit("Random", 12.0, {}, built.parts, built.wires, {"here": {}})


_CURVED: tuple[tuple[str, dict[str, str]], ...] = (
    ("lamp", {"power": "21 W"}), ("lamp", {"power": "5 W"}), ("led lamp", {}),
    ("motor", {"current": "3 A"}), ("solenoid", {"resistance": "30 ohm"}),
    ("heater", {"power": "40 W"}),
)


def curved_circuit(seed: int) -> Circuit:
    """Return lamps, light diodes, motors and relays behind fuses and switches, in two states."""
    dice = random.Random(seed)
    built = _Builder(dice)
    wires = built.wires

    def wire(start: str, end: str, area: float = 1.0) -> None:
        name = f"W{len(wires)}"
        ends = [WireEnd(*(one.partition(".")[::2])) for one in (start, end)]
        wires[name] = Wire(name, ends[0], ends[1], area, dice.uniform(0.3, 5))

    built.part("BAT", "battery", resistance=f"{dice.uniform(0.005, 0.05):.4f} ohm")
    earths = [f"E{n}" for n in range(dice.randint(1, 2))]
    for earth in earths:
        built.part(earth, "earth")
    feeds = []
    for number in range(dice.randint(1, 3)):
        built.part(f"F{number}", "fuse", rating=f"{dice.choice([10, 20])} A")
        built.part(f"SP{number}", "splice")
        wire("BAT.+", f"F{number}.1", 6.0)
        wire(f"F{number}.2", f"SP{number}", 2.5)
        feeds.append(f"SP{number}")
    words = []
    for number in range(dice.randint(3, 7)):
        words.append(f"word {number}")
        built.part(f"S{number}", "switch", **{"closed when": words[-1]})
        wire(dice.choice(feeds), f"S{number}.1")
        kind, keys = dice.choice(_CURVED)
        built.part(f"L{number}", kind, **keys)
        wire(f"L{number}.2", dice.choice(earths))
        if dice.random() < 0.4:
            built.part(f"K{number}", "relay")
            wire(f"S{number}.2", f"K{number}.86")
            wire(f"K{number}.85", dice.choice(earths))
            wire(dice.choice(feeds), f"K{number}.30")
            wire(f"K{number}.87", f"L{number}.1")
        else:
            wire(f"S{number}.2", f"L{number}.1")
    states = {"all on": dict.fromkeys(words, "yes"),
              "some on": {word: dice.choice(["yes", "no"]) for word in words}}
    return Circuit("Curved", 12.0, {}, built.parts, built.wires, states)


def elements(circuit: Circuit) -> tuple[list[Resistor], list[Source], str]:
    """Return the resistors and sources of a linear circuit, and its reference point."""
    resistors: list[Resistor] = []
    sources: list[Source] = []
    for branch in network_of(circuit).branches:
        if branch.emf:
            sources.append((branch.a, branch.b, branch.emf, branch.ohm))
        else:
            resistors.append((branch.a, branch.b, branch.ohm))
    return resistors, sources, "BAT.-"


def dense_volts(circuit: Circuit) -> dict[str, float]:
    """Return the volts of all points by modified nodal analysis with every source a row."""
    resistors, sources, reference = elements(circuit)
    names = sorted({p for r in resistors for p in r[:2]} | {p for s in sources for p in s[:2]})
    number = {name: i for i, name in enumerate(n for n in names if n != reference)}
    size = len(number) + len(sources)
    matrix, right = np.zeros((size, size)), np.zeros(size)
    for a, b, ohm in resistors:
        for one, other in ((a, b), (b, a)):
            if one in number:
                matrix[number[one], number[one]] += 1 / ohm
                if other in number:
                    matrix[number[one], number[other]] -= 1 / ohm
    for row, (minus, plus, volts, ohm) in enumerate(sources, start=len(number)):
        for name, sign in ((plus, 1.0), (minus, -1.0)):
            if name in number:
                matrix[row, number[name]] += sign
                matrix[number[name], row] -= sign
        matrix[row, row] = ohm
        right[row] = volts
    solved = np.linalg.solve(matrix, right)
    return {reference: 0.0, **{name: float(solved[i]) for name, i in number.items()}}


def spice_volts(circuit: Circuit, ngspice: str, folder: Path) -> dict[str, float]:
    """Return the volts of all nodes as the outside simulator ngspice finds them."""
    (volts,) = node_volts([spice_text(circuit, "here")], ngspice, folder)
    return {name: 0.0 if node == "0" else volts[node]
            for name, node in node_names(circuit).items()}
