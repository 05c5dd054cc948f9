"""Which tasks of the sheet an exercise shows: by the fault found and by where was measured."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault
from loomwright.practice import TASKS, Attempt, Exercise, Seen, Taken, shown_tasks
from tests.practice.benches import table

Reading = tuple[str, str, str, str]  # state, quantity, at, instrument


def tasks(name: str, fault: str, *readings: Reading, right: bool = True) -> set[str]:
    """Return what an attempt with these readings shows."""
    plant = table(name).plant
    hidden = parse_fault(plant.circuit, fault)
    taken = tuple(Taken(plant.check_for(state, quantity, at, "", instrument), None, 0.0, 1.0)
                  for state, quantity, at, instrument in readings)
    exercise = Exercise(f"{name}-1-0", name, 1, 0, "", (), hidden)
    ended = Attempt(exercise, taken, hidden.repair if right else "")
    return set(shown_tasks(ended, Seen(plant.circuit, "", 0.5, 0)))


@pytest.mark.parametrize(("instrument", "shown"), [("clamp", True), ("", True), ("meter", False)])
def test_only_a_clamp_shows_the_use_of_a_clamp(instrument: str, shown: bool) -> None:
    found = tasks("horn", "open:W5", ("sounding", "current", "W4", instrument))
    assert ("current" in found) is shown


def test_a_bus_is_proved_where_its_wires_were_measured() -> None:
    assert "network" in tasks("can-bus", "open:RT", ("at rest", "voltage", "N2.H", ""))
    assert "network" not in tasks("can-bus", "open:RT", ("at rest", "voltage", "N2.+", ""))


def test_a_drain_is_found_at_the_battery_of_a_parked_vehicle() -> None:
    reading = ("parked, F1 out", "current", "BAT", "")
    assert "drain" in tasks("standing-drain", "stuck-closed:S2", reading)
    assert "drain" not in tasks("horn", "open:W5", ("sounding", "current", "BAT", ""))


def test_charging_is_measured_at_what_charges() -> None:
    at_alternator = ("idling", "voltage", "G1.B+", "")
    assert "charge-output" in tasks("charging", "burnt-out:H1", at_alternator)
    plant = table("motorcycle-charge").plant
    check = plant.check_for("running", "ac voltage", "G1.A", "G1.B")
    hidden = parse_fault(plant.circuit, "dead:REG")
    ended = Attempt(Exercise("x", "x", 1, 0, "", (), hidden), (Taken(check, None, 60.0, 1.0),),
                    hidden.repair)
    assert "charge-output" in shown_tasks(ended, Seen(plant.circuit, "", 0.5, 0))


def test_a_wrong_repair_shows_nothing() -> None:
    assert tasks("can-bus", "open:RT", ("at rest", "voltage", "N2.H", ""), right=False) == set()


def test_what_no_exercise_can_show_says_wholly() -> None:
    never = {"repair-loom", "intermittent", "high-voltage", "restraint", "job-record", "explain"}
    assert never < {task.id for task in TASKS}
    shown = {task.id: task.left for task in TASKS if task.id in {"network", "drain",
                                                                 "charge-output"}}
    assert not any("wholly" in left for left in shown.values())
