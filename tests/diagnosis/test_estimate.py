"""Estimates of minutes and money: spreads, stop points, swapping by hand, bounds, reproducible."""

from __future__ import annotations

import itertools

import pytest

from loomwright.diagnosis import Evidence, Settings, build_table
from loomwright.diagnosis.estimate import SEARCH_MIN, Bounds, estimate
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.errors import UsageError

# Four faults, three certain checks that name each of them.
OUTCOMES = {
    "fine": ["o", "o", "o"], "alpha": ["x", "o", "o"], "beta": ["o", "x", "o"],
    "gamma": ["x", "x", "o"], "delta": ["x", "x", "x"],
}
PRIORS = {"fine": 1e-6, "alpha": 0.4, "beta": 0.3, "gamma": 0.2, "delta": 0.1}
SURE = Settings(wrong_reading=0.0, unmodelled_prior=1e-9, complaint_no_fault=1e-6)
FEW = Bounds(episodes=40, seconds=300.0)


@pytest.fixture(scope="module")
def table():
    return build_table(MatrixPlant.from_outcomes(OUTCOMES, PRIORS, [5.0, 5.0, 5.0]), SURE)


@pytest.fixture(scope="module")
def found(table):
    return estimate(table, (), FEW)


def test_spreads_are_ordered_and_the_count_is_stated(found):
    assert found.episodes == found.asked_episodes == 40
    for spread in (found.check_min, found.test_first_min, found.test_first_money,
                   found.swap_first_min, found.swap_first_money):
        assert 0.0 <= spread.p50 <= spread.p90
    assert found.check_min.p90 <= 15.0 + 1e-9  # three checks of five minutes tell everything


def test_certain_checks_find_every_fault_and_change_nothing_in_vain(found):
    assert found.found == 1.0
    assert (found.wrong_parts, found.handed_on) == (0.0, 0.0)


def test_stop_points_rise_with_the_share(found):
    times = [point.minutes for point in found.stop_points]
    assert [point.share for point in found.stop_points] == [0.5, 0.8, 0.95]
    assert all(a <= b for a, b in itertools.pairwise(times))
    assert found.stop_points[0].money == pytest.approx(times[0] * found.rate_per_min)


def test_swapping_one_known_fault_costs_its_repair(table):
    """After readings that leave one fault, both ways cost that repair alone."""
    evidence = [Evidence(check, value) for check, value in zip(table.checks, "oxo", strict=True)]
    answer = estimate(table, evidence, FEW)
    minutes = table.repairs["mend beta"].minutes
    assert answer.swap_first_min.p90 == pytest.approx(minutes)
    assert answer.test_first_min.p90 == pytest.approx(minutes)
    assert answer.swap_wrong_parts == answer.wrong_parts == 0.0


def test_swap_minutes_are_sums_of_repairs(table, found):
    """Equal repairs tried in the order alpha, beta, gamma, delta: never more than all four."""
    longest = sum(table.repairs[f"mend {name}"].minutes for name in list(OUTCOMES)[1:])
    assert found.swap_first_min.p90 <= longest + 1e-9
    assert found.swap_wrong_parts <= 3.0


def test_the_rate_prices_labour(table):
    dear = build_table(table.plant, Settings(
        wrong_reading=0.0, unmodelled_prior=1e-9, complaint_no_fault=1e-6,
        labour_rate_per_min=3.0))
    answer = estimate(dear, (), FEW)
    assert answer.swap_first_money.mean == pytest.approx(3.0 * answer.swap_first_min.mean)


def test_the_same_seed_gives_the_same_answer_and_another_seed_another(table, found):
    assert estimate(table, (), FEW) == found
    other = estimate(table, (), Bounds(episodes=40, seconds=300.0, seed=2))
    assert other.test_first_min != found.test_first_min or other.swap_first_min != \
        found.swap_first_min


def test_time_bounds_the_episodes_but_twenty_are_always_played(table):
    ticks = itertools.count()
    answer = estimate(table, (), Bounds(episodes=500, seconds=30.0), clock=lambda: next(ticks))
    assert answer.asked_episodes == 500
    assert 20 <= answer.episodes < 500


def test_a_fault_outside_the_table_is_handed_on_and_searched_for():
    outside = Settings(wrong_reading=0.0, unmodelled_prior=0.999, complaint_no_fault=1e-6)
    plant = MatrixPlant.from_outcomes(OUTCOMES, PRIORS, [5.0, 5.0, 5.0])
    answer = estimate(build_table(plant, outside), (), Bounds(episodes=20))
    assert answer.handed_on > 0.5
    assert answer.test_first_min.p50 >= SEARCH_MIN


@pytest.mark.parametrize("bounds", [Bounds(episodes=0), Bounds(episodes=100_001),
                                    Bounds(seconds=0.0), Bounds(seconds=float("nan"))])
def test_bounds_out_of_range_are_refused(table, bounds):
    with pytest.raises(UsageError, match="1 to 100000"):
        estimate(table, (), bounds)
