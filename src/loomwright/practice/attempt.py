"""What an apprentice did: predictions, readings and the repair named."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from loomwright.diagnosis import Evidence, Table
from loomwright.diagnosis.choose import minutes_for, position_after
from loomwright.plant import Check
from loomwright.practice.exercise import Exercise, Oracle

__all__ = ["Attempt", "Prediction", "Taken", "healthy_value", "judge", "near_for", "take"]

Value = float | str
# How near "about" is; all assumed, for a person who reckons in the head.
NEAR_SHARE_OF_SYSTEM = 1 / 12  # volts: 1 V on 12 V, 2 V on 24 V
NEAR_SHARE, NEAR_LEAST_A, NEAR_LEAST_OHM = 0.3, 0.5, 2.0
OPEN_LINE_OHM = 1e7


@dataclass(frozen=True, slots=True)
class Prediction:
    """A prediction beside what a healthy circuit and this vehicle show.

    `predicted` None: the apprentice did not know. `healthy` None: nothing certain is to be seen.
    """

    predicted: Value | None
    healthy: Value | None
    shown: Value
    right_if_healthy: bool
    right_here: bool
    differs: bool  # this vehicle does not show what a healthy one would: a finding


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading of an apprentice, with the minutes it cost."""

    check: Check
    predicted: Value | None
    value: Value
    minutes: float


@dataclass(frozen=True, slots=True)
class Attempt:
    """An exercise as far as it went; `repair` is None while it runs, '' when given up."""

    exercise: Exercise
    taken: tuple[Taken, ...] = ()
    repair: str | None = None

    @property
    def evidence(self) -> tuple[Evidence, ...]:
        """Return the complaint and the readings, in order."""
        own = (Evidence(one.check, one.value) for one in self.taken)
        return (*self.exercise.complaint, *own)

    @property
    def check_minutes(self) -> float:
        """Return the minutes of all readings."""
        return sum(one.minutes for one in self.taken)


def take(table: Table, attempt: Attempt, check: Check, predicted: Value | None, oracle: Oracle
         ) -> Attempt:
    """Return the attempt with one reading more, charged as the engine charges itself.

    A place is reached once and a set-up made once; taking the same reading again costs its minutes.
    """
    minutes = minutes_for(table, check, position_after(attempt.evidence))
    before = sum(item.check.id == check.id for item in attempt.evidence)
    value = oracle(check, before)
    return replace(attempt, taken=(*attempt.taken, Taken(check, predicted, value, minutes)))


def healthy_value(table: Table, check: Check) -> Value | None:
    """Return what a healthy circuit shows at a check, None where nothing certain is to be seen."""
    model = table.model(check)
    if model.levels is not None:
        return check.levels[int(model.levels[len(model.levels) // 2, 0].argmax())]
    value = float(model.raw[len(model.raw) // 2, 0])
    return None if np.isnan(value) else value


def judge(table: Table, taken: Taken, near: Callable[[Value, Value], bool]) -> Prediction:
    """Return a prediction beside the healthy circuit and the reading.

    `near(first, second)` says whether two values of this check are the same to a person, see
    `near_for`.
    """
    healthy = healthy_value(table, taken.check)
    said = taken.predicted
    return Prediction(
        said, healthy, taken.value,
        said is not None and healthy is not None and near(said, healthy),
        said is not None and near(said, taken.value),
        healthy is not None and not near(healthy, taken.value))


def near_for(check: Check, system_v: float) -> Callable[[Value, Value], bool]:
    """Return whether two values of a check are about the same: see the constants above."""
    def near(first: Value, second: Value) -> bool:
        if isinstance(first, str) or isinstance(second, str):
            return first == second
        apart, size = abs(first - second), max(abs(first), abs(second))
        if check.unit == "V":
            return apart <= NEAR_SHARE_OF_SYSTEM * system_v
        if check.unit == "ohm" and size >= 0.5 * OPEN_LINE_OHM:
            return min(first, second) >= 0.05 * OPEN_LINE_OHM
        least = NEAR_LEAST_A if check.unit == "A" else NEAR_LEAST_OHM
        return apart <= max(NEAR_SHARE * size, least)

    return near
