"""Tables made from a table: kept, never more than a few, the newest used stay."""

from __future__ import annotations

from dataclasses import replace

import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.diagnosis import build_table, without_checks
from loomwright.diagnosis.table import Table
from tests.circuit.plant.heater import ONE_HEATER

MOST = 8  # each may hold a copy of all predictions, and a server runs for weeks


@pytest.fixture(scope="module")
def whole() -> Table:
    return build_table(CircuitPlant(read_circuit_text(ONE_HEATER)))


def fresh(whole: Table) -> Table:
    return replace(whole, _wider={})


def test_the_same_checks_left_out_give_the_same_table(whole: Table) -> None:
    table = fresh(whole)
    name = next(one.id for one in table.checks if one.offer)
    assert without_checks(table, [name]) is without_checks(table, [name])


def test_no_more_than_a_few_are_kept_and_those_in_use_stay(whole: Table) -> None:
    table = fresh(whole)
    names = [one.id for one in table.checks if one.offer][: MOST + 3]
    assert len(names) == MOST + 3
    used = without_checks(table, names[:1])
    for name in names[1:]:
        without_checks(table, [name])
        assert without_checks(table, names[:1]) is used
    assert len(table._wider) == MOST


def test_a_table_that_cannot_be_made_is_not_kept(whole: Table) -> None:
    table = fresh(whole)

    def broken() -> Table:
        raise ValueError("no such rows")

    with pytest.raises(ValueError, match="no such rows"):
        table.derived("key", broken)
    assert table.derived("key", lambda: whole) is whole
