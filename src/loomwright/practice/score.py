"""What an attempt cost beside the engine on the same vehicle: minutes, parts, and luck priced."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loomwright.diagnosis import Evidence, Table
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.policies import POLICIES, run_episode
from loomwright.plant import Check
from loomwright.practice.attempt import Attempt
from loomwright.practice.exercise import Exercise, Oracle

__all__ = ["BEST_POLICY", "Price", "Score", "price", "score"]

BEST_POLICY = "information per minute"


@dataclass(frozen=True, slots=True)
class Price:
    """What one way through an exercise costs, in minutes; money is counted as labour minutes.

    `repair_min` is the work on the right repair; `miss_min` what a wrong one costs (its work, its
    part, the comeback), or for a right one that chance the readings still left of it.
    """

    repair: str
    right: bool
    belief: float  # in the repair named, after the readings taken
    checks_min: float
    repair_min: float
    miss_min: float
    parts_money: float
    readings: int

    @property
    def total_min(self) -> float:
        """Return all of it together."""
        return self.checks_min + self.repair_min + self.miss_min


@dataclass(frozen=True, slots=True)
class Score:
    """The apprentice's way and the engine's. `points` 0 to 100, 100 when as good as the engine."""

    mine: Price
    best: Price
    best_readings: tuple[Evidence, ...]

    @property
    def points(self) -> int:
        """Return the engine's cost as a share of one's own [%]; half of it for a wrong repair."""
        share = 100.0 * min(1.0, self.best.total_min / max(self.mine.total_min, 1e-9))
        return int((share if self.mine.right else share / 2) + 0.5)


def price(
    table: Table, exercise: Exercise, evidence: tuple[Evidence, ...], repair: str,
    checks_min: float,
) -> Price:
    """Return what naming a repair after some readings costs.

    A wrong repair costs its own work and part and a comeback, and the right one is still to do. A
    right one is charged the same by the chance that it was wrong as far as the readings told, so
    that a lucky guess is no better than it deserves.
    """
    settings, true = table.settings, table.repairs[exercise.fault.repair]
    right = repair == true.id
    named = table.repairs.get(repair)
    part = named.price if named else 0.0
    wasted = (named.minutes if named else 0.0) + part / settings.labour_rate_per_min
    classes = dict(zip(table.classes, believe(table, evidence).classes, strict=True))
    belief = float(classes.get(repair, 0.0)) if named else 0.0
    miss = (1.0 - belief if right else 1.0) * (wasted + settings.comeback_min)
    money = part if right else part + true.price
    return Price(repair, right, belief, checks_min, true.minutes, miss, money,
                 len(evidence) - len(exercise.complaint))


def score(table: Table, attempt: Attempt, oracle: Oracle) -> Score:
    """Return an ended attempt beside the engine on the same vehicle with the same meter error."""
    exercise = attempt.exercise
    mine = price(table, exercise, attempt.evidence, attempt.repair or "", attempt.check_minutes)
    times: dict[str, int] = {}
    for item in exercise.complaint:
        times[item.check.id] = times.get(item.check.id, 0) + 1

    def read(check: Check) -> float | str:
        before = times.get(check.id, 0)
        times[check.id] = before + 1
        return oracle(check, before)

    episode = run_episode(table, POLICIES[BEST_POLICY], read, np.random.default_rng(exercise.seed),
                          evidence=exercise.complaint)
    named = table.repairs.get(episode.repair)
    checks_min = episode.minutes - (named.minutes if named else 0.0)
    best = price(table, exercise, episode.readings, episode.repair, checks_min)
    return Score(mine, best, episode.readings[len(exercise.complaint):])
