"""What checks are expected to tell: the fast sums against plain ones, row by row."""

from __future__ import annotations

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant
from loomwright.diagnosis import Evidence, build_table
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.choose import options
from loomwright.diagnosis.outlook import class_gains, live_rows, outcome_shares
from loomwright.diagnosis.screening import coarse_gains
from tests.support.demo import tailgate
from tests.support.plants import random_plant

SINGLE = 2e-6  # single precision over at most 14 bins of shares that sum to one


def plain_gain(shares, live):
    """Return mutual information of outcome and class by its definition."""
    joint = np.array([live.weight[live.class_of == one] @ shares[live.class_of == one]
                      for one in live.classes])
    joint /= joint.sum()
    apart = np.outer(joint.sum(axis=1), joint.sum(axis=0))
    some = joint > 0.0
    return float((joint[some] * np.log2(joint[some] / apart[some])).sum())


def states(table, count):
    """Yield readings of random rows, as a job would have them."""
    rng = np.random.default_rng(5)
    for _ in range(count):
        row = int(rng.integers(1, len(table.rows) - 1))
        evidence = []
        for column in rng.integers(len(table.checks), size=int(rng.integers(0, 6))):
            check, model = table.checks[column], table.models[column]
            middle = len(table.log_weights) // 2
            value = (check.levels[int(np.nan_to_num(model.levels[middle, row]).argmax())]
                     if model.levels is not None else float(np.nan_to_num(model.raw[middle, row])))
            evidence.append(Evidence(check, value))
        yield tuple(evidence)


@pytest.mark.parametrize("table", [
    build_table(CircuitPlant(tailgate())), build_table(random_plant(3, faults=30, checks=12))],
    ids=["tailgate", "random"])
def test_gains_are_those_of_the_definition(table):
    for evidence in states(table, 6):
        live = live_rows(table, believe(table, evidence))
        columns = list(range(0, len(table.checks), 7))
        plain = [plain_gain(outcome_shares(table, live, column), live) for column in columns]
        # a value of the battery under 0.2 % in every row is left out of the fast sums
        assert class_gains(table, live, columns) == pytest.approx(plain, abs=2e-3)


def test_one_check_or_many_at_once_give_the_same():
    table = build_table(CircuitPlant(tailgate()))
    live = live_rows(table, believe(table, ()))
    columns = list(range(0, len(table.checks), 9))
    alone = [float(class_gains(table, live, [column])[0]) for column in columns]
    assert class_gains(table, live, columns) == pytest.approx(alone, abs=SINGLE)


def test_the_screen_keeps_the_best():
    table = build_table(CircuitPlant(tailgate()))
    for evidence in states(table, 6):
        belief = believe(table, evidence)
        live = live_rows(table, belief)
        best = options(table, belief, evidence, live)[0]
        columns = [n for n, check in enumerate(table.checks) if check.offer]
        rough = coarse_gains(table, live, columns)
        assert (rough > rough[columns.index(best.column)] + 0.5).sum() <= len(columns) // 10
