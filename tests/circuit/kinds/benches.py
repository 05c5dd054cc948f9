"""Small circuits around one part of each kind, for tests of its law and its faults."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from loomwright.circuit import faults_of, solve_all
from loomwright.circuit.batch import Variant, solve_isolated
from loomwright.circuit.model import Circuit, StateResult
from tests.support.demo import small

STIFF = "BAT: {kind: battery, volts: %s V, resistance: 1e-6 ohm}"
LEAD = "400 mm2, 1 mm"  # a wire of some 50 nanohm


@dataclass(frozen=True)
class Look:
    """All that a technician could see of a circuit: volts, amps, doings, notes and ohms."""

    volts: dict[tuple[str, str], float]
    amps: dict[tuple[str, str], float]
    words: tuple[object, ...]
    ohms: dict[tuple[str, str], float]


def bench(volts: float, parts: str, wires: str, states: str = "here: {}") -> Circuit:
    """Return a circuit on a stiff battery with wires of almost no resistance."""
    rows = "\n".join(f"{line.strip()}, {LEAD}" for line in wires.strip().splitlines())
    system = "24 V" if volts > 18 else "12 V"
    return small(f"{STIFF % volts}\n{parts}", rows, states, system)


def look(circuit: Circuit, part: str) -> Look:
    """Return what every state shows, and the ohms between the part's pins with all isolated."""
    results = solve_all(circuit)
    points = circuit.parts[part].points()
    pairs = list(itertools.combinations(points, 2))
    ohms = solve_isolated(circuit, (Variant(),), pairs)[:, 0]
    return Look(
        {(s, p): r.volts for s, found in results.items() for p, r in found.points.items()},
        {(s, w): a for s, found in results.items() for w, a in found.wires.items()},
        tuple(_words(found) for found in results.values()),
        {pair: float(ohm) for pair, ohm in zip(pairs, ohms, strict=True)},
    )


def _words(found: StateResult) -> tuple[object, ...]:
    doing = tuple((name, reading.doing) for name, reading in found.parts.items())
    return doing, str(found.inputs), found.notes


def visible(before: Look, after: Look) -> set[str]:
    """Return by what a fault shows: volts (0.1 V), amps (20 mA), words, ohms (5 %)."""
    shows = set()
    if any(abs(after.volts[k] - v) > 0.1 for k, v in before.volts.items()):
        shows.add("volts")
    if any(abs(after.amps[k] - a) > 0.02 for k, a in before.amps.items()):
        shows.add("amps")
    if before.words != after.words:
        shows.add("words")
    if any(abs(after.ohms[k] - ohm) > 0.05 * ohm for k, ohm in before.ohms.items()):
        shows.add("ohms")
    return shows


def fault_shows(circuit: Circuit, part: str) -> dict[str, set[str]]:
    """Return, for every fault of a part, by what it shows."""
    before = look(circuit, part)
    found = {}
    for fault in faults_of(circuit):
        if fault.element.split(".")[0] == part:
            found[fault.id] = visible(before, look(circuit.with_faults([fault]), part))
    return found
