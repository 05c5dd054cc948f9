"""Every circuit that can hurt says so, on the job's page, in the record and in practice."""

from __future__ import annotations

import pytest

from loomwright.circuit import read_circuit_text
from loomwright.circuit.templates import template, template_names, template_text
from loomwright.service.cautions import MAKER, cautions_for

EXPECTED = {
    "tipper-body": "Raised tipper", "tail-lift": "Raised tail lift",
    "tailgate-lock": "Raised tailgate", "pto-seat-interlock": "Turning shaft",
    "mower-interlock": "Blades", "mower-magneto": "Kill wire", "winch": "Winch",
    "horn": "Airbag", "seat-heating": "Airbag", "inverter-feed": "Mains voltage",
    "lift-pump": "Fuel", "fuel-gauge": "Fuel", "ac-clutch": "Refrigerant",
    "radiator-fan": "Starts by itself", "wipers": "Starts by itself",
    "window-motor": "Starts by itself", "glow-plugs": "Hot parts", "intake-heater": "Hot parts",
    "gear-selector-interlock": "May roll", "start-relay": "Cranking",
    "motorcycle-start": "Cranking", "immobiliser-start-cut": "Cranking",
    "charging": "Running engine", "motorcycle-charge": "Running engine",
    "dual-battery-relay": "Two batteries", "start-series-batteries": "Two batteries",
}


def titles(name: str) -> list[str]:
    circuit = read_circuit_text(template_text(name), name)
    return [one.title for one in cautions_for(circuit)]


@pytest.mark.parametrize(("name", "title"), EXPECTED.items())
def test_a_circuit_made_from_a_template_keeps_its_warning(name: str, title: str) -> None:
    found = titles(name)
    assert title in found
    assert found[-1].endswith("V battery")


@pytest.mark.parametrize("name", template_names())
def test_warnings_defer_to_the_maker_and_are_few(name: str) -> None:
    circuit = read_circuit_text(template_text(name), name)
    found = cautions_for(circuit)
    assert 1 <= len(found) <= 5
    assert all(one.text.endswith(MAKER) for one in found)
    assert len({one.title for one in found}) == len(found)


@pytest.mark.parametrize("name", ["dual-battery-relay", "rear-window-heating", "headlamps",
                                  "accessory-socket", "interior-lamp", "standing-drain"])
def test_no_warning_of_what_is_not_there(name: str) -> None:
    found = titles(name)
    assert not {one for one in found if one.startswith("Raised")}  # a camper's body is not raised
    assert "Starts by itself" not in found


def test_a_template_with_a_warning_gives_a_circuit_with_one() -> None:
    silent = [name for name in template_names() if template(name).caution
              and len(titles(name)) < 2]
    # what it says is of disconnecting a battery, which every circuit's last caution is about
    assert set(silent) <= {"battery-master"}
