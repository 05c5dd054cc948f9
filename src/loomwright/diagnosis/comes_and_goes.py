"""A function that was seen failing and works now: the fault comes and goes, nothing is cleared."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from loomwright.diagnosis.belief import Belief, Reading
from loomwright.diagnosis.choose import Option, minutes_for, position_after
from loomwright.diagnosis.misfit import misfit_probability
from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.sticky import stirred_by
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.wording import check_words
from loomwright.plant import Check

__all__ = [
    "coming_share",
    "failing_looks",
    "failing_readings",
    "interval_of",
    "look_again",
    "may_come_and_go",
    "said_intermittent",
    "seen_both_ways",
    "seen_failing",
    "trials_without_fault",
    "why_it_comes_and_goes",
]

_CONFIDENCE = 0.95
_MOST_ACTIVE = 0.9  # a fault that was there at every look is not known to be there always
_SUSPICIOUS = 0.05  # chance of so many wrong readings below which a fault may come and go
_HEALTHY_AGAIN = 0.1  # belief in no fault, though a function was seen failing, from which it may
_LEADS = 0.5
_STAYS_FAILING = 0.8  # chance that a fault just seen is still there at the next reading; assumed
_MOST_FUNCTIONS = 2
_MOST_IDLE = 2  # looks one after another without stirring anything
_MOST_LOOKS = 15  # looks one after another at a function that goes on working


def failing_readings(belief: Belief) -> list[Reading]:
    """Return the functions seen failing since the last repair, which a healthy plant would not."""
    return [reading for reading, wrong in zip(belief.readings, belief.wrong, strict=True)
            if reading.check.instrument == "eye" and float(wrong[0]) > 0.5
            and belief.repeatable(reading)]


def may_come_and_go(table: Table, belief: Belief) -> bool:
    """Return whether what was seen failing may be a fault that is not always there.

    A function seen failing that was also seen working, or belief in no fault again, or more wrong
    readings needed than is likely.
    """
    if not failing_readings(belief):
        return False
    if seen_both_ways(belief):
        return True
    return (float(belief.rows[0]) > _HEALTHY_AGAIN
            or misfit_probability(table, belief) < _SUSPICIOUS)


def seen_both_ways(belief: Belief) -> bool:
    """Return whether a function seen failing since the last repair was also seen working."""
    failing = failing_readings(belief)
    both = {(one.check.at, one.check.state, one.after) for one in failing}
    return any((one.check.at, one.check.state, one.after) in both
               and one.check.instrument == "eye" and one not in failing
               for one in belief.readings)


def coming_share(table: Table, belief: Belief) -> float:
    """Return the belief in faults that come and go."""
    if table.sticky is None:
        return 0.0
    return float(belief.rows[table.sticky.there].sum() + belief.rows[table.sticky.away].sum())


def failing_looks(belief: Belief) -> tuple[Check, ...]:
    """Return the plain looks by which functions were seen failing, at most two."""
    looks = [one.check for one in failing_readings(belief) if not one.check.action]
    return tuple(dict.fromkeys(looks))[:_MOST_FUNCTIONS]


def look_again(
    table: Table, belief: Belief, evidence: Sequence[Evidence], ranked: Sequence[Option]
) -> Check | None:
    """Return the function to look at, with something wiggled or not, before measuring; or None.

    While a fault that comes and goes is away, readings say nothing about it. A look is cheap: it
    comes first while waiting for the fault by looks and then measuring gains more a minute than
    measuring at once, p / m < s / (l / q + m) with p the chance that it is there, s that it stays,
    q that the look shows it, l and m the minutes of the look and of the best check. None where the
    best check is such a look already.
    """
    share = coming_share(table, belief)
    looks = failing_looks(belief)
    if share <= _LEADS or not looks or _looked_long(evidence):
        return None
    if ranked and ranked[0].check.instrument == "eye":
        return None
    position = position_after(evidence)
    stirs = [one for one in table.checks if one.action]
    idle = [item for item in evidence[-_MOST_IDLE:] if item.check in looks]
    offered = stirs if stirs and len(idle) == _MOST_IDLE else [*looks, *stirs]
    now = _shows(table, belief, looks[0]) / share
    there = [_shows(table, belief, one) / share for one in offered]
    minutes = [minutes_for(table, one, position) for one in offered]
    best = max(range(len(offered)), key=lambda n: there[n] / minutes[n])
    measure = ranked[0].minutes if ranked else 1.0
    waited = now * (minutes[best] / max(there[best], 1e-9) + measure)
    return offered[best] if waited < _STAYS_FAILING * measure else None


def _shows(table: Table, belief: Belief, check: Check) -> float:
    """Return the belief that the fault is there during a look."""
    assert table.sticky is not None
    there, away = belief.rows[table.sticky.there], belief.rows[table.sticky.away]
    return float(there.sum() + away @ stirred_by(table, check))


def _looked_long(evidence: Sequence[Evidence]) -> bool:
    """Return whether the last readings all were looks."""
    return len(evidence) >= _MOST_LOOKS and all(
        item.check.instrument == "eye" for item in evidence[-_MOST_LOOKS:])


def seen_failing(belief: Belief) -> Reading | None:
    """Return a function that somebody saw failing and that a healthy plant would not, else None.

    One row stands for no fault; a reading that it calls wrong with more than even odds.
    """
    return next(iter(failing_readings(belief)), None)


def trials_without_fault(failures: int, looks: int, confidence: float = _CONFIDENCE) -> int:
    """Return how many trials without the fault show that it is gone, each independent.

    A fault there in a share `a` of the looks stays away n times with (1 - a)^n: the rule of three,
    n about 3 / a at 95 %. `a` is failures over looks so far, at most 0.9.
    """
    active = min(failures / looks, _MOST_ACTIVE)
    return math.ceil(math.log(1.0 - confidence) / math.log(1.0 - active))


def interval_of(
    evidence: Sequence[Evidence], working: Mapping[str, str]
) -> tuple[Check, int] | None:
    """Return the look to be repeated without the fault after a repair, and how often; else None.

    `working` gives the level of a healthy plant by the id of each look. Only for a function that
    was seen both failing and working before the repair; the one that failed in most looks.
    """
    seen: dict[Check, list[bool]] = {}
    for item in evidence:
        if item.check.id in working:
            seen.setdefault(item.check, []).append(item.value != working[item.check.id])
    both = {check: bad for check, bad in seen.items() if any(bad) and not all(bad)}
    if not both:
        return None
    look = max(both, key=lambda check: sum(both[check]) / len(both[check]))
    return look, trials_without_fault(sum(both[look]), len(both[look]))


def why_it_comes_and_goes(belief: Belief, failing: Reading) -> str:
    """Return what to do about a fault that was seen and is not there now."""
    looks = sum(len(one.indices) for one in belief.readings if one.check == failing.check)
    failures = len(failing.indices)
    trials = trials_without_fault(failures, looks)
    return (
        f"Intermittent: {check_words(failing.check)} read {failing.value} in {failures} of {looks} "
        "looks, and not all other readings are those of a fault that is always there: it comes and "
        "goes, so a good reading clears nothing. Wiggle loom and plugs, then heat, then load the "
        f"circuit, and read while it fails. After a repair, {trials} trials in the same way "
        "without the fault show with 95 % that it is gone."
    )


def said_intermittent(table: Table, belief: Belief, why: str) -> str:
    """Return the reason of a verdict, said to be about a fault that comes and goes where it is."""
    failing = seen_failing(belief)
    if failing is None or coming_share(table, belief) <= _LEADS:
        return why
    return f"{why_it_comes_and_goes(belief, failing)} {why}"
