"""New kinds as the diagnosis and the explanations see them."""

from __future__ import annotations

from loomwright.circuit import CircuitPlant, why_off
from loomwright.circuit.healthy import Healthy
from loomwright.circuit.model import Circuit
from tests.circuit.kinds.test_starter import vehicle
from tests.support.demo import small


def chosen() -> Circuit:
    return small(
        "BAT: {kind: battery}\n"
        "S1: {kind: selector, positions: {park: [[1, 2]], reverse: [[1, 3]]}}\n"
        "ECU: {kind: controller, supply: 1, earth: 2, inputs: {back: {pin: 3}}, "
        "outputs: {lamp: {pin: 4, when: back}}}\nH1: {kind: lamp, power: 21 W}\n"
        "R1: {kind: resistor}\nE1: {kind: earth}",
        "BAT.+, ECU.1\nECU.2, E1\nBAT.+, S1.1\nS1.3, ECU.3\nECU.4, H1.1\nH1.2, E1\nS1.2, R1.1\n"
        "R1.2, E1")


def test_the_main_contact_of_a_starter_is_worth_a_drop_test() -> None:
    plant = CircuitPlant(vehicle())
    pairs = {(check.at, check.to) for check in plant.checks() if check.quantity == "voltage"}
    assert ("M1.30", "M1.M") in pairs


def test_a_starter_can_be_heard() -> None:
    plant = CircuitPlant(vehicle())
    assert plant.check_for("start", "running", "M1").levels == ("off", "slow", "on")


def test_the_position_that_would_work_is_found() -> None:
    circuit = chosen()
    found = Healthy(circuit).find("here", lambda result: result.outputs["ECU"]["lamp"])
    assert found is not None
    assert "S1: reverse" in found.name
    assert "back" in str(why_off(circuit, "here", "ECU.lamp"))
