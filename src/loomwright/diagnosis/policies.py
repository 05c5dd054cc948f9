"""Other ways to choose the next check, and a simulated job to compare them on equal terms."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypedDict, Unpack

import numpy as np

from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.choose import Option, minutes_for, options, position_after
from loomwright.diagnosis.engine import diagnose
from loomwright.diagnosis.outlook import LiveRows, class_gains, live_rows, outcome_shares
from loomwright.diagnosis.records import Diagnosis, Evidence
from loomwright.diagnosis.table import Table
from loomwright.plant import Check

__all__ = [
    "POLICIES",
    "Episode",
    "Known",
    "Limits",
    "Policy",
    "Situation",
    "run_episode",
    "two_step",
]

Oracle = Callable[[Check], float | str]

_TWO_STEP_WIDTH = 12


@dataclass(frozen=True, slots=True)
class Situation:
    """What a policy sees: the table, the readings so far, the engine's answer, a random source."""

    table: Table
    evidence: tuple[Evidence, ...]
    diagnosis: Diagnosis
    rng: np.random.Generator


Policy = Callable[[Situation], Check | None]


@dataclass(frozen=True, slots=True)
class Limits:
    """When a simulated job gives up: readings taken, minutes spent."""

    readings: int = 30
    minutes: float = 480.0


class Known(TypedDict, total=False):
    """What is known of a simulated job: readings at the start (the complaint), the right repair."""

    evidence: Sequence[Evidence]
    truth: str | None


@dataclass(frozen=True, slots=True)
class Episode:
    """One simulated job: the repair chosen, minutes of checks and of the repair, readings taken.

    `right` is None when the true repair was not told.
    """

    repair: str
    status: str
    minutes: float
    readings: tuple[Evidence, ...]
    right: bool | None


def _open_columns(situation: Situation) -> list[int]:
    """Return the checks on offer that were not taken, harmless ones if there are any."""
    taken = {item.check.id for item in situation.evidence}
    checks = situation.table.checks
    free = [n for n, c in enumerate(checks) if c.offer and c.id not in taken]
    return [n for n in free if checks[n].risk < 2] or free


def _information_per_minute(situation: Situation) -> Check | None:
    checks = situation.diagnosis.next_checks
    return checks[0].check if checks else None


def _random(situation: Situation) -> Check | None:
    columns = _open_columns(situation)
    if not columns:
        return None
    return situation.table.checks[columns[int(situation.rng.integers(len(columns)))]]


def _half_split(situation: Situation) -> Check | None:
    """Return the check that parts the possible repairs most evenly, all counted alike."""
    table, columns = situation.table, _open_columns(situation)
    if not columns:
        return None
    live = live_rows(table, believe(table, situation.evidence), prune=1e-3)
    sizes = np.diff(np.append(live.starts, live.index.size))
    even = np.repeat(1.0 / (sizes * sizes.size), sizes)
    gains = class_gains(table, replace(live, weight=even), columns)
    best = int(np.argmax(gains))
    return table.checks[columns[best]] if gains[best] > 0.0 else _random(situation)


def _likelihood_only(situation: Situation) -> Check | None:
    """Return the check where the likeliest suspect differs most from a healthy plant."""
    table, columns = situation.table, _open_columns(situation)
    if not columns or not situation.diagnosis.suspects:
        return None
    belief = believe(table, situation.evidence)
    lead = np.zeros(len(table.rows))
    rows = list(table.fault_rows[situation.diagnosis.suspects[0].id])
    lead[rows] = 0.5 * belief.rows[rows] / max(float(belief.rows[rows].sum()), 1e-300)
    lead[0] = 0.5
    nuisance = belief.joint / np.maximum(belief.rows, 1e-300)
    mixed = replace(belief, rows=lead, joint=np.where(nuisance > 0.0, nuisance, 1e-300) * lead)
    gains = class_gains(table, live_rows(table, mixed), columns)
    best = int(np.argmax(gains))
    return table.checks[columns[best]] if gains[best] > 0.0 else _random(situation)


def two_step(table: Table, evidence: Sequence[Evidence]) -> Check | None:
    """Return the check with the most information per minute over itself and the best next one."""
    live = live_rows(table, believe(table, evidence))
    ranked = options(table, believe(table, evidence), evidence, live)[:_TWO_STEP_WIDTH]
    if not ranked:
        return None
    rates = [_two_step_rate(table, live, option, ranked) for option in ranked]
    return ranked[int(np.argmax(rates))].check


def _two_step_rate(
    table: Table, live: LiveRows, option: Option, ranked: Sequence[Option]
) -> float:
    """Return bits per minute of a check followed, for each outcome, by the best second check."""
    others = [other for other in ranked if other.column != option.column]
    bits, minutes = option.gain_bits, option.minutes
    shares = outcome_shares(table, live, option.column)
    for outcome in range(shares.shape[1]):
        weight = live.weight * shares[:, outcome]
        chance = float(weight.sum())
        if chance < 1e-9 or not others:
            continue
        after = replace(live, weight=weight / chance)
        gains = class_gains(table, after, [other.column for other in others])
        rates = gains / np.array([other.minutes for other in others])
        best = int(np.argmax(rates))
        if gains[best] > 1e-9:
            bits += chance * float(gains[best])
            minutes += chance * others[best].minutes
    return bits / minutes


POLICIES: Mapping[str, Policy] = {
    "information per minute": _information_per_minute,
    "random": _random,
    "half-split": _half_split,
    "likelihood only": _likelihood_only,
    "two-step information": lambda situation: two_step(situation.table, situation.evidence),
}


def run_episode(
    table: Table,
    policy: Policy,
    oracle: Oracle,
    rng: np.random.Generator,
    limits: Limits | None = None,
    **known: Unpack[Known],
) -> Episode:
    """Return one simulated job: read what the policy asks for until the engine advises a repair.

    `oracle(check)` gives the value read; see `Known` for the keywords. The engine's stopping rule
    is the same for every policy, and a check that it wants repeated is repeated. Minutes include
    the repair itself.
    """
    limit = limits or Limits()
    evidence, truth = tuple(known.get("evidence", ())), known.get("truth")
    readings, minutes = evidence, 0.0
    answer = diagnose(table, readings, next_count=1)
    while len(readings) - len(evidence) < limit.readings and minutes < limit.minutes:
        if answer.verdict.status in ("repair", "no fault found"):
            break
        check = _wanted(Situation(table, readings, answer, rng), policy)
        if check is None:
            break
        minutes += minutes_for(table, check, position_after(readings))
        readings = (*readings, Evidence(check, oracle(check)))
        answer = diagnose(table, readings, next_count=1)
    repair = answer.verdict.repair
    minutes += table.repairs[repair].minutes if repair in table.repairs else 0.0
    right = None if truth is None else repair == truth
    return Episode(repair, answer.verdict.status, minutes, readings, right)


def _wanted(situation: Situation, policy: Policy) -> Check | None:
    """Return the repeat that the engine insists on, otherwise what the policy chooses."""
    asked = situation.diagnosis.next_checks
    taken = {item.check for item in situation.evidence}
    if asked and asked[0].check in taken:
        return asked[0].check
    return policy(situation)
