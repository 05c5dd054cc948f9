"""The least minutes of a whole job, against sums by hand and against other choosers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.diagnosis.cases import make_bench
from benchmarks.diagnosis.families import FAMILIES
from benchmarks.diagnosis.small import POLICIES, small_table, table_lines, worked
from loomwright.diagnosis import Settings, build_table
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.diagnosis.optimal import optimal_minutes
from loomwright.diagnosis.whole_job import least_minutes, minutes_of_policy
from loomwright.errors import UsageError
from loomwright.plant import Repair

EXACT = Settings(wrong_reading=0.0, unmodelled_prior=0.0, complaint_no_fault=0.0)
EXACTLY = 1e-9  # sums of a few doubles


def two_faults(price=0.0, reach=4.0):
    """Return A (0.75) and B (0.25), parted by one check of 2 minutes behind a cover."""
    plant = MatrixPlant.from_outcomes({"fine": "0", "A": "0", "B": "1"},
                                      {"fine": 1.0, "A": 0.75, "B": 0.25}, [2.0])
    check = replace(plant.check_list[0], place="cover", setup="on")
    repairs = {name: Repair(name, name, 10.0, price) for name in plant.repair_classes}
    return build_table(replace(plant, check_list=(check,), repair_classes=repairs,
                               place_minutes={"cover": reach}, setup_minutes={"on": 0.5}), EXACT)


def test_a_check_that_repays_its_way_is_taken():
    found = least_minutes(two_faults())
    # stopping: 10 + 0.25 (60 + 10) = 27.5; the check: 4 + 0.5 + 2, then the right repair
    assert found.checks == pytest.approx(6.5, abs=EXACTLY)
    assert found.repairs == pytest.approx(10.0, abs=EXACTLY)


def test_a_check_that_does_not_is_left_out():
    found = least_minutes(two_faults(reach=20.0))
    assert found.checks == 0.0
    assert found.repairs == pytest.approx(27.5, abs=EXACTLY)


def test_the_same_as_the_sequence_where_repairs_cost_alike():
    outcomes = {"fine": "000", "A": "001", "B": "010", "C": "100", "D": "111"}
    plant = MatrixPlant.from_outcomes(
        outcomes, {"fine": 1.0, "A": 0.4, "B": 0.3, "C": 0.2, "D": 0.1}, [1.0, 2.0, 3.0])
    table = build_table(plant, EXACT)
    assert least_minutes(table).checks == pytest.approx(optimal_minutes(table)[0], abs=EXACTLY)


def test_more_checks_than_can_be_worked_are_refused():
    names = {"fine": "0" * 10, "A": "1" * 10}
    table = build_table(MatrixPlant.from_outcomes(names, {"fine": 1.0, "A": 1.0}, [1.0] * 10),
                        EXACT)
    with pytest.raises(UsageError, match="at most 9 checks"):
        least_minutes(table)


def test_nothing_beats_the_least_and_the_engine_is_within_a_twentieth():
    jobs = [worked(family, 3, 11) for family in (0, 6)]
    done = [one for one in jobs if one is not None]
    assert done
    for one in done:
        assert all(minutes.total >= one.least.total - EXACTLY for minutes in one.policies.values())
        assert one.checks <= 9
    total = sum(one.policies["engine"].total for one in done)
    assert total <= 1.05 * sum(one.least.total for one in done)
    assert len(table_lines(done)) == 5 + len(POLICIES)


def test_a_small_job_has_certain_outcomes_that_part_its_repairs():
    bench = make_bench(FAMILIES[1], 4)
    table = small_table(bench, np.random.default_rng(2))
    assert table is not None
    shown = np.stack([model.levels[0].argmax(axis=1)[1:-1] for model in table.models])
    assert len({tuple(column) for column in shown.T}) == shown.shape[1]
    found = minutes_of_policy(table, POLICIES["engine"])
    assert found.checks > 0.0
