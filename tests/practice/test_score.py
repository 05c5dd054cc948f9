"""Scores: equal to the engine for who does as it does, no better by luck, worse by chance."""

import random
from dataclasses import replace

import pytest

from loomwright.diagnosis import diagnose
from loomwright.practice import Attempt, replay, score, take
from tests.practice.benches import exercise, oracle, table

CASES = [(level, seed) for level in (1, 2, 3) for seed in range(4)]


def engine_like(one):
    """Return the attempt of an apprentice who always takes the best next check."""
    attempt, read = Attempt(one), oracle(one)
    for _ in range(30):
        answer = diagnose(table(), attempt.evidence, next_count=1)
        if answer.verdict.status in ("repair", "no fault found") or not answer.next_checks:
            break
        attempt = take(table(), attempt, answer.next_checks[0].check, None, read)
    return replace(attempt, repair=answer.verdict.repair)


@pytest.mark.parametrize(("level", "seed"), CASES)
def test_who_follows_the_engine_is_as_good_as_the_engine(level, seed):
    one = exercise(level, seed)
    found = score(table(), engine_like(one), oracle(one))
    # The sums are the same minutes added in another order.
    assert found.mine.total_min == pytest.approx(found.best.total_min, rel=1e-9)
    assert found.points == (100 if found.mine.right else 50)


def by_chance(one, readings):
    """Return an attempt of some random readings, then the likeliest repair."""
    dice, attempt, read = random.Random(one.id), Attempt(one), oracle(one)
    for check in dice.sample([check for check in table().checks if check.offer], readings):
        attempt = take(table(), attempt, check, None, read)
    return replace(attempt, repair=diagnose(table(), attempt.evidence).suspects[0].repair)


@pytest.mark.parametrize("readings", [0, 3, 8])
def test_nobody_beats_the_engine_in_the_mean(readings):
    scores = [score(table(), by_chance(exercise(*case), readings), oracle(exercise(*case)))
              for case in CASES]
    mine = sum(one.mine.total_min for one in scores)
    best = sum(one.best.total_min for one in scores)
    assert mine > best
    assert all(0 <= one.points <= 100 for one in scores)


def test_a_lucky_guess_is_charged_the_chance_that_it_was_wrong():
    one = exercise(1, 0)
    guess = score(table(), Attempt(one, (), one.fault.repair), oracle(one))
    assert guess.mine.right
    assert guess.mine.miss_min > 30  # most of a comeback of 60 min: it was mostly unlikely
    assert guess.points < 60


def test_a_wrong_repair_costs_its_part_a_comeback_and_the_right_one_too():
    one = exercise(1, 0)
    wrong = next(name for name, repair in table().repairs.items()
                 if name != one.fault.repair and repair.price > 0)
    found = score(table(), Attempt(one, (), wrong), oracle(one))
    settings, named = table().settings, table().repairs[wrong]
    assert found.mine.miss_min == pytest.approx(
        named.minutes + named.price / settings.labour_rate_per_min + settings.comeback_min)
    assert found.mine.repair_min == table().repairs[one.fault.repair].minutes
    assert found.points <= 50


def test_giving_up_is_no_repair():
    one = exercise(1, 0)
    found = score(table(), Attempt(one, (), ""), oracle(one))
    assert not found.mine.right
    assert found.points <= 50


def test_the_replay_agrees_with_the_engine_and_says_when_it_was_proved():
    one = exercise(1, 1)
    followed = engine_like(one)
    lines = replay(table(), followed)
    assert len(lines) == len(followed.taken) >= 2
    assert not any(line.better_was_there or line.proved for line in lines)
    more = take(table(), followed, followed.taken[0].check, None, oracle(one))
    assert replay(table(), more)[-1].proved


def test_the_replay_names_a_better_check_where_there_was_one():
    one = exercise(1, 1)
    # Volts at the battery with everything off tell next to nothing about a silent horn.
    poor = table().plant.check_for("at rest", "voltage", "BAT.+")
    line = replay(table(), take(table(), Attempt(one), poor, None, oracle(one)))[0]
    assert line.better_was_there
    assert line.best_rate > line.rate
    assert line.best is not None
    assert line.best.id != poor.id


def test_a_place_is_reached_once():
    one = exercise(1, 1)
    check = table().plant.check_for("sounding", "voltage", "F1.1")
    attempt = take(table(), Attempt(one), check, None, oracle(one))
    again = take(table(), attempt, check, None, oracle(one))
    assert again.taken[1].minutes == check.minutes
    assert again.taken[0].minutes > again.taken[1].minutes
