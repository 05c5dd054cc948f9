"""Lengths of wires that nobody measured, by the volts they lose under a known current."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit, Wire
    from loomwright.diagnosis.records import Evidence

__all__ = ["FoundLength", "lengths_by_drop", "unknown_lengths"]

_PROBE_V = 0.01  # contact and zero of two probes on one range; assumed
_LOAD_SHARE = 0.06  # by which a load's current may be off; the tolerance of loads, assumed
_CLAMP_A = 0.1  # what a clamp may be off; assumed
_ROUNDS = 4  # the current changes a little with the length
_NEAR = 0.5  # half the range as a share of the length beyond which nothing is concluded


@dataclass(frozen=True, slots=True)
class FoundLength:
    """What readings say of a wire's length [m]: None where nothing can be concluded.

    `least_m` and `most_m` hold 95 % of what readings of this fineness allow.
    """

    wire: str
    length_m: float | None
    least_m: float
    most_m: float
    text: str
    line_to_write: str = ""


def unknown_lengths(circuit: Circuit) -> tuple[str, ...]:
    """Return the wires of known ends whose length the file does not give, in file order."""
    return tuple(wire.id for wire in circuit.wires.values()
                 if wire.end is not None and "length_m" in wire.assumed)


def lengths_by_drop(circuit: Circuit, evidence: Sequence[Evidence]) -> tuple[FoundLength, ...]:
    """Return the lengths of wires across which a drop was read: ohms by amps, metres by ohms.

    Ohm's law with the resistance per metre of the wire's size; the amps are those that a clamp
    read round the wire in the same state, else those of the circuit as it should be. Wires without
    such a reading are left out. Valid for a circuit without a fault: a poor joint inside the wire
    reads as length.
    """
    found = []
    for name in unknown_lengths(circuit):
        taken = [one for one in evidence if _is_drop(one, circuit.wires[name])]
        if taken:
            found.append(_length(circuit, circuit.wires[name], taken[-1], evidence))
    return tuple(found)


def _ends(wire: Wire) -> tuple[str, str]:
    assert wire.end is not None
    return wire.start.point, wire.end.point


def _is_drop(one: Evidence, wire: Wire) -> bool:
    check = one.check
    return (check.quantity == "voltage" and not check.levels and not one.after
            and {check.at, check.to} == set(_ends(wire)))


def _length(circuit: Circuit, wire: Wire, drop: Evidence, evidence: Sequence[Evidence]
            ) -> FoundLength:
    """Return the length of one wire by the drop across it."""
    from loomwright.circuit import solve
    from loomwright.data.conductors import wire_ohm_per_m

    value = float(drop.value)
    volts = value if drop.check.at == wire.start.point else -value
    clamp = next((float(one.value) for one in reversed(evidence) if one.check.quantity == "current"
                  and one.check.at == wire.id and one.check.state == drop.check.state), None)
    per_m = wire_ohm_per_m(wire.area_mm2, circuit.temperature_c)
    length, amps = wire.length_m, clamp or 0.0
    for _ in range(_ROUNDS if clamp is None else 1):
        if clamp is None:
            tried = dataclasses.replace(wire, length_m=max(length, 0.01))
            as_is = dataclasses.replace(circuit, wires={**circuit.wires, wire.id: tried})
            amps = solve(as_is, drop.check.state).wires[wire.id]
        if volts * amps <= 0:
            return _none(wire, f"{value:g} V across it do not go with {amps:.2g} A through it")
        length = volts / amps / per_m
    volts_off = math.hypot(_PROBE_V, drop.check.resolution, drop.check.accuracy * volts)
    amps_off = _LOAD_SHARE if clamp is None else _CLAMP_A / abs(clamp)
    half = 2 * math.hypot(volts_off / abs(volts), amps_off)
    if half > _NEAR:
        return _none(wire, f"{abs(volts):.2g} V at {abs(amps):.2g} A are too little to tell; read "
                           "the drop while more current flows")
    if "area_mm2" in wire.assumed:
        return _none(wire, f"it has about {1000 * volts / amps:.0f} milliohm, but its area is not "
                           f"known either (as {wire.area_mm2:g} mm2 it would be {length:.1f} m)")
    least, most = length * (1 - half), length * (1 + half)
    colour = f", {wire.colour}" if wire.colour else ""
    return FoundLength(
        wire.id, length, least, most,
        f"{wire.id} is about {length:.1f} m long ({least:.1f} to {most:.1f} m).",
        f"- [{wire.id}, {', '.join(_ends(wire))}, {wire.area_mm2:g} mm2, {length:.1f} m{colour}]")


def _none(wire: Wire, why: str) -> FoundLength:
    return FoundLength(wire.id, None, 0.0, math.inf,
                       f"It cannot be concluded how long {wire.id} is: {why}.")
