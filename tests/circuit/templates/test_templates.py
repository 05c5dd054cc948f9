"""Every template: reads, does what it should in every state, and its faults show."""

from __future__ import annotations

import functools
import importlib.util
from pathlib import Path
from types import ModuleType

import pytest
import yaml

from loomwright.circuit import draw_circuit, read_circuit_text, solve_all
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, StateResult
from loomwright.circuit.plant.names import fuses_out
from loomwright.circuit.templates import template, template_names, template_text
from loomwright.errors import QuantityError, UnknownNameError

ROOT = Path(__file__).parents[3]
CASES = [(name, system) for name in template_names() for system in template(name).systems]
# Common practice: 0.5 V on the feed side and 0.2 V on the earth side of a 12 V load, in
# proportion for other systems.
DROP_SHARE = 0.7 / 12
# Loads for which some of the volts are not meant.
LESS_VOLTS = {
    ("charging", "H1"): "in series with the field of the alternator",
    ("standing-drain", "H3"): "in series with the field of the alternator",
    ("converter-24-12", "H1"): "behind a converter to 12 V",
    ("converter-24-12", "H2"): "behind a converter to 12 V",
    ("equaliser-24-12", "H1"): "from the middle of two batteries",
    ("equaliser-24-12", "H3"): "from the middle of two batteries",
    ("mower-magneto", "G1"): "makes its own volts",
}
# A controller that nobody switched on has no supply; that is no trouble.
SWITCHED_OFF = "has 0 V of supply"


@functools.cache
def circuit_of(name: str, system: str) -> Circuit:
    """Return a template's circuit."""
    return read_circuit_text(template_text(name, system=system), name)


@functools.cache
def results_of(name: str, system: str) -> dict[str, StateResult]:
    """Return all its states solved."""
    return solve_all(circuit_of(name, system))


@functools.cache
def tool() -> ModuleType:
    """Return the program that writes the page of templates."""
    path = ROOT / "tools" / "build_template_page.py"
    spec = importlib.util.spec_from_file_location("build_template_page", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def is_on(result: StateResult, item: str) -> bool:
    """Return whether a part or controller item is on."""
    part, _, name = item.partition(".")
    if name:
        return {**result.inputs[part], **result.outputs[part]}[name]
    return result.parts[part].doing == "on"


def feed_points(circuit: Circuit) -> tuple[str, str]:
    """Return the top post of the batteries in series, and the lowest post."""
    joined = {(w.start.point, w.end.point) for w in circuit.wires.values() if w.end}
    batteries = [name for name, part in circuit.parts.items() if part.kind == "battery"]
    top = batteries[0]
    while above := [name for name in batteries if (f"{top}.+", f"{name}.-") in joined]:
        top = above[0]
    return f"{top}.+", f"{batteries[0]}.-"


@pytest.mark.parametrize(("name", "system"), CASES)
def test_every_state_has_a_should_and_meets_it(name: str, system: str) -> None:
    circuit, results = circuit_of(name, system), results_of(name, system)
    assert len(circuit.states) >= 2
    # a pulled fuse is a way to measure, not a way to drive
    assert set(circuit.should) == {name for name in circuit.states
                                   if not fuses_out(circuit, name)}
    missed = [f"{state}: {item} should be {wanted}"
              for state, items in circuit.should.items() for item, wanted in items.items()
              if is_on(results[state], item) != (wanted == "on")]
    assert missed == []
    assert all(items for items in circuit.should.values())


@pytest.mark.parametrize(("name", "system"), CASES)
def test_nothing_blows_and_no_trouble_is_noted(name: str, system: str) -> None:
    for state, result in results_of(name, system).items():
        assert [note for note in result.notes if SWITCHED_OFF not in note] == [], state
        assert "blown" not in {part.doing for part in result.parts.values()}


@pytest.mark.parametrize(("name", "system"), CASES)
def test_the_wires_lose_little_of_the_volts(name: str, system: str) -> None:
    circuit = circuit_of(name, system)
    top, bottom = feed_points(circuit)
    for state, result in results_of(name, system).items():
        volts = {point: reading.volts for point, reading in result.points.items()}
        wanted = circuit.should.get(state, {})
        for item in [item for item, level in wanted.items() if level == "on"]:
            part = circuit.parts.get(item)
            if (name, item) in LESS_VOLTS:
                continue
            if part is None or not KINDS[part.kind].load or len(part.pins) != 2:
                continue
            across = abs(volts[f"{item}.{part.pins[0]}"] - volts[f"{item}.{part.pins[1]}"])
            lost = volts[top] - volts[bottom] - across
            assert lost <= DROP_SHARE * circuit.system_v, (state, item)


@pytest.mark.parametrize("name", template_names())
def test_faults_show_but_for_those_reviewed(name: str) -> None:
    reviewed = yaml.safe_load((Path(__file__).parent / "inseparable.yaml").read_text("utf-8"))
    assert tool().separation(name) == reviewed[name], (
        "run tools/build_template_page.py --separation and review the difference")


def test_the_page_of_templates_is_current() -> None:
    module = tool()
    assert module.page() == module.PAGE.read_text("utf-8"), "run tools/build_template_page.py"


@pytest.mark.parametrize("name", template_names())
def test_it_draws_with_every_part(name: str) -> None:
    circuit = circuit_of(name, template(name).systems[0])
    picture = draw_circuit(circuit)
    assert [part for part in circuit.parts if part not in picture] == []


def test_values_are_filled_in() -> None:
    circuit = read_circuit_text(template_text("horn", system="24V", fuse="7,5 A", loom="300 cm"))
    assert circuit.system_v == 24
    assert circuit.parts["F1"].number("rating_a") == 7.5
    assert circuit.wires["W4"].length_m == 3
    assert template_text("horn").startswith("# Made from the template 'horn' with: system 12 V")


def test_a_name_with_a_space_is_given_with_a_line() -> None:
    assert "coil fuse 3 A" in template_text("intake-heater", coil_fuse="3 A")


@pytest.mark.parametrize(
    ("name", "values", "error", "message"),
    [
        ("hron", {}, UnknownNameError, "Did you mean 'horn'?"),
        ("horn", {"fuze": "10 A"}, UnknownNameError, "Did you mean 'fuse'?"),
        ("horn", {"system": "48 V"}, UnknownNameError, "There is no system '48 V'"),
        ("horn", {"system": "blue"}, UnknownNameError, "There is no system 'blue'."),
        ("horn", {"fuse": "10"}, QuantityError, "has no unit"),
        ("horn", {"fuse": "-1 A"}, QuantityError, "not more than 0 A"),
        ("horn", {"fuse": "1 m"}, QuantityError, "not in a unit of A"),
    ],
)
def test_wrong_values_are_refused(name: str, values: dict[str, str], error: type[Exception],
                                  message: str) -> None:
    with pytest.raises(error, match=message.replace("?", r"\?")):
        template_text(name, **values)
