"""From readings to suspects, next checks, verdict and explanation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from loomwright.diagnosis.ahead import best_plan
from loomwright.diagnosis.belief import Belief, believe
from loomwright.diagnosis.choose import Option, minutes_for, options, position_after
from loomwright.diagnosis.clues import weigh_clues, with_clues
from loomwright.diagnosis.comes_and_goes import (
    coming_share,
    failing_looks,
    failing_readings,
    look_again,
    may_come_and_go,
    said_intermittent,
    seen_both_ways,
)
from loomwright.diagnosis.explain import explain
from loomwright.diagnosis.holding import Tried, tried_before
from loomwright.diagnosis.noticed import as_noticed
from loomwright.diagnosis.outlook import live_rows
from loomwright.diagnosis.records import Clue, Diagnosis, Evidence, NextCheck, Suspect
from loomwright.diagnosis.several import searched, since_repair, widened
from loomwright.diagnosis.source_rows import with_sources
from loomwright.diagnosis.sticky_rows import with_sticky, with_stirring
from loomwright.diagnosis.suspects import list_suspects, predictions
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.unlisted import unmodelled_share, with_unlisted
from loomwright.diagnosis.verdict import LOOK, Standing, decide
from loomwright.plant import Check

__all__ = ["diagnose"]

_PREDICTS_FOR = 5
_COMES_AND_GOES = 0.2  # belief in faults that come and go below which they are left out


def diagnose(
    table: Table,
    evidence: Sequence[Evidence],
    *,
    rejected: Sequence[str] = (),
    next_count: int = 5,
    allow_second_part: bool = False,
    clues: Sequence[Clue] = (),
) -> Diagnosis:
    """Return suspects, next checks, verdict and explanation for the readings taken.

    By Bayes' rule over the table's rows; see docs/models/diagnosis.md. `rejected` repairs were
    done and did not help. `allow_second_part`: a person agreed to change another part after that.
    `clues` are evidence that is no reading.
    Raises UsageError on a value that is no reading, UnknownNameError on an unknown level or repair.
    """
    told = _Told(tuple(rejected), next_count, allow_second_part, tuple(clues))
    clued = with_clues(table, clues)
    return _answer(clued, evidence, told, tried_before(clued, evidence, told.rejected))


@dataclass(frozen=True, slots=True)
class _Told:
    """What was asked beside the readings; see `diagnose`."""

    rejected: tuple[str, ...]
    next_count: int
    allow_second_part: bool
    clues: tuple[Clue, ...]


def _answer(
    table: Table, evidence: Sequence[Evidence], told: _Told, tried: tuple[Tried, ...]
) -> Diagnosis:
    """Return the diagnosis; `tried` is what the readings said before each repair done in vain."""
    rejected, clues = told.rejected, told.clues
    wide, belief = _believed(table, evidence, rejected)
    newest = since_repair(wide, evidence, belief)
    if newest is not None:
        older = len(evidence) - len(newest)
        found = _answer(table, newest, replace(told, clues=()), tried)
        moved = (replace(one, index=one.index + older) for one in found.explanation)
        weighed = weigh_clues(wide, belief, clues, found.suspects)
        return replace(found, explanation=tuple(moved), clues=weighed)
    table, belief = as_noticed(wide, with_sources(wide, belief))
    live = live_rows(table, belief)
    suspects = list_suspects(table, belief)
    ranked = options(table, belief, evidence, live)
    if not ranked and table is not wide:  # every function was seen working; one may be misseen
        ranked = options(table, belief, evidence, live, looks_again=True)
    position = position_after(evidence)
    plan = best_plan(table, live, ranked, position)
    if plan is not None:
        ranked = (plan.option, *(option for option in ranked if option is not plan.option))
    standing = Standing(
        table, belief, live, suspects, ranked, tried, told.allow_second_part, position, plan)
    decision = decide(standing)
    look = look_again(table, belief, evidence, ranked)
    if look is not None and decision.verdict.status == LOOK:
        decision = replace(decision, first=look)
    first = _first(table, evidence, decision.first, ranked)
    chosen = [*first, *(option for option in ranked if option.check != decision.first)]
    chosen = chosen[: max(told.next_count, 0)]
    return Diagnosis(
        suspects=suspects,
        no_fault=float(belief.rows[0]),
        unmodelled=unmodelled_share(table, belief),
        next_checks=tuple(
            _next_check(table, belief, option, suspects) for option in chosen
        ),
        verdict=replace(decision.verdict, why=said_intermittent(
            table, belief, decision.verdict.why)),
        explanation=explain(table, belief, evidence, suspects),
        clues=weigh_clues(table, belief, clues, suspects),
    )


def _believed(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str]
) -> tuple[Table, Belief]:
    """Return the belief, on a table with rows of several faults where those are called for."""
    belief = believe(table, evidence, rejected)
    known = with_unlisted(table, belief)
    if known is not table:
        table, belief = known, believe(known, evidence, rejected)
    alike = len({item.after for item in evidence}) < 2  # readings of one vehicle as it was
    if alike and may_come_and_go(table, belief):
        coming = with_sticky(table, failing_readings(belief))
        seen = believe(coming, evidence, rejected)
        if coming_share(coming, seen) > _COMES_AND_GOES and (
                seen_both_ways(belief)
                or not _rather_several(table, evidence, rejected, (belief, seen))):
            return with_stirring(coming, failing_looks(seen)), seen
    wide = widened(table, evidence, rejected, belief)
    return wide, belief if wide is table else believe(wide, evidence, rejected)


def _rather_several(
    table: Table, evidence: Sequence[Evidence], rejected: Sequence[str],
    beliefs: tuple[Belief, Belief],
) -> bool:
    """Return whether several faults explain the readings better than one that comes and goes.

    `beliefs` are those of the table itself, and of the one with what comes and goes.
    """
    wide = searched(table, evidence, rejected, beliefs[0])
    if wide is table:
        return False
    return believe(wide, evidence, rejected).log_evidence > beliefs[1].log_evidence


def _first(
    table: Table, evidence: Sequence[Evidence], check: Check | None, ranked: Sequence[Option]
) -> list[Option]:
    """Return the check the verdict asks for, which may be a repeat, as an option."""
    if check is None:
        return []
    known = [option for option in ranked if option.check == check]
    minutes = minutes_for(table, check, position_after(evidence))
    return known or [Option(-1, check, minutes, 0.0)]


def _next_check(
    table: Table, belief: Belief, option: Option, suspects: Sequence[Suspect]
) -> NextCheck:
    shown = predictions(table, belief, option.check, suspects[:_PREDICTS_FOR])
    return NextCheck(option.check, option.minutes, option.gain_bits, shown)
