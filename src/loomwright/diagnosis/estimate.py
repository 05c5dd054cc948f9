"""How long and how dear: minutes and money to find and mend, by playing the job through.

Each episode draws what is wrong from the belief after the readings taken, and lets the engine work:
its checks are answered by the drawn row, its repairs mend or miss. Seeded; the same question gives
the same answer unless the time runs out first.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.choose import minutes_for, position_after
from loomwright.diagnosis.policies import POLICIES, Limits, run_episode
from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.table import UNMODELLED, Table, unscaled
from loomwright.errors import UsageError
from loomwright.plant import Check

__all__ = ["Bounds", "Estimate", "Spread", "StopPoint", "estimate"]

Array = NDArray[np.float64]

SEARCH_MIN = 240.0  # assumed: minutes to search a fault that no row describes
_LEAST_EPISODES = 20  # fewer give no P90
_FOUND_SHARES = (0.5, 0.8, 0.95)


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far an estimate goes: episodes, seconds of work, and the seed of its luck."""

    episodes: int = 200
    seconds: float = 10.0
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Spread:
    """A quantity over the episodes: half are below `p50`, nine of ten below `p90`."""

    mean: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class StopPoint:
    """By so many minutes of checks this share of the cases is found; None: not within the bounds.

    `money` is labour for the checks up to there.
    """

    share: float
    minutes: float | None
    money: float | None


@dataclass(frozen=True, slots=True)
class Estimate:
    """What to tell the customer before the work: minutes and money, testing first or swapping.

    `found` is the share of episodes in which the engine came to the right repair, `handed_on` the
    share in which it gave none, `wrong_parts` the mean number of parts changed in vain.
    """

    episodes: int
    asked_episodes: int
    check_min: Spread  # until the verdict
    test_first_min: Spread
    test_first_money: Spread
    swap_first_min: Spread
    swap_first_money: Spread
    found: float
    handed_on: float
    wrong_parts: float
    swap_wrong_parts: float
    stop_points: tuple[StopPoint, ...]
    rate_per_min: float


@dataclass(frozen=True, slots=True)
class _Played:
    """One episode: minutes and money of both ways, and minutes until the right verdict."""

    check_min: float
    minutes: float
    money: float
    swap_min: float
    swap_money: float
    found: bool
    handed_on: bool
    wrong: int
    swap_wrong: int


def estimate(
    table: Table,
    evidence: Sequence[Evidence],
    bounds: Bounds | None = None,
    *,
    rejected: Sequence[str] = (),
    clock: Callable[[], float] = time.monotonic,
) -> Estimate:
    """Return P50 and P90 of minutes and money to find and mend, from simulated episodes.

    What is wrong is drawn from the belief; readings from the drawn row's own prediction with the
    instrument's error and the wrong readings of the settings. Money is labour at the settings'
    rate and the parts. A wrong repair costs itself, its comeback and the right one; a fault that
    is handed on costs `SEARCH_MIN` minutes more. Swapping tries repairs by falling probability of
    the belief until one holds.

    Parameters
        bounds: episodes [1 to 100000], seconds [s] after which no further episode is begun once
            20 are done, seed
        clock: seconds, for tests
    Raises
        UsageError: bounds out of range, or a value that is no reading; UnknownNameError as well
    Valid for single faults of the table; a second fault costs more than is said here.
    """
    used = bounds or Bounds()
    if not 1 <= used.episodes <= 100_000 or not used.seconds > 0.0:
        raise UsageError("An estimate needs 1 to 100000 episodes and more than 0 seconds.")
    belief = believe(table, evidence, rejected)
    order = _swap_order(table, belief.classes)
    rng = np.random.default_rng(used.seed)
    joint = belief.joint / belief.joint.sum()
    drawn = rng.choice(joint.size, used.episodes, p=joint.ravel())
    until, played = clock() + used.seconds, list[_Played]()
    for number, cell in enumerate(drawn):
        if number >= _LEAST_EPISODES and clock() > until:
            break
        nuisance, row = divmod(int(cell), joint.shape[1])
        luck = np.random.default_rng([used.seed, number])
        played.append(_play(table, tuple(evidence), (nuisance, row), luck, order))
    return _summary(played, used.episodes, table.settings.labour_rate_per_min)


# --- one episode ---------------------------------------------------------------------------------


def _play(table: Table, evidence: tuple[Evidence, ...], cell: tuple[int, int],
          luck: np.random.Generator, order: Sequence[str]) -> _Played:
    nuisance, row = cell
    truth = table.classes[int(table.class_of[row])]

    def oracle(check: Check) -> float | str:
        return _read(table, check, nuisance, row, luck)

    episode = run_episode(table, POLICIES["information per minute"], oracle, luck,
                          Limits(readings=30, minutes=480.0), evidence=evidence, truth=truth)
    checks = _check_minutes(table, evidence, episode.readings)
    status, repair = episode.status, episode.repair
    rate = table.settings.labour_rate_per_min
    wrong = status == "repair" and repair != truth
    handed = status not in ("repair", "no fault found") or truth == UNMODELLED.repair
    minutes, parts = checks, 0.0
    if status == "repair":
        minutes += table.repairs[repair].minutes
        parts += table.repairs[repair].price
    if wrong:
        minutes += table.settings.comeback_min
    # a fault passed over as "no fault found" comes back; one handed on is searched for elsewhere
    missed = status == "no fault found" and truth in table.repairs
    minutes += table.settings.comeback_min if missed else 0.0
    minutes += SEARCH_MIN if handed else 0.0
    if truth in table.repairs and (wrong or handed or missed):
        minutes += table.repairs[truth].minutes
        parts += table.repairs[truth].price
    swap_min, swap_parts, swaps = _swap(table, order, truth)
    right = repair == truth if status == "repair" else status == "no fault found" and truth == ""
    return _Played(checks, minutes, minutes * rate + parts, swap_min,
                   swap_min * rate + swap_parts, right, handed, int(wrong), swaps)


def _check_minutes(table: Table, before: Sequence[Evidence], after: Sequence[Evidence]) -> float:
    """Return minutes of the readings taken since `before`, places reached once."""
    return sum(minutes_for(table, after[n].check, position_after(after[:n]))
               for n in range(len(before), len(after)))


def _read(table: Table, check: Check, nuisance: int, row: int, luck: np.random.Generator
          ) -> float | str:
    """Return a reading of a row, its instrument and now and then a wrong one included."""
    model = table.model(check)
    wrong = luck.random() < table.settings.wrong_reading
    if model.levels is not None:
        chances = model.levels[nuisance, row]
        if wrong or np.isnan(chances).any():
            return check.levels[int(luck.integers(len(check.levels)))]
        return check.levels[int(luck.choice(len(chances), p=chances / chances.sum()))]
    low, high = model.span
    mean, sd = float(model.mean[nuisance, row]), float(model.sd[nuisance, row])
    if wrong or math.isnan(mean):
        value = float(luck.uniform(low, high))
    else:
        value = float(luck.normal(mean, sd))
    return float(unscaled(check, min(max(value, low), high)))


# --- swapping parts ------------------------------------------------------------------------------


def _swap_order(table: Table, classes: Array) -> list[str]:
    """Return the repairs by falling probability."""
    known = [(float(share), name) for name, share in zip(table.classes, classes, strict=True)
             if name in table.repairs and share > 0.0]
    return [name for _, name in sorted(known, key=lambda pair: -pair[0])]


def _swap(table: Table, order: Sequence[str], truth: str) -> tuple[float, float, int]:
    """Return minutes, price of parts and parts changed in vain until the true repair is done.

    Changing parts ends when no more is to be gained by it than by a search: once the minutes
    exceed `SEARCH_MIN` the rest is searched.
    """
    minutes, parts, vain = 0.0, 0.0, 0
    for name in order:
        if minutes > SEARCH_MIN:
            break
        minutes += table.repairs[name].minutes
        parts += table.repairs[name].price
        if name == truth:
            return minutes, parts, vain
        vain += 1
    minutes += SEARCH_MIN if truth else 0.0
    if truth in table.repairs:
        minutes += table.repairs[truth].minutes
        parts += table.repairs[truth].price
    return minutes, parts, vain


# --- summary -------------------------------------------------------------------------------------


def _spread(values: Sequence[float]) -> Spread:
    data = np.asarray(values, dtype=float)
    # "higher": an episode that happened, so that P90 is never below what a tenth of them needs
    p50, p90 = np.percentile(data, [50.0, 90.0], method="higher")
    return Spread(float(data.mean()), float(p50), float(p90))


def _stop_points(played: Sequence[_Played], rate: float) -> tuple[StopPoint, ...]:
    times = sorted(one.check_min for one in played if one.found)
    points = []
    for share in _FOUND_SHARES:
        needed = math.ceil(share * len(played)) - 1
        minutes = times[needed] if needed < len(times) else None
        points.append(StopPoint(share, minutes, None if minutes is None else minutes * rate))
    return tuple(points)


def _summary(played: Sequence[_Played], asked: int, rate: float) -> Estimate:
    count = len(played)
    return Estimate(
        episodes=count,
        asked_episodes=asked,
        check_min=_spread([one.check_min for one in played]),
        test_first_min=_spread([one.minutes for one in played]),
        test_first_money=_spread([one.money for one in played]),
        swap_first_min=_spread([one.swap_min for one in played]),
        swap_first_money=_spread([one.swap_money for one in played]),
        found=sum(one.found for one in played) / count,
        handed_on=sum(one.handed_on for one in played) / count,
        wrong_parts=sum(one.wrong for one in played) / count,
        swap_wrong_parts=sum(one.swap_wrong for one in played) / count,
        stop_points=_stop_points(played, rate),
        rate_per_min=rate,
    )
