"""The JSON Schema of circuit files, built from the models of all kinds of part.

It serves editors and other programs. The reader checks more than a schema can say: names, pins,
rules and units.
"""

from __future__ import annotations

from typing import Any

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.base import Kind
from loomwright.circuit.reader.colours import COLOURS

__all__ = ["circuit_schema"]

_ID = "^[A-Za-z0-9_-]{1,40}$"
_POINT = r"^[A-Za-z0-9_-]{1,40}(\.[A-Za-z0-9+/_-]{1,20})?$|^unknown$"
_ON_OFF = {"enum": [True, False, "yes", "no", "on", "off", "true", "false"]}
_TEXT = {"type": "string", "maxLength": 200}


def _quantity(unit: str, example: str) -> dict[str, Any]:
    return {"type": "string", "description": f"in {unit}, or unknown", "examples": [example]}


def circuit_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a circuit file, `yes` and `no` taken as texts."""
    definitions: dict[str, Any] = {}
    for kind in KINDS.values():
        definitions[f"kind {kind.name}"] = _kind_schema(kind, definitions)
    definitions["part"] = _part()
    definitions["wire"] = _wire()
    definitions["step"] = _step()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Loomwright circuit file",
        "type": "object",
        "required": ["loomwright", "system", "parts", "wires"],
        "additionalProperties": False,
        "properties": _top_properties(),
        "$defs": definitions,
    }


def _top_properties() -> dict[str, Any]:
    """Return the top keys of a file."""
    minutes = _quantity("minutes", "3 min")
    place = {"type": "object", "properties": {"reach": minutes}, "additionalProperties": False}
    return {
        "loomwright": {"enum": [1, "1"], "description": "version of the file"},
        "title": _TEXT,
        "system": _quantity("V", "24 V"),
        "temperature": _quantity("degC", "20 degC"),
        "places": {"type": "object", "additionalProperties": {"anyOf": [place, minutes]},
                   "description": "minutes to get at each place"},
        "parts": {"type": "object", "propertyNames": {"pattern": _ID}, "minProperties": 1,
                  "additionalProperties": {"$ref": "#/$defs/part"}},
        "wires": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/wire"}},
        "states": _map_of_maps({"type": ["string", "boolean"]}, "the conditions in each state"),
        "should": _map_of_maps(_ON_OFF, "what should be on and off in each state"),
        "setup": {"type": "object", "additionalProperties": minutes,
                  "description": "minutes to set each state"},
        "sequences": {"type": "object", "description": "states one after the other, with times",
                      "additionalProperties": {"type": "array", "minItems": 1,
                                               "items": {"$ref": "#/$defs/step"}}},
    }


def _map_of_maps(values: dict[str, Any], description: str) -> dict[str, Any]:
    inner = {"type": ["object", "null"], "additionalProperties": values}
    return {"type": "object", "additionalProperties": inner, "description": description}


def _kind_schema(kind: Kind, definitions: dict[str, Any]) -> dict[str, Any]:
    """Return one kind's keys; records it refers to are added to the definitions."""
    schema = kind.model.model_json_schema(by_alias=True)
    for name, definition in schema.pop("$defs", {}).items():
        definitions[name] = _as_typed(definition)
    typed: dict[str, Any] = _as_typed(schema)
    typed["title"] = f"Keys of a {kind.name}"
    typed["properties"]["kind"] = {"const": kind.name}
    return typed


def _as_typed(schema: Any) -> Any:
    """Return a schema in which yes and no are as good as true and false."""
    if isinstance(schema, list):
        return [_as_typed(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    if schema.get("type") == "boolean":
        return {**{key: value for key, value in schema.items() if key != "type"}, **_ON_OFF}
    return {key: _as_typed(value) for key, value in schema.items()}


def _part() -> dict[str, Any]:
    """Return the choice between kinds, by the key `kind`."""
    cases = [
        {"if": {"properties": {"kind": {"const": name}}, "required": ["kind"]},
         "then": {"$ref": f"#/$defs/kind {name}"}}
        for name in KINDS
    ]
    return {"type": "object", "required": ["kind"], "properties": {"kind": {"enum": [*KINDS]}},
            "allOf": cases}


def _step() -> dict[str, Any]:
    """Return a step of a sequence: for a time, or until a rule holds."""
    time = _quantity("s", "5 s")
    rule = {"type": "string", "examples": ["not M1"]}
    cells = {"state": _TEXT, "for": time, "until": rule, "at most": time}
    return {"type": "object", "properties": cells, "additionalProperties": False,
            "required": ["state"], "oneOf": [{"required": ["for"]}, {"required": ["until"]}]}


def _wire() -> dict[str, Any]:
    """Return a wire in both of its forms."""
    point = {"type": ["string", "integer"], "pattern": _POINT}
    one = "|".join(COLOURS)
    cells = {
        "id": {"type": ["string", "integer"], "pattern": _ID}, "from": point, "to": point,
        "area": _quantity("mm2", "2.5 mm2"), "length": _quantity("m", "1.8 m"),
        "colour": {"type": "string", "pattern": f"^({one})(/({one}))?$|^unknown$",
                   "description": "code of IEC 60757, like GY or GY/RD"},
    }
    as_list = {"type": "array", "prefixItems": [*cells.values()], "minItems": 3, "maxItems": 6}
    as_map = {"type": "object", "properties": cells, "required": ["id", "from", "to"],
              "additionalProperties": False}
    return {"anyOf": [as_list, as_map]}
