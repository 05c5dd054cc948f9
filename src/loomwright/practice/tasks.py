"""The tasks of the trade that practice can show, and which of them an exercise showed.

The wording is our own; what a licence or a provider asks for is for the supervisor to say.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from loomwright.circuit.model import Circuit
from loomwright.plant import Check
from loomwright.practice.attempt import Attempt

__all__ = ["TASKS", "Seen", "Task", "shown_tasks"]

ENOUGH_BELIEF = 0.95
ENOUGH_PREDICTED = 3


@dataclass(frozen=True, slots=True)
class Task:
    """One task: what a person does, and where a screen can only show part of it, what is left."""

    id: str
    group: str
    text: str
    left: str = "on a vehicle, under supervision"


TASKS: tuple[Task, ...] = (
    Task("complaint", "Fault finding", "Start from the complaint and see it for oneself"),
    Task("diagram", "Fault finding", "Read a diagram: say what each point should show before "
         "measuring it"),
    Task("break", "Fault finding", "Find a break in a circuit"),
    Task("resistance", "Fault finding", "Find a high resistance"),
    Task("short", "Fault finding", "Find a short to earth, to supply or inside a part"),
    Task("drop", "Fault finding", "Measure volts lost across one stretch under load, feed or "
         "earth side"),
    Task("protection", "Fault finding", "Test fuses, links, breakers, relays and diodes",
         "on the parts themselves"),
    Task("earth", "Fault finding", "Find a bad earth or connector", "clean, crimp and seal it"),
    Task("current", "Fault finding", "Find with a clamp where current flows", "zero a real clamp"),
    Task("cold", "Fault finding", "Measure resistance or continuity on an isolated circuit",
         "isolate and prove it dead"),
    Task("evidence", "Fault finding", "Name a repair only when readings have shown it"),
    Task("battery", "Batteries", "Find a weak or flat battery", "load test and charge one"),
    Task("start", "Starting and charging", "Trace the control circuit of a starter, pre-heating "
         "or charging", "crank under load with the maker's cautions"),
    Task("lighting", "Lighting and body", "Trace lamps, indicators and their switches",
         "aim and legality"),
    Task("body", "Lighting and body", "Trace horn, wipers, windows, locks and heating"),
    Task("sensor", "Sensors and engine", "Trace a sensor, sender or engine actuator circuit",
         "read the curve of a real one"),
    Task("controller", "Controllers", "Tell from the controller's list whether input, output or "
         "controller is at fault", "with the vehicle's own software"),
    Task("interlock", "Safety", "Trace an interlock without bridging it",
         "prove every condition on the machine"),
    Task("trailer", "Installations", "Trace a trailer plug or a bodybuilder's circuit"),
    Task("supply", "Installations", "Trace an added load, a second battery or an inverter feed"),
)

_BY_GROUP = {
    "Starting and charging": "start", "Lighting": "lighting", "Body": "body",
    "Cab climate": "body", "Sensors": "sensor", "Engine": "sensor", "Interlocks": "interlock",
    "Trailer": "trailer", "Bodywork": "trailer", "Second battery": "supply",
    "Heavy loads": "supply", "Accessories": "supply",
}
_BY_KIND = {
    "open": "break", "burnt-out": "break", "coil-open": "break", "contact-open": "break",
    "high-resistance": "resistance", "short-to-earth": "short", "short-to-supply": "short",
    "shorted": "short", "weak": "battery", "flat": "battery",
}
_PROTECTION = {"fuse", "fusible link", "circuit breaker", "relay", "diode"}
_JOINTS = {"earth", "connector", "splice"}
_BY_QUANTITY = {"current": "current", "resistance": "cold", "continuity": "cold"}


@dataclass(frozen=True, slots=True)
class Seen:
    """What the tasks are told from: the circuit, its group, belief in the repair, predictions."""

    circuit: Circuit
    group: str
    belief: float
    predicted_right: int


def shown_tasks(attempt: Attempt, seen: Seen) -> tuple[str, ...]:
    """Return the ids of the tasks that an ended attempt showed; none where the repair was wrong."""
    if attempt.repair != attempt.exercise.fault.repair:
        return ()
    fault = attempt.exercise.fault
    part = seen.circuit.parts.get(fault.element.partition(".")[0])
    kind = part.kind if part else ""
    found = {_BY_KIND.get(fault.kind, ""), _BY_GROUP.get(seen.group, "")}
    found |= {"protection"} if kind in _PROTECTION else set()
    found |= {"earth"} if kind in _JOINTS else set()
    found |= {"controller"} if kind == "controller" else set()
    found |= set(_from_readings(attempt))
    found |= {"evidence"} if seen.belief >= ENOUGH_BELIEF else set()
    found |= {"diagram"} if seen.predicted_right >= ENOUGH_PREDICTED else set()
    return tuple(task.id for task in TASKS if task.id in found)


def _from_readings(attempt: Attempt) -> Iterable[str]:
    """Give the tasks that the readings taken belong to."""
    complained = {item.check.id for item in attempt.exercise.complaint}
    for taken in attempt.taken:
        check = taken.check
        yield _BY_QUANTITY.get(check.quantity, "")
        if check.id in complained:
            yield "complaint"
        if check.quantity == "voltage" and not _to_battery(check):
            yield "drop"


def _to_battery(check: Check) -> bool:
    return not check.to or check.to.endswith(".-")
