"""An ended attempt step by step: what each reading told, what would have told more."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.diagnosis import Evidence, Table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.outlook import class_gains, live_rows
from loomwright.plant import Check
from loomwright.practice.attempt import Attempt, Taken

__all__ = ["ReplayLine", "gain_bits", "replay"]


@dataclass(frozen=True, slots=True)
class ReplayLine:
    """One reading: its information before it was taken, beside the best check of that moment.

    `best` is None when nothing more could tell the repairs apart. `proved` says that the evidence
    already showed the right repair, so that this reading was not needed. `belief` is that in the
    right repair after it.
    """

    number: int
    taken: Taken
    bits: float
    best: Check | None
    best_bits: float
    best_minutes: float
    proved: bool
    belief: float

    @property
    def rate(self) -> float:
        """Return bits per minute of the reading taken."""
        return self.bits / max(self.taken.minutes, 1e-9)

    @property
    def best_rate(self) -> float:
        """Return bits per minute of the best check."""
        return self.best_bits / self.best_minutes if self.best_minutes else 0.0

    @property
    def better_was_there(self) -> bool:
        """Return whether another check would have told clearly more per minute."""
        return (self.best is not None and self.best.id != self.taken.check.id
                and self.best_rate > 1.05 * self.rate)


def gain_bits(table: Table, evidence: Sequence[Evidence], check: Check) -> float:
    """Return the expected information of any check about the repair [bit], after some readings."""
    kept = {one.name: one.default_factory() for one in dataclasses.fields(table)
            if one.name.startswith("_") and callable(one.default_factory)}
    small = dataclasses.replace(table, checks=(check,), models=(table.model(check),), **kept)
    live = live_rows(table, believe(table, evidence))
    return float(class_gains(small, live, [0])[0]) if live.classes.size > 1 else 0.0


def replay(table: Table, attempt: Attempt) -> tuple[ReplayLine, ...]:
    """Return what each reading told and what the engine would have read there instead."""
    start = len(attempt.exercise.complaint)
    evidence, truth = attempt.evidence, attempt.exercise.fault.repair
    lines = []
    for number, taken in enumerate(attempt.taken):
        before = evidence[:start + number]
        answer = diagnose(table, before, next_count=1)
        best = answer.next_checks[0] if answer.next_checks else None
        proved = answer.verdict.status == "repair" and answer.verdict.repair == truth
        after = believe(table, evidence[:start + number + 1])
        belief = float(after.classes[table.classes.index(truth)])
        lines.append(ReplayLine(
            number + 1, taken, gain_bits(table, before, taken.check),
            best.check if best else None, best.gain_bits if best else 0.0,
            best.minutes if best else 0.0, proved, belief))
    return tuple(lines)
