"""The best plan over few checks: the least minutes of a whole job where outcomes are certain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loomwright.diagnosis import Evidence, Settings, build_table, diagnose
from loomwright.diagnosis.ahead import best_plan
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.choose import options, position_after
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.diagnosis.outlook import live_rows
from loomwright.diagnosis.value import stop_cost
from loomwright.diagnosis.whole_job import least_minutes
from loomwright.plant import Repair

EXACT = Settings(wrong_reading=0.0, unmodelled_prior=0.0, complaint_no_fault=0.0)
SINGLE = 1e-4  # minutes; chances of outcomes are kept in single precision


def random_table(seed, faults=7, checks=5, settings=EXACT):
    """Return faults told apart by on and off, each check at one of two places."""
    rng = np.random.default_rng(seed)
    shown = {"fine": "0" * checks} | {
        f"F{n}": "".join(rng.choice(["0", "1"], checks)) for n in range(faults)}
    priors = {"fine": 1.0} | {f"F{n}": float(rng.uniform(0.05, 1.0)) for n in range(faults)}
    plant = MatrixPlant.from_outcomes(shown, priors, list(rng.uniform(0.5, 4.0, checks)))
    moved = tuple(replace(check, place=str(rng.choice(["cab", "rear"])), setup="on")
                  for check in plant.check_list)
    repairs = {name: Repair(name, name, float(rng.uniform(5.0, 30.0)))
               for name in plant.repair_classes}
    return build_table(replace(plant, check_list=moved, repair_classes=repairs,
                               place_minutes={"cab": 1.0, "rear": 6.0},
                               setup_minutes={"on": 0.5}), settings)


def plan_of(table, evidence=()):
    belief = believe(table, evidence)
    live = live_rows(table, belief)
    ranked = options(table, belief, evidence, live)
    return best_plan(table, live, ranked, position_after(evidence)), stop_cost(table, live)


@pytest.mark.parametrize("seed", range(6))
def test_the_plan_saves_what_dynamic_programming_over_sets_saves(seed):
    table = random_table(seed)
    plan, now = plan_of(table)
    assert plan is not None
    assert now - max(plan.net_min, 0.0) == pytest.approx(least_minutes(table).total, abs=SINGLE)


def test_a_plan_of_many_checks_is_not_worked():
    table = random_table(1, checks=10)
    plan, _ = plan_of(table)
    assert plan is None


def test_wrong_readings_make_a_check_worth_less():
    sure, _ = plan_of(random_table(2))
    unsure, _ = plan_of(random_table(2, settings=replace(EXACT, wrong_reading=0.2)))
    assert sure is not None
    assert unsure is not None
    assert unsure.net_min < sure.net_min


def test_the_engine_takes_the_first_check_of_the_plan():
    table = random_table(4, settings=Settings())
    plan, _ = plan_of(table)
    assert plan is not None
    assert diagnose(table, ()).next_checks[0].check == plan.option.check
    after = (Evidence(plan.option.check, "1"),)
    second, _ = plan_of(table, after)
    assert second is None or second.option.check != plan.option.check
