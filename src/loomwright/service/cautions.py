"""Short warnings by what the circuit holds. They never replace the vehicle maker's procedure.

The wording is common practice in workshops, from memory; no rule book is quoted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.service.records import Caution

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit

__all__ = ["cautions_for"]

HIGH_CURRENT_A = 30.0  # from here a short melts tools (assumed)
MAKER = "Follow the vehicle maker's procedure; it comes first."
RAISED = ("tailgate", "tipper", "tail lift", "body", "hopper", "crane", "deck")


def cautions_for(circuit: Circuit) -> tuple[Caution, ...]:
    """Return the cautions that a circuit calls for, the gravest first."""
    found = []
    words = " ".join([circuit.title.lower(), *(place.lower() for place in circuit.places)])
    kinds = {part.kind for part in circuit.parts.values()}
    labels = " ".join(part.label.lower() for part in circuit.parts.values())
    raised = next((word for word in RAISED if word in words), "")
    if raised:
        found.append(Caution(
            f"Raised {raised}",
            f"Prop or pin the {raised} before anybody reaches under or into it, and let the "
            f"hydraulics down. A reading may make it move: stand clear. {MAKER}"))
    if "airbag" in words + labels:
        found.append(Caution("Airbag", f"Do not measure on airbag circuits with a meter. {MAKER}"))
    if "starter" in kinds:
        found.append(Caution("Cranking", "Out of gear, brake on, nobody near belts, fans or "
                             f"the vehicle's path. {MAKER}"))
    if "battery" in kinds:
        volts = f"{circuit.system_v:g} V"
        found.append(Caution(
            f"{volts} battery",
            "Rings and watches off, no spanner from positive to metal. Disconnect negative "
            f"first, connect it last. {MAKER}"))
    return tuple(found)
