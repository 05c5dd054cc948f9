"""The tasks of the trade that practice can show, and which of them an exercise showed.

They are the table `practice_tasks`: common practice of the trade in our own words. Some of them no
exercise can show; what a licence or a provider asks for is for the supervisor to say.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from loomwright.circuit.model import Circuit
from loomwright.data import table
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
    left: str


def _tasks() -> tuple[Task, ...]:
    return tuple(Task(row["id"], row["group"], row["text"], row["left"])
                 for row in table("practice_tasks").rows)


TASKS: tuple[Task, ...] = _tasks()

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
_BY_QUANTITY = {"resistance": "cold", "continuity": "cold"}
_CHARGING = {"alternator", "regulator rectifier", "stator"}
_BUS_PINS = {"H", "L"}


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
    found |= set(_from_readings(attempt, seen.circuit))
    found |= {"evidence"} if seen.belief >= ENOUGH_BELIEF else set()
    found |= {"diagram"} if seen.predicted_right >= ENOUGH_PREDICTED else set()
    return tuple(task.id for task in TASKS if task.id in found)


def _from_readings(attempt: Attempt, circuit: Circuit) -> Iterable[str]:
    """Give the tasks that the readings taken belong to."""
    complained = {item.check.id for item in attempt.exercise.complaint}
    for taken in attempt.taken:
        check = taken.check
        yield _BY_QUANTITY.get(check.quantity, "")
        yield _by_place(check, circuit)
        if check.id in complained:
            yield "complaint"
        if check.quantity == "voltage" and not _to_battery(check):
            yield "drop"


def _by_place(check: Check, circuit: Circuit) -> str:
    """Return the task of a reading by where it is taken: a bus, a charger, a parked battery."""
    name, _, pin = check.at.partition(".")
    kind = circuit.parts[name].kind if name in circuit.parts else ""
    if check.quantity == "current":
        pulled = any("out" in said.values() for said in circuit.states.values())
        if kind == "battery" and pulled:
            return "drain"
        return "current" if check.instrument == "clamp" else ""
    if kind == "can node" and pin in _BUS_PINS:
        return "network"
    return "charge-output" if kind in _CHARGING and check.unit == "V" else ""


def _to_battery(check: Check) -> bool:
    return not check.to or check.to.endswith(".-")
