"""Simulated jobs: the engine recovers faults from noisy readings, and beats other choosers."""

from __future__ import annotations

import numpy as np
import pytest

from loomwright.diagnosis import build_table
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.diagnosis.optimal import optimal_minutes
from loomwright.diagnosis.policies import POLICIES, Limits, run_episode
from loomwright.errors import UsageError
from tests.support.plants import random_plant, series_plant


def oracle_of(plant, row, rng, wrong=0.0, noise=0.05):
    """Return a meter on a plant with the fault of that row."""
    column_of = {check.id: n for n, check in enumerate(plant.checks())}

    def read(check):
        if rng.random() < wrong:
            return float(rng.uniform(*check.span))
        return float(plant.mean[0, row, column_of[check.id]] + rng.normal(0.0, noise))

    return read


def run(policy, plant, wrong=0.0, seed=0, each=1):
    table = build_table(plant)
    rng = np.random.default_rng(seed)
    episodes = []
    for row, fault in enumerate(plant.faults(), start=1):
        for _ in range(each):
            oracle = oracle_of(plant, row, rng, wrong)
            episodes.append(run_episode(table, POLICIES[policy], oracle, rng, truth=fault.repair))
    return episodes


@pytest.mark.parametrize("policy", list(POLICIES))
def test_every_policy_finds_breaks_in_a_chain(policy):
    episodes = run(policy, series_plant(8))
    assert all(episode.right for episode in episodes)
    assert all(episode.status == "repair" for episode in episodes)


def test_information_needs_fewer_minutes_than_random_and_likelihood_only():
    plant = series_plant(16)
    mean = {
        name: np.mean([episode.minutes for episode in run(name, plant, each=2)])
        for name in ("information per minute", "random", "likelihood only")
    }
    assert mean["information per minute"] < mean["random"]
    assert mean["information per minute"] < mean["likelihood only"]


def test_noisy_and_wrong_readings_still_find_the_fault():
    right = []
    for seed in range(4):
        plant = random_plant(seed, faults=12, checks=30, nuisance=1)
        right += [episode.right for episode in run("information per minute", plant, 0.03, seed, 4)]
    assert np.mean(right) >= 0.96  # 192 jobs, 3 % wrong readings; sampling error 1.2 points


def test_limit_of_readings_is_kept():
    plant = series_plant(8)
    table = build_table(plant)
    rng = np.random.default_rng(0)
    oracle = oracle_of(plant, 3, rng)
    episode = run_episode(table, POLICIES["random"], oracle, rng, Limits(readings=1))
    assert len(episode.readings) == 1
    assert episode.right is None


def test_exact_sequencing_refuses_numbers_and_large_tables():
    with pytest.raises(UsageError, match="certain"):
        optimal_minutes(build_table(series_plant(3)))
    names = [f"s{n}" for n in range(25)]
    outcomes = {name: f"{n:05b}" for n, name in enumerate(names)}
    big = MatrixPlant.from_outcomes(outcomes, dict.fromkeys(names, 0.04), [1.0] * 5)
    with pytest.raises(UsageError, match="at most"):
        optimal_minutes(build_table(big))
