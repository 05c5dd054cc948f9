"""A function seen failing once: never "no fault found"; trials that show that it is gone."""

from __future__ import annotations

import functools

import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.diagnosis import Diagnosis, Evidence, build_table, diagnose
from loomwright.diagnosis.comes_and_goes import trials_without_fault
from loomwright.diagnosis.table import Table
from tests.circuit.plant.heater import ONE_HEATER


@functools.cache
def table() -> Table:
    return build_table(CircuitPlant(read_circuit_text(ONE_HEATER)))


def answer(*seen: str) -> Diagnosis:
    plant = table().plant
    assert isinstance(plant, CircuitPlant)
    look = plant.check_for("working", "running", "R1", instrument="eye")
    points = [("working", "R1.1", 12.6), ("working", "F1.2", 12.6), ("off", "S1.2", 0.0),
              ("working", "R1.2", 0.01)]
    healthy = [Evidence(plant.check_for(state, "voltage", at), volts)
               for state, at, volts in points for _ in range(3)]
    return diagnose(table(), [*(Evidence(look, one) for one in seen), *healthy])


def test_what_was_seen_failing_is_never_no_fault_found() -> None:
    found = answer("off", "on", "on", "on")
    assert found.verdict.status != "no fault found"
    assert found.no_fault < 0.1  # the fault that was seen is still one of the circuit's
    assert found.verdict.why.startswith("Intermittent: ")
    assert "1 of 4 looks" in found.verdict.why
    assert "Wiggle" in found.verdict.why


def test_without_a_failure_nothing_comes_and_goes() -> None:
    assert "comes and goes" not in answer("on", "on", "on").verdict.why


@pytest.mark.parametrize(("failures", "looks", "trials"), [(1, 4, 11), (1, 10, 29), (1, 100, 299)])
def test_rule_of_three(failures: int, looks: int, trials: int) -> None:
    """Common practice: 3 / a trials; exactly log 0.05 / log(1 - a)."""
    assert trials_without_fault(failures, looks) == trials
    assert trials == pytest.approx(3.0 * looks / failures, rel=0.1)
