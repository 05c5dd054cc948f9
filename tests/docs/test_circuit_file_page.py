"""docs/circuit_file.md says what is true: its examples read, its tables are complete."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest
import yaml

from loomwright.circuit.kinds.controller import InputModel, OutputModel
from loomwright.circuit.reader import read_circuit_text
from loomwright.circuit.reader.colours import COLOURS
from loomwright.circuit.reader.document import KEYS
from loomwright.circuit.readings import QUANTITIES, read_readings_text
from loomwright.circuit.solve import solve_all

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "circuit_file.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)
CIRCUITS = [text for text in EXAMPLES if text.startswith("loomwright: 1")]
READINGS = [text for text in EXAMPLES if text.startswith("- {state")]


def test_every_example_is_a_circuit_or_readings():
    assert len(CIRCUITS) == 3
    assert len(READINGS) == 1
    assert len(EXAMPLES) == 5
    assert all(yaml.safe_load(text) for text in EXAMPLES)


@pytest.mark.parametrize("text", CIRCUITS)
def test_circuit_examples_read_and_do_what_they_should(text: str):
    circuit = read_circuit_text(text)
    results = solve_all(circuit)
    checked = 0
    for state, wanted in circuit.should.items():
        for name, level in wanted.items():
            part, _, item = name.partition(".")
            result = results[state]
            is_on = result.outputs[part][item] if item else result.parts[part].doing == "on"
            assert is_on == (level == "on"), (state, name)
            checked += 1
    assert checked >= 2


def test_readings_example_fits_the_first_circuit():
    readings = read_readings_text(READINGS[0], read_circuit_text(CIRCUITS[0]))
    assert len(readings) == 6


def test_every_key_quantity_and_colour_is_on_the_page():
    for name in KEYS:
        assert f"| `{name}` |" in PAGE
    for model in (InputModel, OutputModel):
        for field in model.model_fields:
            assert f"| `{field.replace('_', ' ')}` |" in PAGE
    for name in QUANTITIES:
        assert re.search(rf"^\| .*`{name}`", PAGE, re.MULTILINE)
    for code, word in COLOURS.items():
        assert f"`{code}` {word}" in PAGE


def test_table_of_kinds_is_current():
    path = ROOT / "tools" / "build_kind_table.py"
    spec = importlib.util.spec_from_file_location("build_kind_table", path)
    assert spec is not None
    assert spec.loader is not None
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    assert tool.with_table(PAGE) == PAGE, "run tools/build_kind_table.py"
