"""Short warnings by what the circuit holds. They never replace the vehicle maker's procedure.

The wording is common practice in workshops, from memory; no rule book is quoted.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from loomwright.service.records import Caution

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit

__all__ = ["cautions_for"]

MAKER = "Follow the vehicle maker's procedure; it comes first."
# The first of these in the title, a place or a label: what could come down on somebody.
RAISED = ("tipper", "tail lift", "tailgate", "hopper", "crane")
# Words of the title and labels, a title, and what to mind; the gravest first.
_BY_WORDS = (
    ("take-off|pto", "Turning shaft", "Engine off and key out before anybody works near the "
     "shaft: it turns when the clutch is fed."),
    ("blade|mower", "Blades", "They run on after the clutch is off. Key out and spark plug lead "
     "off before anybody reaches under."),
    ("winch", "Winch", "A loaded rope stores energy and the motor may start by itself. Stand "
     "clear, and isolate it first."),
    ("airbag|clock spring|seat plug|belt tensioner", "Airbag", "Do not measure on airbag or belt "
     "tensioner circuits with a meter."),
    ("inverter", "Mains voltage", "An inverter's output can kill; work on it is for people "
     "qualified for it."),
    ("fuel|lift pump", "Fuel", "Vapour burns. Air the place, keep sparks away and catch what runs "
     "out."),
    ("air conditioning|compressor|refrigerant", "Refrigerant", "It stands under pressure and is "
     "for people trained for it; the compressor starts by itself."),
    ("radiator fan|fan relay|wiper|window motor|door controller", "Starts by itself",
     "A reading or a repair may set it going. Keep hands and clothes away."),
    ("stop solenoid|run solenoid", "Engine may start", "It may start or stop while the solenoid is "
     "tried. Chock the wheels."),
    ("selector", "May roll", "The lever can leave park. Chock the wheels."),
    ("glow plug|heater grid|intake heater", "Hot parts", "They glow red and stay hot for minutes."),
    ("magneto", "Kill wire", "Never put battery volts on it: that ruins the ignition."),
    ("second battery|two batteries|upper battery", "Two batteries", "The circuit stays live with "
     "one of them off. Isolate both."),
)


def cautions_for(circuit: Circuit) -> tuple[Caution, ...]:
    """Return the cautions that a circuit calls for, the gravest first."""
    labels = [part.label for part in circuit.parts.values()]
    said = " / ".join([circuit.title, *labels]).lower()
    kinds = {part.kind for part in circuit.parts.values()}
    found = [_raised(word) for word in RAISED
             if word in " / ".join([said, *circuit.places]).lower()][:1]
    found += [Caution(title, f"{text} {MAKER}") for words, title, text in _BY_WORDS
              if re.search(rf"\b(?:{words})", said)]
    if "starter" in kinds or re.search(r"\bstarter(?! battery)", said):
        found.append(Caution("Cranking", "Out of gear, brake on, nobody near belts, fans or "
                             f"the vehicle's path. {MAKER}"))
    if kinds & {"alternator", "regulator rectifier"}:
        found.append(Caution("Running engine", "Belts and fan turn, exhaust and covers are hot. "
                             f"Never take a battery post off meanwhile. {MAKER}"))
    if "battery" in kinds:
        found.append(Caution(
            f"{circuit.system_v:g} V battery",
            "Rings and watches off, no spanner from positive to metal. Disconnect negative "
            f"first, connect it last. {MAKER}"))
    return tuple(found)


def _raised(what: str) -> Caution:
    return Caution(
        f"Raised {what}",
        f"Prop or pin the {what} before anybody reaches under or into it, and let the "
        f"hydraulics down. A reading may make it move: stand clear. {MAKER}")
