"""A motor turned by hand: what a hand feels, where it is offered, and what it saves on a job."""

from __future__ import annotations

import functools

import pytest

from loomwright.circuit import CircuitPlant, parse_fault, read_circuit_text
from loomwright.circuit.readings import read_readings_text
from loomwright.circuit.templates import template_text
from loomwright.diagnosis import Diagnosis, Evidence, Table, build_table, diagnose
from loomwright.errors import FileProblemsError, UnknownNameError, UsageError
from loomwright.plant import NO_FAULT, Check, Hypothesis
from loomwright.service.hidden_vehicle import HiddenVehicle
from loomwright.service.words import check_line

SHUT_IN = ("loomwright: 1\nsystem: 12 V\nparts:\n  BAT: {kind: battery}\n"
           "  M1: {kind: motor, turned by hand: no}\n"
           "wires:\n  - [W1, BAT.+, M1.1]\n  - [W2, M1.2, BAT.-]\n")


@functools.cache
def table() -> Table:
    return build_table(CircuitPlant(read_circuit_text(template_text("radiator-fan"))))


def plant() -> CircuitPlant:
    found = table().plant
    assert isinstance(found, CircuitPlant)
    return found


def turn() -> Check:
    return plant().check_for("", "turns", "M1", instrument="hand")


def felt(fault: str) -> str:
    row = NO_FAULT if not fault else next(
        one for one in plant().faults() if one.fault_id == fault)
    levels = plant().predict((row,), (turn(),)).levels[0][0, 0]
    return turn().levels[int(levels.argmax())]


@pytest.mark.parametrize(("fault", "level"), [
    ("", "free"), ("seized:M1", "stuck"), ("worn:M1", "free"), ("blown:F1", "free"),
    ("open:M1", "free"), ("short-to-earth:W7", "free")])
def test_a_hand_feels_a_seized_rotor_alone(fault: str, level: str) -> None:
    assert felt(fault) == level


def test_the_supply_is_off_and_the_place_is_reached_once() -> None:
    check = turn()
    assert check in table().checks
    assert (check.setup, check.place, check.minutes) == ("isolated", "front panel", 1.0)
    assert "disconnected" in check.text
    line = check_line(plant().circuit, check, "BAT.-", 1.0)
    assert line.title == "Does M1 (Fan) turn by hand?"
    assert "start by itself" in line.care


def shown(check: Check, fault: str) -> float | str:
    """Return what the middle of the predictions shows of a fault."""
    row = next(one for one in plant().faults() if one.fault_id == fault)
    found = plant().predict((row,), (check,))
    middle = len(found.weights) // 2
    if check.levels:
        return check.levels[int(found.levels[0][middle, 0].argmax())]
    return round(float(found.mean[middle, 0, 0]) / check.resolution) * check.resolution


def worked(fault: str, most: int = 20) -> tuple[Diagnosis, list[Evidence]]:
    """Return the end of a job that follows the engine's checks, each reading as predicted."""
    taken = [Evidence(one, shown(one, fault)) for one in plant().complaint_checks()]
    first = len(taken)
    for _ in range(most):
        found = diagnose(table(), taken)
        if found.verdict.status != "look further":
            break
        check = found.next_checks[0].check
        taken.append(Evidence(check, shown(check, fault)))
    return found, taken[first:]


@pytest.mark.parametrize(("fault", "repair"), [
    ("seized:M1", "replace M1"), ("blown:F1", "replace F1")])
def test_a_blown_fuse_is_told_from_a_seized_fan_by_turning_it(fault: str, repair: str) -> None:
    """Without the hand, nothing parts the two: 15 readings, and the fuse is advised for both."""
    found, taken = worked(fault)
    assert found.verdict.repair == repair
    assert turn() in [one.check for one in taken]
    assert found.verdict.confidence > 0.95


def test_what_no_hand_reaches_is_not_asked_for() -> None:
    shut = CircuitPlant(read_circuit_text(SHUT_IN))
    assert not [one for one in shut.maker.candidates() if one.quantity == "turns"]
    with pytest.raises(UsageError, match="no hand turns"):
        shut.check_for("", "turns", "M1")
    with pytest.raises(UsageError, match="Parts that a hand does: M1"):
        plant().check_for("", "turns", "F1")
    with pytest.raises(UnknownNameError):
        plant().check_for("", "turns", "M9")


@pytest.mark.parametrize(("word", "level"), [
    ("free", "free"), ("yes", "free"), ("no", "stuck"), ("seized", "stuck"), ("tight", "stiff")])
def test_words_that_people_use(word: str, level: str) -> None:
    assert plant().value_of(turn(), word) == level


def test_a_readings_file_tells_it() -> None:
    circuit = plant().circuit
    text = "- {state: at rest, quantity: turns, at: M1, value: %s}"
    (found,) = read_readings_text(text % "stuck", circuit)
    assert (found.instrument, found.value) == ("hand", "stuck")
    with pytest.raises(FileProblemsError, match="free, stiff"):
        read_readings_text(text % "12 V", circuit)


def test_a_hidden_seized_motor_is_stuck_on_the_practice_bench() -> None:
    circuit = plant().circuit
    vehicle = HiddenVehicle(plant(), parse_fault(circuit, "seized:M1"), seed=1)
    assert vehicle.measure(turn()) == "stuck"


def test_hypotheses_of_two_faults_are_felt_too() -> None:
    both = Hypothesis("seized:M1+open:W9", "M1+W9", "seized", "replace M1", 1e-3)
    levels = plant().predict((both,), (turn(),)).levels[0][0, 0]
    assert turn().levels[int(levels.argmax())] == "stuck"
