"""Suspects, checks and readings in the words of the trade."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from loomwright.service.records import CheckLine, SuspectLine
from loomwright.units import format_predicted, format_quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loomwright.circuit.model import Circuit
    from loomwright.diagnosis.records import NextCheck, Suspect
    from loomwright.plant import Check, Repair

__all__ = [
    "check_line", "check_title", "element_words", "fault_words", "minutes_words", "percent",
    "predicted_words", "suspect_line", "suspect_name", "value_words",
]

WORTH_SAYING = 0.05  # below this share the likely resistance of a suspect is only the prior's
FINER_THAN_V = 4e-4  # a value that hundredths of a volt do not tell
OPEN_LINE_OHM = 1e7  # what OL on a meter stands for
FAULTS = {
    "open": "open circuit", "high-resistance": "high resistance",
    "short-to-earth": "shorted to earth", "short-to-supply": "shorted to supply",
    "blown": "blown", "stuck-open": "stays open", "stuck-closed": "stays closed",
    "coil-open": "coil open", "contact-open": "contact does not close",
    "welded": "contact welded", "burnt-out": "burnt out", "stuck": "stuck (mechanical)",
    "shorted": "shorted", "flat": "flat", "weak": "weak", "dead": "dead",
    "driver-dead": "output driver dead", "driver-stuck-on": "output driver stuck on",
    "input-dead": "always read as off", "input-stuck-on": "always read as on",
    "unmodelled": "something this circuit does not show",
}
TITLES = {
    "voltage": "Volts at {at}", "ac voltage": "AC volts at {at}", "current": "Amps in {at}",
    "resistance": "Ohms at {at}",
    "continuity": "Continuity at {at}", "lit": "Is {at} lit?", "running": "Is {at} working?",
    "heard": "What is heard at {at}?", "turns": "Does {at} turn by hand?",
    "input": "Controller reads {at}", "output": "Controller drives {at}",
}
CARE = {
    1: "Back-probe with care: no pin may be spread, no two pins bridged.",
    2: "Work on the loom itself: close it up again afterwards.",
}
CARE_BY_HAND = ("It can start by itself, and what it drives may fall or pull: battery disconnected "
                "before a hand goes in, and the maker's procedure first.")


def percent(share: float) -> str:
    """Return a probability that never claims certainty: '97 %', 'over 99 %'."""
    if share > 0.995:
        return "over 99 %"
    return "under 1 %" if share < 0.005 else f"{100 * share:.0f} %"


def minutes_words(minutes: float) -> str:
    """Return minutes as said: '8 min', '1.5 min', 'under 1 min'."""
    if 0 < minutes < 0.95:
        return "under 1 min"
    return f"{minutes:.0f} min" if minutes >= 3 else f"{minutes:.1f} min".replace(".0", "")


def predicted_words(check: Check, value: float | str | None) -> str:
    """Return what a reading should be: as `value_words`, no finer than a meter shows it."""
    if value is None or isinstance(value, str) or check.unit not in {"V", "A"}:
        return value_words(check, value)
    if check.unit == "V":
        return f"{value:.2f} V".replace("-0.00", "0.00")
    return format_predicted(value, check.unit)


def value_words(check: Check, value: float | str | None) -> str:
    """Return a reading with its unit: '11.90 V', '0.038 V', 'on', 'OL', 'nothing certain'.

    Millivolts that somebody read are not rounded away.
    """
    if value is None:
        return "nothing certain"
    if isinstance(value, str):
        return value
    if check.unit == "ohm" and value >= 0.99 * OPEN_LINE_OHM:
        return "OL"
    if check.unit == "V":
        fine = abs(value) < 1.0 and abs(value - round(value, 2)) > FINER_THAN_V
        return f"{value:.{3 if fine else 2}f} V".replace("-0.00 ", "0.00 ")
    return format_quantity(value, check.unit)


def fault_words(kind: str) -> str:
    """Return a kind of fault in words."""
    return " and ".join(FAULTS.get(one, one.replace("-", " ")) for one in kind.split("+"))


def element_words(circuit: Circuit, element: str) -> tuple[str, str]:
    """Return an element's name and where it is: ('Wire W20', 'X1.2a to ECU.11, YE')."""
    if "+" in element:
        names = [element_words(circuit, one)[0] for one in element.split("+")]
        return " and ".join(names), ""
    wire = circuit.wires.get(element)
    if wire is not None:
        end = wire.end.point if wire.end else "unknown"
        colour = f", {wire.colour}" if wire.colour else ""
        return f"Wire {element}", f"{wire.start.point} to {end}{colour}"
    owner, _, item = element.partition(".")
    part = circuit.parts.get(owner)
    if part is None:
        return element, ""
    kind = {"earth": "Earth point", "connector": "Plug"}.get(part.kind, part.kind.capitalize())
    detail = ", ".join(word for word in (part.label, part.place) if word)
    if not item:
        return f"{kind} {owner}", detail
    return f"{kind} {owner} {'way' if part.kind == 'connector' else ''} {item}".replace(
        "  ", " "), detail


def suspect_name(circuit: Circuit, suspect_id: str, element: str, kind: str) -> str:
    """Return a suspect in a few words: 'Wire W20 open circuit'."""
    return f"{element_words(circuit, element)[0]} {fault_words(kind)}" if element else suspect_id


def suspect_line(
    circuit: Circuit, repairs: Mapping[str, Repair], suspect: Suspect, rank: int
) -> SuspectLine:
    """Return a suspect as shown in a list."""
    from loomwright.diagnosis.wording import ohm_words

    name, detail = element_words(circuit, suspect.element)
    severity = ""
    cell = suspect.severity
    likely = suspect.probability > WORTH_SAYING
    if likely and cell is not None and cell.mid_ohm < 0.99 * OPEN_LINE_OHM:
        severity = f"about {ohm_words(cell.mid_ohm)} added"
    repair = repairs.get(suspect.repair)
    return SuspectLine(
        suspect.id, name, detail, fault_words(suspect.kind), suspect.probability,
        percent(suspect.probability), severity, repair.text if repair else suspect.repair,
        circuit.place_of(suspect.element), rank)


def check_title(circuit: Circuit, check: Check, negative: str) -> str:
    """Return what is read and where: 'Volts at X1.2b', 'Is Y1 (Lock valve) working?'."""
    if check.action:
        look = check_title(circuit, dataclasses.replace(check, to=""), negative)
        return f"{check.to.capitalize()[:1]}{check.to[1:]}: {look[:1].lower()}{look[1:]}"
    if check.to and check.to != negative:
        noun = {"voltage": "Volts", "ac voltage": "AC volts", "resistance": "Ohms",
                "continuity": "Continuity"}.get(
            check.quantity, check.quantity.capitalize())
        return f"{noun} between {check.at} and {check.to}"
    part = circuit.parts.get(check.at.split(".", 1)[0])
    label = f" ({part.label})" if part and part.label else ""
    return TITLES.get(check.quantity, check.quantity + " at {at}").format(at=check.at + label)


def check_line(circuit: Circuit, check: Check, negative: str, minutes: float) -> CheckLine:
    """Return a check as an instruction, still without what suspects would show."""
    return CheckLine(
        id=check.id, state=check.state, quantity=check.quantity, at=check.at, to=check.to,
        instrument=check.instrument, unit=check.unit, levels=check.levels,
        title=check_title(circuit, check, negative), set_up=_set_up(circuit, check),
        # the set-up says the state already
        how=check.text.removesuffix(f", state '{check.state}'"),
        place=check.place, minutes=minutes_words(minutes), care=_care(check))


def _care(check: Check) -> str:
    return CARE_BY_HAND if check.instrument == "hand" else CARE.get(check.risk, "")


def with_predictions(
    circuit: Circuit, line: CheckLine, found: NextCheck, suspects: Mapping[str, Suspect]
) -> CheckLine:
    """Return the line with what each leading suspect would show."""
    import dataclasses

    shown = tuple(
        (suspect_name(circuit, key, suspects[key].element, suspects[key].kind),
         predicted_words(found.check, value))
        for key, value in found.predicts.items() if key in suspects)
    return dataclasses.replace(line, predicts=shown)


def state_words(circuit: Circuit, state: str) -> str:
    """Return what a state sets, in the file's own words: 'ignition on, tailgate shut'.

    What is only there or not ('tailgate shut: yes') is said without its yes.
    """
    conditions = circuit.states.get(state, {})
    return ", ".join(name if value == "yes" else f"{name} {value}"
                     for name, value in conditions.items()) or "all off"


def _set_up(circuit: Circuit, check: Check) -> str:
    words = state_words(circuit, check.state)
    if check.setup == "isolated":
        return f"Isolate the circuit: battery disconnected. Switches: {words}."
    return f"Set the vehicle to '{check.state}': {words}."
