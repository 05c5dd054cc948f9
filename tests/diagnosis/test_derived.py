"""Tables made from a table: kept, never more than a few, the newest used stay."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.diagnosis import build_table, without_checks
from loomwright.diagnosis.repaired import left_after
from loomwright.diagnosis.table import Table
from tests.circuit.plant.heater import ONE_HEATER

MOST = 2  # of a sort: each may hold a copy of all predictions, and a server runs for weeks


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
    assert [len(of_a_sort) for of_a_sort in table._wider.values()] == [MOST]


def test_each_sort_of_table_has_its_own_few(whole: Table) -> None:
    table = fresh(whole)
    names = [one.id for one in table.checks if one.offer][: MOST + 1]
    made = table.derived(("sticky", 1), lambda: replace(whole))
    for name in names:
        without_checks(table, [name])
    assert table.derived(("sticky", 1), lambda: replace(whole)) is made


def test_a_table_that_cannot_be_made_is_not_kept(whole: Table) -> None:
    table = fresh(whole)

    def broken() -> Table:
        raise ValueError("no such rows")

    with pytest.raises(ValueError, match="no such rows"):
        table.derived("key", broken)
    assert table.derived("key", lambda: whole) is whole


def test_only_the_last_few_sets_of_repairs_are_remembered(whole: Table) -> None:
    """A job page that runs for weeks asks for what many sets of repairs leave."""
    table = replace(whole, _left={})
    classes = [name for name in table.classes if name in table.repairs]
    sets = [set(pair) for pair in itertools.combinations(classes, 3)][:40]
    assert len(sets) > 16
    first = left_after(table, sets[0])
    for repairs in sets:
        left_after(table, repairs)
        assert left_after(table, sets[0]) is first  # in use: it stays
    assert len(table._left) <= 16
    assert np.array_equal(left_after(table, sets[1]), left_after(replace(whole, _left={}), sets[1]))


def test_predictions_worked_out_when_asked_for_are_those_of_the_whole(whole: Table) -> None:
    """Check by check as the table takes them, and all at once as `Prediction` shows them."""
    plant = whole.plant
    found = plant.predict(whole.rows[:-1], whole.checks)
    mean, variance = whole.grid()
    for number, (check, model) in enumerate(zip(whole.checks, whole.models, strict=True)):
        if check.levels:
            continue
        one, apart = found.reading(number)
        assert np.array_equal(found.mean[:, :, number], one)
        assert np.array_equal(found.spread[:, :, number], np.sqrt(apart))
        assert np.array_equal(model.raw[:, :-1], one)
        assert np.isnan(model.raw[:, -1]).all()
        assert np.array_equal(mean[number], model.mean.astype(np.float32), equal_nan=True)
        assert np.array_equal(variance[number], model.sd.astype(np.float32) ** 2, equal_nan=True)
    middle, shift, second = whole.shifts()
    assert np.array_equal(shift, (mean - middle[:, None]).transpose(1, 0, 2), equal_nan=True)
    assert np.array_equal(second, variance.transpose(1, 0, 2) + shift**2, equal_nan=True)


def test_predictions_cannot_be_changed(whole: Table) -> None:
    for model in whole.models:
        with pytest.raises(ValueError, match="read-only"):
            (model.raw if model.levels is None else model.levels)[0] = 0.0
