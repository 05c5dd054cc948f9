"""Making a fault that comes and goes show itself: wiggle, heat or load, and look what happens."""

from __future__ import annotations

from collections.abc import Iterator

from loomwright.circuit.faults import UNLISTED
from loomwright.circuit.model import Circuit
from loomwright.errors import UnknownNameError, UsageError
from loomwright.plant import ACTIONS, Hypothesis

__all__ = ["coming_share", "known_action", "stir_minutes", "stirred_share", "stirs_of"]

# Share of the faults of a kind that come and go: contacts and chafed wires often, what is broken
# for good hardly (a filament or a winding may touch again); all assumed.
_LOOSE = frozenset({"open", "high-resistance", "stuck-open", "contact-open", "short-to-earth",
                    "short-to-supply", UNLISTED})
_WARM = frozenset({"coil-open", "contact-open", "driver-dead", "input-dead", "dead", "burnt-out",
                   "stuck", "reference-dead", "diode-open"})
_COMING_LOOSE, _COMING_WARM, _COMING_ELSE = 0.2, 0.1, 0.03
# Chance that an action brings such a fault back when done where it sits, and otherwise; assumed.
_WIGGLED, _HEATED, _LOADED, _HARDLY = 0.6, 0.5, 0.4, 0.05
_HEATED_KINDS = frozenset({"relay", "latching relay", "controller", "motor", "solenoid", "lamp",
                           "led lamp", "switch", "battery", "fuse"})
_MINUTES = {"wiggle": 0.7, "heat": 4.0, "load": 3.0}  # beside the look itself; assumed


def coming_share(row: Hypothesis) -> float:
    """Return the share of such faults that come and go (assumed)."""
    if row.kind in _LOOSE:
        return _COMING_LOOSE
    return _COMING_WARM if row.kind in _WARM else _COMING_ELSE


def stirs_of(circuit: Circuit) -> Iterator[str]:
    """Give the actions worth offering: `wiggle X1` and `heat K1` for every part, and `load`."""
    for part in circuit.parts.values():
        yield f"wiggle {part.id}"
        if part.kind in _HEATED_KINDS:
            yield f"heat {part.id}"
    yield "load"


def known_action(circuit: Circuit, text: str) -> tuple[str, str]:
    """Return the action of a look and the part it is done at ('' for load).

    Raises UsageError on another action, UnknownNameError on a part the circuit does not have.
    """
    action, _, at = text.partition(" ")
    if action not in ACTIONS or (action == "load") != (not at):
        raise UsageError(f"'{text}' is nothing that is done while looking.",
                         next_step="Write 'wiggle X1', 'heat K1' (with a part), or 'load'.")
    if at and at not in circuit.parts:
        raise UnknownNameError("part", at, circuit.parts)
    return action, at


def stir_minutes(text: str) -> float:
    """Return minutes of an action beside the look itself [min]."""
    return _MINUTES[text.partition(" ")[0]]


def stirred_share(circuit: Circuit, row: Hypothesis, text: str) -> float:
    """Return the chance that an action brings a fault back that is away just now (assumed)."""
    action, at = known_action(circuit, text)
    if action == "load":
        return _HARDLY if row.kind in _LOOSE and row.kind != "high-resistance" else _LOADED
    if at not in _near(circuit, row.element):
        return _HARDLY
    suits = _LOOSE if action == "wiggle" else _WARM
    return (_WIGGLED if action == "wiggle" else _HEATED) if row.kind in suits else _HARDLY


def _near(circuit: Circuit, element: str) -> tuple[str, ...]:
    """Return the parts at which an element is moved: itself, or both ends of a wire."""
    ends = element.split("~")
    if len(ends) > 1:  # something that is not in the drawing, between two points
        return tuple(end.split(".", 1)[0] for end in ends)
    wire = circuit.wires.get(element)
    if wire is None:
        return (element if element in circuit.parts else element.split(".", 1)[0],)
    return (wire.start.part, *([wire.end.part] if wire.end is not None else []))
