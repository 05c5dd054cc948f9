"""Where the job stands: look further, repair, no fault found, or unexplained."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from loomwright.diagnosis.ahead import Plan
from loomwright.diagnosis.belief import Belief, Reading
from loomwright.diagnosis.choose import Option, Position
from loomwright.diagnosis.comes_and_goes import seen_failing, why_it_comes_and_goes
from loomwright.diagnosis.confirm import cheapest_confirmation, taken_once
from loomwright.diagnosis.holding import GROUP_SHARE, Tried, surely_in_vain, within_group
from loomwright.diagnosis.misfit import misfit_probability
from loomwright.diagnosis.noticed import all_seen_working
from loomwright.diagnosis.outlook import LiveRows
from loomwright.diagnosis.records import Suspect, Verdict
from loomwright.diagnosis.table import NO_REPAIR, UNMODELLED, Table
from loomwright.diagnosis.value import best_worth, repair_minutes
from loomwright.diagnosis.why import (
    because,
    why_in_vain,
    why_no_fault,
    why_repair,
    why_second_part,
    why_unexplained,
)
from loomwright.diagnosis.wording import check_words, percent, repair_words, value_words
from loomwright.plant import Check, Hypothesis

__all__ = ["LOOK", "Decision", "Standing", "decide", "doubtful_readings"]

LOOK, REPAIR, HEALTHY, UNEXPLAINED = "look further", "repair", "no fault found", "unexplained"

_MISFIT = 0.003  # below this chance of so many wrong readings, no row explains them
_UNMODELLED_RULES = 0.5
_CERTAIN = 0.999  # above this no check can be worth a minute
_DOUBT = 0.5
_HANGS_A_LITTLE = 0.1
_MOST_TAKEN = 3  # readings of one check before repeating it more is no answer
_MOSTLY = 0.8  # belief in no fault from which a check has to repay its minutes; assumed
_NEARLY = 0.9  # from here on a repeat of the reading that most doubt hangs on is the next check


@dataclass(frozen=True, slots=True)
class Standing:
    """All that the verdict is made of."""

    table: Table
    belief: Belief
    live: LiveRows
    suspects: tuple[Suspect, ...]
    ranked: tuple[Option, ...]
    tried: tuple[Tried, ...]
    allow_second_part: bool
    position: Position
    plan: Plan | None  # the best plan, where it was computed

    @property
    def shares(self) -> dict[str, float]:
        """Return the probability of each repair class."""
        classes = zip(self.table.classes, self.belief.classes, strict=True)
        return {name: float(share) for name, share in classes}


@dataclass(frozen=True, slots=True)
class Decision:
    """The verdict, and the check to repeat or take first because of it (None: as ranked)."""

    verdict: Verdict
    first: Check | None = None


def doubtful_readings(
    table: Table, belief: Belief, concerned: Callable[[Hypothesis], bool]
) -> tuple[Reading, ...]:
    """Return single readings that would have to be wrong if the rows concerned are right."""
    rows = np.array([concerned(row) for row in table.rows])
    weight = np.where(rows, belief.rows, 0.0)
    total = float(weight.sum())
    if total <= 0.0:
        return ()
    taken = [reading.sort for reading in belief.readings]
    return tuple(
        reading
        for reading, wrong in zip(belief.readings, belief.wrong, strict=True)
        if float(weight @ wrong) / total > _DOUBT
        and len(reading.indices) == 1
        and belief.repeatable(reading)
        and taken.count(reading.sort) == 1
    )


def decisive_reading(table: Table, belief: Belief, repair: str) -> Reading | None:
    """Return the reading that speaks loudest for a repair against every other explanation."""
    mine = np.array([row.repair == repair for row in table.rows])
    best, loudest = None, 0.0
    for reading, log in zip(belief.readings, belief.log_likelihoods, strict=True):
        likelihood = np.exp(log - log.max())
        without = belief.joint / np.maximum(likelihood, 1e-12)
        share = float(without[:, mine].sum() / without.sum())
        gain = float(belief.rows[mine].sum()) - share
        if gain > loudest:
            best, loudest = reading, gain
    return best


def decide(standing: Standing) -> Decision:
    """Return the verdict by the stopping rule of docs/models/diagnosis.md."""
    table, belief = standing.table, standing.belief
    shares = standing.shares
    unmodelled = shares[UNMODELLED.repair]
    misfit = bool(belief.readings) and misfit_probability(table, belief) < _MISFIT
    if misfit or (belief.readings and unmodelled > _UNMODELLED_RULES):
        why = why_unexplained(table, belief, standing.suspects)
        odd = doubtful_readings(table, belief, lambda row: row is not table.rows[-1])
        return Decision(Verdict(UNEXPLAINED, "", 0.0, why), odd[0].check if odd else None)
    lead = max(shares, key=lambda name: shares[name])
    if lead == NO_REPAIR:
        return _healthy(standing, shares[NO_REPAIR])
    in_vain = surely_in_vain(table, standing.tried)
    if in_vain and not standing.allow_second_part:
        return Decision(Verdict(UNEXPLAINED, "", 0.0, why_in_vain(table, in_vain, lead)))
    if lead == UNMODELLED.repair or unmodelled >= table.settings.unmodelled_limit:
        repair = "" if lead == UNMODELLED.repair else lead
        more = f" There is {percent(unmodelled)} left for a fault outside the drawing."
        return _look(standing, repair, more)
    return _repair(standing, lead)


def _healthy(standing: Standing, share: float) -> Decision:
    working = all_seen_working(standing.table, standing.belief)
    sure = share >= standing.table.settings.confidence
    # once every function was seen working, what is left is not worth a long search
    enough = (share >= _MOSTLY if working else sure) and bool(standing.belief.readings)
    useful = _still_worth_it(standing, share) if enough and not (sure and working) else None
    failing = seen_failing(standing.belief)
    if failing is not None:  # never "no fault" after somebody saw it
        return Decision(Verdict(LOOK, "", share, why_it_comes_and_goes(standing.belief, failing)))
    if enough and useful is None:
        why = why_no_fault(standing.table, standing.belief, share)
        return Decision(Verdict(HEALTHY, "", share, why))
    text = f"Nothing wrong has been read yet ({percent(share)} that the circuit is healthy)."
    first = useful.check if useful is not None else None
    return Decision(Verdict(LOOK, "", share, text + _next_words(standing)), first)


def _still_worth_it(standing: Standing, share: float) -> Option | None:
    """Return a check that still repays its minutes, or None."""
    if share >= _CERTAIN:
        return None
    if standing.plan is not None:
        return standing.plan.option if standing.plan.net_min > 0.0 else None
    worth = best_worth(standing.table, standing.live, standing.ranked)
    return worth.option if worth is not None and worth.net_min > 0.0 else None


def _look(standing: Standing, repair: str, more: str) -> Decision:
    text = because(standing.table, standing.belief, standing.suspects) + more
    confidence = standing.shares.get(repair, 0.0) if repair else 0.0
    return Decision(Verdict(LOOK, repair, confidence, text + _next_words(standing)))


def _next_words(standing: Standing) -> str:
    if not standing.ranked:
        return " No check on offer can tell more."
    return f" Next: {check_words(standing.ranked[0].check)}."


def _group(standing: Standing, lead: str) -> list[str]:
    """Return the repairs that no check can tell apart, cheapest try first; else the lead alone."""
    shares = standing.shares
    if standing.ranked or shares[lead] >= standing.table.settings.confidence:
        return [lead]
    names = [n for n in shares if n in standing.table.repairs and shares[n] > GROUP_SHARE]
    comeback = standing.table.settings.comeback_min
    cost = {name: repair_minutes(standing.table, name) + comeback for name in names}
    return sorted(names, key=lambda name: -shares[name] / cost[name])


def _repair(standing: Standing, lead: str) -> Decision:
    table, shares, settings = standing.table, standing.shares, standing.table.settings
    if not standing.belief.readings:
        return _look(standing, lead, " No repair is advised before a first reading.")
    repairs = _group(standing, lead)
    repair = repairs[0]
    together = sum(shares[name] for name in repairs)
    costly = table.repairs[repair].costly
    needed = settings.costly_confidence if costly else settings.confidence
    if together < needed or (costly and len(repairs) > 1):
        doubtful, doubt = _most_doubtful(table, standing.belief, repair, _MOST_TAKEN)
        share = doubt / max(1.0 - together, 1e-12)
        hangs = together >= _NEARLY and share >= _DOUBT
        if doubtful is not None and (hangs or (not standing.ranked and share >= _HANGS_A_LITTLE)):
            return _repeat(standing, repair, doubtful)
        more = f" {100.0 * needed:.0f} % is wanted before: {repair_words(table, repair)}."
        return _look(standing, repair, more)
    reading = _to_repeat(standing, repairs, costly)
    if reading is not None:
        return _repeat(standing, repair, reading)
    confirming = cheapest_confirmation(table, standing.belief, standing.position, repairs)
    if confirming is not None:
        return _confirm(standing, repair, confirming)
    part = table.repairs[repair].price > 0.0
    unsure = shares[repair] < settings.costly_confidence
    if part and unsure and not standing.allow_second_part and _led_by_several(standing, repair):
        why = because(table, standing.belief, standing.suspects)
        why += " A part is not advised on two faults at once before a person agrees to it."
        return Decision(Verdict(LOOK, repair, shares[repair], why + _next_words(standing)))
    if _held_back(standing, repair):
        why = why_second_part(table, [one.repair for one in standing.tried], repair)
        return Decision(Verdict(LOOK, repair, shares[repair], why))
    useful = _still_worth_it(standing, together)
    if useful is not None:
        because_words = because(table, standing.belief, standing.suspects)
        why = f"{because_words} One more check costs less than a wrong repair would: "
        why += f"{check_words(useful.check)}."
        return Decision(Verdict(LOOK, repair, shares[repair], why), useful.check)
    why = why_repair(table, standing.belief, standing.suspects, repairs)
    return Decision(Verdict(REPAIR, repair, shares[repair], why))


def _held_back(standing: Standing, repair: str) -> bool:
    """Return whether a part has to wait for a person's word: another repair was done in vain."""
    part = standing.table.repairs[repair].price > 0.0
    waits = bool(standing.tried) and part and not standing.allow_second_part
    return waits and not within_group(standing.table, standing.tried, repair)


def _led_by_several(standing: Standing, repair: str) -> bool:
    """Return whether a repair is asked for mostly by rows of several faults: a weaker ground."""
    table, rows = standing.table, standing.belief.rows
    mine = [n for n, row in enumerate(table.rows) if row.repair == repair]
    several = sum(float(rows[n]) for n in mine if table.rows[n].parts)
    return several > 0.5 * float(rows[mine].sum())


def _repeat(standing: Standing, repair: str, reading: Reading) -> Decision:
    text = because(standing.table, standing.belief, standing.suspects)
    shown = value_words(reading.check, reading.value)
    text += f" Repeat {check_words(reading.check)} first: much hangs on its {shown}."
    return Decision(Verdict(LOOK, repair, standing.shares[repair], text), reading.check)


def _confirm(standing: Standing, repair: str, check: Check) -> Decision:
    """Return the decision to take a check again, or another that should agree."""
    known = [one for one in standing.belief.readings if one.check == check]
    if known:
        return _repeat(standing, repair, known[-1])
    text = because(standing.table, standing.belief, standing.suspects)
    text += f" Confirm it first, by what was not read yet: {check_words(check)}."
    return Decision(Verdict(LOOK, repair, standing.shares[repair], text), check)


def _to_repeat(standing: Standing, repairs: Sequence[str], costly: bool) -> Reading | None:
    """Return the reading that must be repeated before the first of the repairs, or None."""
    table, belief, repair = standing.table, standing.belief, repairs[0]
    doubtful = doubtful_readings(table, belief, lambda row: row.repair == repair)
    if doubtful:
        return doubtful[0]
    decisive = decisive_reading(table, belief, repair) if costly else None
    if decisive is not None and taken_once(belief, decisive):
        return decisive
    return None


def _most_doubtful(
    table: Table, belief: Belief, repair: str, most_taken: int = 2
) -> tuple[Reading | None, float]:
    """Return the reading taken less than so often on which most doubt hangs, and that doubt.

    The doubt is the belief in other repairs under which the reading is likelier wrong than right.
    """
    other = np.array([row.repair != repair for row in table.rows])
    best, most = None, 0.0
    for reading, wrong in zip(belief.readings, belief.wrong, strict=True):
        doubt = float(belief.rows[other & (wrong > _DOUBT)].sum())
        if doubt > most and taken_once(belief, reading, most_taken - 1):
            best, most = reading, doubt
    return best, most
