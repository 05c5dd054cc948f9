"""What a repair that did not cure means for the next one: hold it back, or go on in the group."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.table import Table

__all__ = ["GROUP_SHARE", "Tried", "surely_in_vain", "tried_before", "within_group"]

GROUP_SHARE = 0.02  # from here on a repair is named among those that no check can tell apart


@dataclass(frozen=True, slots=True)
class Tried:
    """A repair done without success, and the belief in every repair class just before it."""

    repair: str
    shares: Mapping[str, float]

    @property
    def share(self) -> float:
        """Return the belief in the repair itself when it was done."""
        return self.shares.get(self.repair, 0.0)


def tried_before(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str]
) -> tuple[Tried, ...]:
    """Return each repair done in vain with the belief by the readings taken before it.

    By single faults; earlier repairs count as done. Raises as `believe` does.
    """
    found = []
    for number, repair in enumerate(rejected):
        before = [item for item in evidence if repair not in item.after]
        classes = believe(table, before, rejected[:number]).classes
        shares = dict(zip(table.classes, map(float, classes), strict=True))
        found.append(Tried(repair, shares))
    return tuple(found)


def surely_in_vain(table: Table, tried: Sequence[Tried]) -> tuple[str, ...]:
    """Return the repairs that the readings had asked for with confidence: the reasoning failed."""
    return tuple(one.repair for one in tried if one.share >= table.settings.confidence)


def within_group(table: Table, tried: Sequence[Tried], repair: str) -> bool:
    """Return whether a repair was named with each one tried: no check could tell them apart.

    Then the first was the cheapest try (a fuse that may have blown by itself), not a conclusion,
    and the next follows from its failing. Never after a costly part.
    """
    return all(
        GROUP_SHARE <= one.share < table.settings.confidence
        and not table.repairs[one.repair].costly
        and one.shares.get(repair, 0.0) >= GROUP_SHARE
        for one in tried
    )
