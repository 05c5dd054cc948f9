"""What a controller's own list of inputs and outputs shows, and that it may show nothing."""

from __future__ import annotations

from loomwright.plant import NO_FAULT
from tests.circuit.plant.test_plant import demo, row


def test_a_controller_without_supply_lists_nothing() -> None:
    plant = demo()
    check = plant.check_for("locking", "input", "ECU.shut", instrument="controller")
    assert check.levels == ("off", "on", "no answer")
    rows = (NO_FAULT, row(plant, "blown:F12"), row(plant, "dead:ECU"), row(plant, "open:W19"))
    found = plant.predict(rows, (check,)).levels[0]
    likeliest = [check.levels[number] for number in found[len(found) // 2].argmax(axis=1)]
    assert likeliest == ["on", "no answer", "no answer", "off"]
    assert plant.value_of(check, "No answer") == "no answer"
    # many call a list that stays empty "off": that must not acquit the supply
    assert found[0, 1, 0] > 0.2
