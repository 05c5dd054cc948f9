"""What the instruments on the bench can do: resolution, accuracy, levels and minutes per reading.

All numbers are assumed (a common hand-held meter and clamp, common practice); none is measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.errors import UnknownNameError, UsageError

__all__ = [
    "BUZZER_BELOW_OHM",
    "FLOATING_SPREAD_V",
    "INSTRUMENTS",
    "LAMPS",
    "LAMP_OHM",
    "LEAD_OHM",
    "LEAD_SPREAD_OHM",
    "LOAD_LAMP",
    "LOAD_LAMP_POWER",
    "OPEN_LINE_OHM",
    "PROBE_SPREAD_V",
    "Instrument",
    "instrument_for",
    "levels_for",
]

OPEN_LINE_OHM = 1e7  # what "OL" on the display stands for
BUZZER_BELOW_OHM = 30.0  # a continuity buzzer sounds below about this (assumed)
LEAD_OHM = 0.1  # resistance left in the leads when a reading was perhaps not zeroed (assumed) ...
LEAD_SPREAD_OHM = 0.1  # ... between about 0 and 0.3 ohm
# What a 10 Mohm meter picks up on a wire joined to nothing, and what contact and zero of the probes
# add to any voltage (assumed). Not far apart: 0.00 V alone must not tell "earthed" from "open".
FLOATING_SPREAD_V = 0.05
PROBE_SPREAD_V = 0.02
LAMP_OHM = 10.0  # test lamp (assumed: a small filament lamp, cold to warm)
LOAD_LAMP = "21 W lamp"  # an indicator bulb of the system's volts on two leads: a test under load
LOAD_LAMP_POWER = "21 W"
LAMPS = ("test lamp", LOAD_LAMP)

LIT = ("off", "dim", "on")
RUNNING = ("off", "slow", "on")
LISTED = ("off", "on", "no answer")  # a controller without supply lists nothing
CONTINUITY = ("open", "closed")
HEARD = ("silent", "click", "chatter")  # as the state is set
TURNS = ("free", "stiff", "stuck")


@dataclass(frozen=True, slots=True)
class Instrument:
    """One way to take a quantity: display step, share of value, minutes of a reading, unit."""

    name: str
    unit: str
    minutes: float
    resolution: float = 0.0
    accuracy: float = 0.0


# quantity -> instruments that can take it, the usual one first
INSTRUMENTS: Mapping[str, tuple[Instrument, ...]] = {
    "voltage": (
        Instrument("meter", "V", 1.0, 0.01, 0.005),
        Instrument("test lamp", "", 1.0),
        Instrument(LOAD_LAMP, "", 1.5),
    ),
    "current": (
        Instrument("clamp", "A", 1.0, 0.1, 0.02),
        Instrument("meter", "A", 3.0, 0.01, 0.01),  # the wire is opened and the meter put in
    ),
    "ac voltage": (Instrument("meter", "V", 3.0, 0.1, 0.02),),  # the stator's plug is pulled
    "resistance": (Instrument("meter", "ohm", 2.0, 0.1, 0.01),),
    "continuity": (Instrument("meter", "", 1.5),),
    "lit": (Instrument("eye", "", 0.3),),
    "running": (Instrument("eye", "", 0.3),),
    "heard": (Instrument("ear", "", 0.5),),  # somebody else sets the state, or a finger on it
    "turns": (Instrument("hand", "", 1.0),),  # on what the motor drives, its supply off
    "input": (Instrument("controller", "", 0.5),),
    "output": (Instrument("controller", "", 0.5),),
}
# Words people use for the same instrument where the readings file says "meter" by default.
_ANY = {"", "meter"}


def instrument_for(quantity: str, name: str) -> Instrument:
    """Return the instrument that takes a quantity; 'meter' or '' means the usual one.

    Raises
        UnknownNameError: no such quantity
        UsageError: this instrument cannot take it
    """
    known = INSTRUMENTS.get(quantity)
    if known is None:
        raise UnknownNameError("quantity", quantity, INSTRUMENTS)
    for instrument in known:
        if instrument.name == name:
            return instrument
    if name in _ANY:
        return known[0]
    raise UsageError(
        f"A {quantity} reading cannot be taken with '{name}'.",
        next_step=f"Use {' or '.join(one.name for one in known)}.",
    )


def levels_for(quantity: str, instrument: str) -> tuple[str, ...]:
    """Return the levels of a category reading; () where the reading is a number."""
    if quantity == "voltage":
        return LIT if instrument in LAMPS else ()
    return {
        "lit": LIT, "running": RUNNING, "input": LISTED, "output": LISTED,
        "continuity": CONTINUITY, "heard": HEARD, "turns": TURNS,
    }.get(quantity, ())
