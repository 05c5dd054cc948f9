"""Faults of a circuit: which there are, how they are named, and how each acts on the network."""

from __future__ import annotations

from collections.abc import Iterator

from loomwright.circuit.branches import FaultMode, Override
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.controller import inputs_of, outputs_of
from loomwright.circuit.model import Circuit, Fault, Part, Wire
from loomwright.errors import QuantityError, UnknownNameError
from loomwright.units import parse_quantity

__all__ = ["ENDS_AT", "OHMS_TIMES", "SHORT_OHM", "UNLISTED", "WIRE_OHM", "faults_of",
           "overrides_of", "parse_fault"]

WIRE_OHM = 1.0  # a high-resistance wire named without a value; assumed
SHORT_OHM = 0.05  # a short to the body or to the supply; assumed
UNLISTED = "unlisted"  # a load or joint that the file does not list, between two points `A~B`

# Prior weights of a wire and its two joints; all assumed.
_WIRE_MODES: tuple[tuple[str, float, float | None], ...] = (
    ("open", 0.03, None),
    ("high-resistance", 0.03, WIRE_OHM),
    ("short-to-earth", 0.01, SHORT_OHM),
    ("short-to-supply", 0.002, SHORT_OHM),
)

_OHMS_OF_WIRE = {kind: ohms for kind, _, ohms in _WIRE_MODES}

# No faults, and not among `faults_of`: what a circuit that is partly known may be. A loose end
# joined to a point (element `W7>S1.2`, ohms of the wire), and a wire of another length (a factor).
ENDS_AT = "ends-at"
OHMS_TIMES = "ohms-times"

# Shorts of a point: not among `faults_of`, where a wire's short stands for those of its ends.
_POINT_ACTS = {"short-to-earth": "earth", "short-to-supply": "supply"}


def faults_of(circuit: Circuit) -> tuple[Fault, ...]:
    """Return every single fault the circuit can have, wires first; weights are assumed.

    A continuum (high resistance) is listed once, without its ohms.
    """
    return (*_wire_faults(circuit), *_part_faults(circuit))


def _wire_faults(circuit: Circuit) -> Iterator[Fault]:
    for wire in circuit.wires.values():
        for kind, prior, _ in _WIRE_MODES:
            if wire.end is not None or kind.startswith("short"):
                yield Fault(f"{kind}:{wire.id}", wire.id, kind, None, prior, f"mend {wire.id}")


def _items(part: Part, mode: FaultMode) -> tuple[str, ...]:
    """Return the items of a part that a fault can be of ('' is the part itself)."""
    if mode.items == "inputs":
        return tuple(item.id for item in inputs_of(part))
    if mode.items == "outputs":
        return tuple(item.id for item in outputs_of(part))
    if mode.items:
        found = part.params.get(mode.items, ())
        assert isinstance(found, tuple)
        return tuple(item if isinstance(item, str) else item.id for item in found)
    return ("",)


def _part_faults(circuit: Circuit) -> Iterator[Fault]:
    for part in circuit.parts.values():
        for mode in KINDS[part.kind].fault_modes:
            for item in _items(part, mode):
                element = f"{part.id}.{item}" if item else part.id
                # a way of a connector is cleaned by itself; a controller is replaced whole
                repaired = element if mode.items == "ways" else part.id
                yield Fault(f"{mode.kind}:{element}", element, mode.kind, None, mode.prior,
                            f"{mode.repair} {repaired}", mode.source)


def parse_fault(circuit: Circuit, fault_id: str) -> Fault:
    """Return the fault of an id such as `open:W7` or `high-resistance:W7:0.8` (ohms).

    Raises
        UnknownNameError: no such fault, or a resistance on a fault that has none
        QuantityError: the resistance is not a number of ohms greater than 0
    """
    known = {fault.id: fault for fault in faults_of(circuit)}
    if fault_id in known:
        return known[fault_id]
    plain, _, text = fault_id.rpartition(":")
    fault = known.get(plain)
    if fault is None or _default_ohms(circuit, fault) is None:
        raise UnknownNameError("fault", fault_id, known)
    ohms = _ohms(text)
    return Fault(fault_id, fault.element, fault.kind, ohms, fault.prior, fault.repair,
                 fault.source)


def _ohms(text: str) -> float:
    """Return ohms typed as a plain number, or with a unit."""
    try:
        ohms = float(text.replace(",", "."))
    except ValueError:
        ohms = parse_quantity(text, "ohm")
    if not 0 < ohms <= 1e9:
        raise QuantityError(f"'{text}' ohm is not between 0 and 1e9 ohm.",
                            next_step="Give the resistance like 0.8.")
    return ohms


def _mode(circuit: Circuit, fault: Fault) -> tuple[Part, str, FaultMode] | None:
    """Return the part, item and mode a fault is of, or None where there is none."""
    part, item = circuit.parts.get(fault.element), ""
    if part is None:
        name, _, item = fault.element.rpartition(".")
        part = circuit.parts.get(name)
    if part is None:
        return None
    for mode in KINDS[part.kind].fault_modes:
        if mode.kind == fault.kind and bool(mode.items) == bool(item):
            return part, item, mode
    return None


def _default_ohms(circuit: Circuit, fault: Fault) -> float | None:
    """Return the ohms meant when none are given; None for a fault without a resistance."""
    if fault.element in circuit.wires:
        return _OHMS_OF_WIRE.get(fault.kind)
    found = _mode(circuit, fault)
    return found[2].ohms if found else None


def overrides_of(circuit: Circuit, fault: Fault) -> tuple[Override, ...]:
    """Return what a fault does to the network.

    Raises
        UnknownNameError: the circuit has no such element or the element no such fault
    """
    if fault.kind == UNLISTED:
        return (Override(fault.element, "link", fault.ohms or WIRE_OHM),)
    if fault.kind == ENDS_AT:
        return (Override(fault.element, "join", fault.ohms or 0.0),)
    wire = circuit.wires.get(fault.element)
    if wire is not None and fault.kind == OHMS_TIMES:
        return (Override(wire.id, "scale", fault.ohms or 1.0),)
    if wire is not None and fault.kind in _OHMS_OF_WIRE:
        return _wire_overrides(circuit, wire, fault)
    found = _mode(circuit, fault)
    if found is None and (act := _bridge(circuit, fault)) is not None:
        return (act,)
    if found is None:
        raise UnknownNameError("fault", fault.id, [known.id for known in faults_of(circuit)])
    part, item, mode = found
    ohms = fault.ohms if fault.ohms is not None else mode.ohms
    return mode.acts(part, item, ohms or 0.0)


def _bridge(circuit: Circuit, fault: Fault) -> Override | None:
    """Return what a short of a point, or across a load without such a mode, does; else None.

    These are not among `faults_of`: a survey of everything that could happen names them itself.
    """
    part = circuit.parts.get(fault.element.partition(".")[0])
    ohms = fault.ohms or SHORT_OHM
    if part is None:
        return None
    if fault.kind in _POINT_ACTS and fault.element in part.points():
        return Override(fault.element, _POINT_ACTS[fault.kind], ohms)
    if fault.kind == "shorted" and fault.element == part.id and KINDS[part.kind].load:
        return Override(part.id, "shunt", ohms)
    return None


def _wire_overrides(circuit: Circuit, wire: Wire, fault: Fault) -> tuple[Override, ...]:
    ohms = fault.ohms if fault.ohms is not None else _default_ohms(circuit, fault)
    acts = {"open": "open", "high-resistance": "add", "short-to-earth": "earth",
            "short-to-supply": "supply"}
    return (Override(wire.id, acts[fault.kind], ohms or 0.0),)
