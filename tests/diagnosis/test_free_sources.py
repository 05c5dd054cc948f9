"""An unknown current between two points: by hand, against a dense covariance, and at limits."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from loomwright.diagnosis.free_sources import StateReadings, tally

NEVER = -1e9  # log likelihood of a wrong reading where none is wrong


def one_node(residual: list[float], sd: list[float], response: list[list[float]],
             wrong: float = NEVER) -> StateReadings:
    count = len(residual)
    share = 0.0 if wrong == NEVER else 0.03
    return StateReadings(np.array([residual]), np.array([sd]), np.array(response),
                         np.full(count, math.log1p(-share)), np.full((1, count), wrong))


def normal_log(value: np.ndarray, covariance: np.ndarray) -> float:
    """Return the log density of a normal about zero, by the dense inverse and determinant."""
    quadratic = float(value @ np.linalg.inv(covariance) @ value)
    return -0.5 * (quadratic + math.log(np.linalg.det(2.0 * math.pi * covariance)))


def test_current_out_of_the_middle_of_a_divider_by_hand() -> None:
    """10 V over 1 and 1 ohm: 5 V in the middle, seen through 0.5 ohm, so 2 A out of it is 4 V.

    Prior 10 A, reading good to 0.1 V: mean 100 x 0.5 / (0.01 + 25) = 1.9992 A, standard deviation
    sqrt(100 / (1 + 25 / 0.01)) = 0.19996 A.
    """
    healthy, middle_ohm = 10.0 * 1.0 / 2.0, 1.0 * 1.0 / 2.0
    found = tally(one_node([4.0 - healthy], [0.1], [[-middle_ohm]]), np.array([10.0]))
    assert found.mean[0, 0] == pytest.approx(50.0 / 25.01, rel=1e-12)
    assert math.sqrt(found.variance[0, 0]) == pytest.approx(math.sqrt(100.0 / 2501.0), rel=1e-9)
    assert found.log[0, 0] == pytest.approx(
        -0.5 * (1.0 / 25.01 + math.log(2.0 * math.pi * 25.01)), rel=1e-12)


def test_agrees_with_the_dense_covariance_over_every_set_of_wrong_readings() -> None:
    """Four readings, two places, two battery steps; sets of four wrong are left out by design."""
    rng = np.random.default_rng(4)
    residual, sd = rng.normal(size=(2, 4)), rng.uniform(0.1, 1.0, (2, 4))
    response, prior_sd = rng.normal(size=(2, 4)), np.array([0.7, 3.0])
    right, wrong = np.log1p(-rng.uniform(0.01, 0.1, 4)), rng.normal(-6.0, 1.0, (2, 4))
    found = tally(StateReadings(residual, sd, response, right, wrong), prior_sd)
    for node, place in itertools.product(range(2), range(2)):
        total = 0.0
        for size in range(4):
            for bad in itertools.combinations(range(4), size):
                good = [n for n in range(4) if n not in bad]
                z = response[place, good]
                dense = np.diag(sd[node, good] ** 2) + prior_sd[place] ** 2 * np.outer(z, z)
                total += math.exp(normal_log(residual[node, good], dense) + right[good].sum()
                                  + wrong[node, list(bad)].sum())
        assert found.log[node, place] == pytest.approx(math.log(total), rel=1e-10)


def test_no_current_allowed_gives_the_healthy_row() -> None:
    """Prior to 0: the product of each reading's own mixture, right or wrong."""
    residual, sd, wrong = [0.3, -2.0, 0.1], [0.1, 0.5, 0.2], -5.0
    found = tally(one_node(residual, sd, [[1.0, -2.0, 0.5]], wrong), np.array([1e-9]))
    each = [0.97 * math.exp(normal_log(np.array([r]), np.array([[s * s]]))) + math.exp(wrong)
            for r, s in zip(residual, sd, strict=True)]
    assert found.log[0, 0] == pytest.approx(math.log(math.prod(each)), rel=1e-9)
    assert found.mean[0, 0] == pytest.approx(0.0, abs=1e-12)


def test_one_wrong_reading_does_not_move_the_current() -> None:
    """Three readings say 2 A; a fourth says 20 A. Counted as right it would give 6.5 A."""
    read = one_node([2.0, 2.0, 2.0, 20.0], [0.1] * 4, [[1.0] * 4], wrong=-6.0)
    found = tally(read, np.array([10.0]))
    assert found.mean[0, 0] == pytest.approx(2.0, abs=0.01)  # prior pulls it by sd2/(3 prior2)


def test_order_of_the_readings_does_not_matter() -> None:
    residual, sd, response = [1.0, -0.5, 0.2], [0.1, 0.3, 0.2], [1.0, -0.4, 0.3]
    first = tally(one_node(residual, sd, [response], -4.0), np.array([5.0]))
    second = tally(one_node(residual[::-1], sd[::-1], [response[::-1]], -4.0), np.array([5.0]))
    assert first.log[0, 0] == pytest.approx(second.log[0, 0], rel=1e-12)
    assert first.mean[0, 0] == pytest.approx(second.mean[0, 0], rel=1e-12)
