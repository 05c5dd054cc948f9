"""Writes the JSON Schema of circuit files into the package: `python tools/build_schema.py`."""

from __future__ import annotations

import json
from pathlib import Path

from loomwright.circuit.schema import circuit_schema

TARGET = Path(__file__).parents[1] / "src/loomwright/circuit/circuit.schema.json"


def schema_text() -> str:
    """Return the schema as it stands in its file."""
    return json.dumps(circuit_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    TARGET.write_text(schema_text(), encoding="utf-8")
