"""What an apprentice did: predictions, readings and the repair named."""

from __future__ import annotations

from dataclasses import dataclass, replace

from loomwright.diagnosis import Evidence, Table
from loomwright.diagnosis.choose import minutes_for, position_after
from loomwright.plant import Check
from loomwright.practice.compare import Value, healthy_value, is_finding, near_for
from loomwright.practice.exercise import Exercise, Oracle

__all__ = ["Attempt", "Prediction", "Taken", "judge", "take"]

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


def judge(table: Table, taken: Taken, system_v: float) -> Prediction:
    """Return a prediction beside the healthy circuit and the reading.

    The prediction is generous (`near_for`: a person reckons in the head); what is called a finding
    is not (`is_finding`).
    """
    near = near_for(taken.check, system_v)
    healthy = healthy_value(table, taken.check)
    said = taken.predicted
    return Prediction(
        said, healthy, taken.value,
        said is not None and healthy is not None and near(said, healthy),
        said is not None and near(said, taken.value),
        is_finding(table, taken.check, taken.value, system_v))
