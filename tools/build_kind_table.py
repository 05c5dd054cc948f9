"""Writes the table of kinds into docs/circuit_file.md, so that it cannot lag behind the program.

Run `PYTHONPATH=src python tools/build_kind_table.py`; a test says when it is not current.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.base import Kind, PartModel

__all__ = ["PAGE", "with_table"]

PAGE = Path(__file__).parents[1] / "docs" / "circuit_file.md"
START, END = "<!-- kinds: written by tools/build_kind_table.py -->\n", "<!-- end of kinds -->\n"
SYSTEM_V = 24.0
UNITS = {"v": "V", "a": "A", "ohm": "ohm", "w": "W", "m": "m", "mm2": "mm2", "k": "K", "c": "degC",
         "rpm": "rpm"}


def kind_table() -> str:
    """Return the table of all kinds: pins, own keys, what is assumed in a 24 V circuit."""
    lines = ["| kind | pins | keys of its own | assumed where not given (24 V) |",
             "|---|---|---|---|"]
    lines += [f"| `{kind.name}` | {_pins(kind)} | {_keys(kind)} | {_assumed(kind)} |"
              for kind in KINDS.values()]
    return "\n".join(lines) + "\n"


def _model(kind: Kind) -> PartModel:
    """Return a part of the kind with only what it must have."""
    needed = {"controller": {"supply": "1", "earth": "2"},
              "proximity switch": {"closed when": "target"}}.get(kind.name, {})
    return kind.model.model_validate({"kind": kind.name, **needed})


def _pins(kind: Kind) -> str:
    pins = kind.pins(_model(kind))
    if kind.name == "controller":
        return "as you name them"
    if kind.name == "selector":
        return "as its positions name them"
    if kind.name == "connector":
        return "`1a`, `1b`, `2a`, `2b` ... two for each way"
    extra = ", `87a` with `changeover: yes`" if kind.name == "relay" else ""
    return "none: write the part alone" if pins == ("",) else \
        ", ".join(f"`{pin}`" for pin in pins) + extra


def _keys(kind: Kind) -> str:
    """Return the keys that only this kind has, each with its unit or what it takes."""
    common = PartModel.model_json_schema(by_alias=True)["properties"]
    schema = kind.model.model_json_schema(by_alias=True)
    own = {name: found for name, found in schema["properties"].items() if name not in common}
    return ", ".join(f"`{name}`{_takes(name, found)}" for name, found in own.items()) or "none"


def _takes(name: str, schema: dict[str, Any]) -> str:
    """Return what a key takes, in brackets."""
    options = [schema, *schema.get("anyOf", [])]
    for option in options:
        unit = re.fullmatch("in (.+)", option.get("description", ""))
        if unit:
            return f" ({unit[1]})"
        if option.get("type") in ("boolean", "integer"):
            return " (yes or no)" if option["type"] == "boolean" else " (number)"
    if name.endswith("when"):
        return " (rule)"
    return " (pin)" if name in {"supply", "earth"} else ""


def _assumed(kind: Kind) -> str:
    """Return the values of the kind's defaults with their units."""
    params, assumed = kind.values(_model(kind), SYSTEM_V)
    shown = []
    for key in sorted(assumed):
        name, _, unit = key.rpartition("_")
        value = params[key]
        if isinstance(value, float | int) and not isinstance(value, bool) and unit in UNITS:
            shown.append(f"{name.replace('_', ' ')} {value:.4g} {UNITS[unit]}")
    return ", ".join(shown) or "nothing"


def with_table(page: str) -> str:
    """Return a page with its table of kinds as it should be."""
    before, rest = page.split(START)
    return before + START + kind_table() + END + rest.split(END)[1]


if __name__ == "__main__":
    PAGE.write_text(with_table(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
