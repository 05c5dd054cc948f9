"""One plant and one table for each circuit over all tests of a run: building them takes seconds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

import loomwright.circuit
import loomwright.diagnosis

__all__ = ["keep_tables"]

kept: dict[str, Any] = {}


@pytest.fixture(scope="module", autouse=True)
def keep_tables() -> Iterator[None]:
    """Build the plant and table of a circuit once; processes of their own still build theirs."""
    plant_of, table_of = loomwright.circuit.CircuitPlant, loomwright.diagnosis.build_table

    def plant(circuit: Any, predicted: Any = None) -> Any:
        key = f"plant {circuit!r}"
        if key not in kept:
            kept[key] = plant_of(circuit, predicted)
        return kept[key]

    def table(plant: Any, *settings: Any) -> Any:
        key = f"table {id(plant)} {settings!r}"
        if key not in kept:
            kept[key] = (plant, table_of(plant, *settings))
        return kept[key][1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loomwright.circuit, "CircuitPlant", plant)
        patch.setattr(loomwright.diagnosis, "build_table", table)
        yield
