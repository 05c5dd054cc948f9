"""From the names in a circuit to the points a probe goes to."""

from __future__ import annotations

from collections.abc import Iterator

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import BODY, OUT, Circuit, ControllerInput, ControllerOutput, Part
from loomwright.errors import UnknownNameError, UsageError

__all__ = [
    "base_state",
    "battery_negative",
    "controller_items",
    "ends_of",
    "fuses_out",
    "heard_parts",
    "is_body",
    "is_protection",
    "known_point",
    "load_quantity",
    "loads",
    "nearest_earth",
    "point_text",
    "series_pairs",
    "turned_parts",
]

_RELAY_PAIRS = (("30", "87"), ("30", "87a"), ("86", "85"))


def battery_negative(circuit: Circuit) -> str:
    """Return the reference point of all volts: the first battery's negative post."""
    for part in circuit.parts.values():
        if part.kind == "battery":
            return f"{part.id}.-"
    raise UsageError("The circuit has no battery.", next_step="Add a part of kind battery.")


def base_state(circuit: Circuit) -> str:
    """Return the state that sets the fewest conditions: the circuit as it stands."""
    return min(circuit.states, key=lambda state: len(circuit.states[state]))


def fuses_out(circuit: Circuit, state: str) -> tuple[str, ...]:
    """Return the fuses that a state has pulled."""
    return tuple(word for word, value in circuit.states[state].items()
                 if value == OUT and is_protection(circuit, word))


def is_protection(circuit: Circuit, name: str) -> bool:
    """Return whether a name is that of a fuse, fusible link or breaker."""
    part = circuit.parts.get(name)
    return part is not None and KINDS[part.kind].opens_above is not None


def is_body(circuit: Circuit, name: str) -> bool:
    """Return whether a name means the body's metal: no part has it, and earth points join it."""
    return name.lower() == BODY and name not in circuit.parts and any(
        part.kind == "earth" for part in circuit.parts.values())


def known_point(circuit: Circuit, name: str) -> str:
    """Return a point's name when it exists, UnknownNameError otherwise.

    `body`, in any letters, is the vehicle's metal where the circuit has an earth point.
    """
    if is_body(circuit, name):
        return BODY
    part = circuit.parts.get(name.split(".", 1)[0])
    if part is None or name not in part.points():
        raise UnknownNameError("point", name, circuit.points())
    return name


def ends_of(circuit: Circuit, element: str) -> tuple[str, str] | None:
    """Return the two points on either side of a wire, two-pin part, coil or connector way.

    None where the name is no such element. A wire to an unknown place raises UsageError.
    """
    wire = circuit.wires.get(element)
    if wire is not None:
        if wire.end is None:
            raise UsageError(f"{element} ends at an unknown place.", next_step="Name two points.")
        return wire.start.point, wire.end.point
    part = circuit.parts.get(element)
    if part is None:
        return _way(circuit, element)
    if part.kind == "earth":
        return element, battery_negative(circuit)
    if part.kind == "relay":
        return f"{element}.86", f"{element}.85"
    points = part.points()
    return (points[0], points[1]) if len(points) == 2 else None


def _way(circuit: Circuit, element: str) -> tuple[str, str] | None:
    """Return the mating halves of a connector way such as `X1.3`."""
    owner, _, way = element.partition(".")
    part = circuit.parts.get(owner)
    if part is None or part.kind != "connector" or f"{way}a" not in part.pins:
        return None
    return f"{element}a", f"{element}b"


def series_pairs(circuit: Circuit) -> Iterator[tuple[str, str, str]]:
    """Give every element with the two adjacent points current flows through, in file order."""
    for wire in circuit.wires.values():
        if wire.end is not None:
            yield wire.id, wire.start.point, wire.end.point
    for part in circuit.parts.values():
        yield from _part_pairs(circuit, part)


def _part_pairs(circuit: Circuit, part: Part) -> Iterator[tuple[str, str, str]]:
    if part.kind == "relay":
        for first, second in _RELAY_PAIRS:
            if first in part.pins and second in part.pins:
                yield part.id, f"{part.id}.{first}", f"{part.id}.{second}"
    elif part.kind == "connector":
        for pin in part.pins:
            if pin.endswith("a") and f"{pin[:-1]}b" in part.pins:
                yield f"{part.id}.{pin[:-1]}", f"{part.id}.{pin}", f"{part.id}.{pin[:-1]}b"
    elif part.kind == "earth":
        yield part.id, part.id, battery_negative(circuit)
    elif len(part.pins) == 2:
        first, second = part.points()
        yield part.id, first, second
    else:
        for first, second in KINDS[part.kind].metered(part):
            yield part.id, f"{part.id}.{first}", f"{part.id}.{second}"


def load_quantity(kind: str) -> str | None:
    """Return what a part's work is seen as, lit or running; None where nothing can be seen."""
    if kind == "relay":
        return "running"  # heard and felt
    if not KINDS[kind].load:
        return None
    return "lit" if "lamp" in kind else "running"


def loads(circuit: Circuit) -> Iterator[tuple[Part, str]]:
    """Give every part whose work can be seen or heard, with the quantity it is seen as."""
    for part in circuit.parts.values():
        quantity = load_quantity(part.kind)
        if quantity is not None:
            yield part, quantity


def heard_parts(circuit: Circuit) -> Iterator[tuple[Part, bool]]:
    """Give every part that clicks, and whether by a plunger that moves contacts.

    Of the others (a solenoid) hearing tells nothing that looking does not.
    """
    for part in circuit.parts.values():
        if KINDS[part.kind].strikes:
            yield part, bool(KINDS[part.kind].plungers(part))


def turned_parts(circuit: Circuit) -> Iterator[Part]:
    """Give every motor that a hand can turn, by what it drives."""
    for part in circuit.parts.values():
        if KINDS[part.kind].turns and part.params.get("turned_by_hand", True):
            yield part


def controller_items(circuit: Circuit) -> Iterator[tuple[Part, str, str]]:
    """Give every controller input and output: controller, 'input' or 'output', its id."""
    for part in circuit.parts.values():
        for key in ("inputs", "outputs"):
            items = part.params.get(key)
            for item in items if isinstance(items, tuple) else ():
                if isinstance(item, ControllerInput | ControllerOutput):
                    yield part, key[:-1], item.id


def nearest_earth(circuit: Circuit, point: str) -> str:
    """Return the earth point in the same place, or the battery negative post."""
    place = circuit.place_of(point)
    for part in circuit.parts.values():
        if part.kind == "earth" and part.place == place:
            return part.id
    return battery_negative(circuit)


def point_text(circuit: Circuit, point: str) -> str:
    """Return a point in words: `ECU.12 (Body controller)`."""
    part = circuit.parts.get(point.split(".", 1)[0])
    return f"{point} ({part.label})" if part is not None and part.label else point
