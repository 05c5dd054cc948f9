"""The published schema: current, true of the demo circuit, and false of a broken one."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

import jsonschema
import pytest
import yaml

from loomwright.circuit.schema import circuit_schema

SCHEMA = circuit_schema()


class TypedLoader(yaml.SafeLoader):
    """YAML with `yes`, `no`, `on` and `off` left as texts."""


TypedLoader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in found if not tag.endswith(":bool")]
    for first, found in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def demo() -> Any:
    text = resources.files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text("utf-8")
    return yaml.load(text, TypedLoader)


def errors_of(document: Any) -> list[str]:
    validator = jsonschema.Draft202012Validator(SCHEMA)
    return [error.message for error in validator.iter_errors(document)]


def test_schema_file_is_current():
    text = resources.files("loomwright.circuit").joinpath("circuit.schema.json").read_text("utf-8")
    assert json.loads(text) == json.loads(json.dumps(SCHEMA)), "run tools/build_schema.py"


def test_schema_is_itself_valid():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"].endswith("2020-12/schema")


def test_demo_circuit_is_valid():
    assert errors_of(demo()) == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("parts", "F1", "ratng"), "60 A"),
        (("parts", "F1", "kind"), "fus"),
        (("parts", "F1", "rating"), 60),
        (("parts", "ECU", "outputs", "lock", "drives"), "sideways"),
        (("parts", "ECU", "outputs", "lock", "limt"), "5 A"),
        (("parts", "K.3"), {"kind": "relay"}),
        (("wires", 0), ["W1", "BAT.+"]),
        (("wires", 0), ["W1", "BAT.+", "F1.1", "16 mm2", "0.6 m", "RED"]),
        (("wires", 0), ["W1", "BAT.+", "F1.1", 16]),
        (("should", "open", "Y1"), "perhaps"),
        (("titel",), "x"),
        (("loomwright",), 2),
    ],
)
def test_broken_circuit_is_not_valid(path: tuple[Any, ...], value: Any):
    document = demo()
    node = document
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = value
    assert errors_of(document) != []


def test_missing_system_is_not_valid():
    document = demo()
    del document["system"]
    assert errors_of(document) == ["'system' is a required property"]


def test_yes_and_no_are_valid_where_true_and_false_are():
    document = demo()
    document["parts"]["K3"]["changeover"] = "yes"
    assert errors_of(document) == []
