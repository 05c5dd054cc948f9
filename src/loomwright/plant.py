"""What the diagnosis engine sees of any physics: faults, checks and predicted readings.

These records and the protocol stand below both the physics and the diagnosis, so that neither
imports the other. Circuits, logic networks, refrigeration and bus topology each implement `Plant`.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "ACTIONS",
    "NO_FAULT",
    "Check",
    "Consequence",
    "FreeSources",
    "GrowingPrediction",
    "Growth",
    "Hypothesis",
    "Plant",
    "Prediction",
    "Repair",
    "SeverityCell",
    "consequences_of",
    "free_sources",
    "intermittent_shares",
    "predicts_several",
    "stirred_shares",
    "stirring_checks",
    "unlisted_rows",
]

ACTIONS = ("wiggle", "heat", "load")  # what may bring back a fault that comes and goes


@dataclass(frozen=True, slots=True)
class SeverityCell:
    """A range of added resistance [ohm], with its middle on a log scale; low <= mid <= high."""

    low_ohm: float
    mid_ohm: float
    high_ohm: float


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One row of the belief: a fault at one severity, or no fault.

    `fault_id` groups the severity cells of one fault; `repair` is the key of the repair class.
    `prior` is the unnormalised prior of this row [probability], > 0. A plant may give a row with
    several faults at once; then `element` names them joined by '+'. `parts` are the single rows of
    a row that the diagnosis joined itself. `variant` tells rows of one fault and severity apart
    that behave differently (a relay that just pulls in, and one that just does not).
    """

    fault_id: str
    element: str
    kind: str
    repair: str
    prior: float
    severity: SeverityCell | None = None
    parts: tuple[Hypothesis, ...] = ()
    variant: str = ""


NO_FAULT = Hypothesis("no-fault", "", "no-fault", "", 1.0)


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair class: what is done, minutes to do and to verify, and the part's price in money.

    `costly` marks a part that must never be advised below the high confidence.
    """

    id: str
    text: str
    minutes: float
    price: float = 0.0
    costly: bool = False


@dataclass(frozen=True, slots=True)
class Check:
    """One reading that could be taken.

    `levels` non-empty makes it a category check (its observed value is one of the levels);
    otherwise the value is a number in `unit`. `minutes` is the reading alone; `place` is reached
    once (see `Plant.places`), `setup` is how the plant must be set (see `Plant.setups`).
    `resolution` and `accuracy` (share of the value) describe the instrument. `risk` 0 is harmless,
    1 needs care, 2 pierces insulation or works near danger: taken last. `offer` False means it can
    be evaluated when somebody took it, but it is never proposed. `to` of a look may be something
    done meanwhile to bring back a fault that comes and goes: `wiggle X1`, `heat K1`, `load`.
    `opened` is what has to be opened for it (a wire unplugged, a splice untaped), which
    takes `opening_min` of its minutes: not again in the reading right after it. `also_from` are
    other places it can be taken from, none quicker to reach than `place`.
    """

    id: str
    state: str
    quantity: str
    at: str
    to: str = ""
    instrument: str = "meter"
    unit: str = ""
    place: str = ""
    setup: str = ""
    minutes: float = 1.0
    risk: int = 0
    resolution: float = 0.01
    accuracy: float = 0.005
    span: tuple[float, float] = (-1.0, 30.0)
    levels: tuple[str, ...] = ()
    text: str = ""
    offer: bool = True
    opened: str = ""
    opening_min: float = 0.0
    also_from: tuple[str, ...] = ()

    @property
    def action(self) -> str:
        """Return what is done while looking: wiggle, heat, load, or '' where nothing is."""
        first = self.to.partition(" ")[0]
        return first if self.levels and first in ACTIONS else ""


@dataclass(frozen=True, eq=False)
class Prediction:
    """Predicted readings of hypotheses under a shared nuisance grid.

    `mean` and `spread` have shape (n_nuisance, n_hypotheses, n_checks); NaN where the check is
    impossible. `weights` (n_nuisance,) sums to one: the nuisance (battery volts, temperature) is
    one unknown shared by all readings and is marginalised jointly. `levels` maps the index of a
    category check to probabilities (n_nuisance, n_hypotheses, n_levels); mean and spread of such
    a check are not used. `leaning` (n_checks, n_hypotheses) is the part of the spread that goes
    with how severe a fault is within its row, signed; None: not told.
    """

    mean: NDArray[np.float64]
    spread: NDArray[np.float64]
    weights: NDArray[np.float64]
    levels: Mapping[int, NDArray[np.float64]] = field(default_factory=dict)
    leaning: NDArray[np.float64] | None = None

    def reading(self, check: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean and variance (n_nuisance, n_hypotheses) of one check, by its number."""
        return self.mean[:, :, check], self.spread[:, :, check] ** 2


@dataclass(frozen=True, slots=True, eq=False)
class Growth:
    """A nuisance by which readings grow straight: shares of their moving part, (n_nuisance,) each.

    `grown` is how much at each value, `inside` the spread within its step; `weights` sum to one.
    """

    weights: NDArray[np.float64]
    grown: NDArray[np.float64]
    inside: NDArray[np.float64]


class GrowingPrediction(Prediction):
    """Readings that grow straight with the nuisance: worked out check by check, when asked for."""

    def __init__(
        self, parts: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
        growth: Growth, levels: Mapping[int, NDArray[np.float64]],
        leaning: NDArray[np.float64] | None = None,
    ) -> None:
        """Keep middle, moving and noise of readings, (n_checks, n_hypotheses) each.

        At each nuisance value the mean is `middle + grown moving`, the spread that of `noise` and
        of `inside moving` together. Levels and leaning as of `Prediction`.
        """
        middle, moving, noise = parts
        found = {"middle": middle, "moving": moving, "noise": noise, "growth": growth,
                 "weights": growth.weights, "levels": levels, "leaning": leaning}
        for name, value in found.items():
            object.__setattr__(self, name, value)

    middle: NDArray[np.float64]
    moving: NDArray[np.float64]
    noise: NDArray[np.float64]
    growth: Growth

    def reading(self, check: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean and variance (n_nuisance, n_hypotheses) of one check, by its number."""
        moving = self.moving[check]
        mean = self.growth.grown[:, None] * moving
        mean += self.middle[check]
        variance = self.growth.inside[:, None] ** 2 * moving**2
        variance += self.noise[check] ** 2
        return mean, variance

    @functools.cached_property
    def mean(self) -> NDArray[np.float64]:
        """Return the means of all checks (n_nuisance, n_hypotheses, n_checks)."""
        return self._all(0)

    @functools.cached_property
    def spread(self) -> NDArray[np.float64]:
        """Return the spreads of all checks (n_nuisance, n_hypotheses, n_checks)."""
        variance = self._all(1)
        return np.sqrt(variance, out=variance)

    def _all(self, part: int) -> NDArray[np.float64]:
        checks, rows = self.middle.shape
        found = np.empty((len(self.weights), checks, rows))
        for check in range(checks):
            found[:, check] = self.reading(check)[part]
        return found.transpose(0, 2, 1)


@dataclass(frozen=True, slots=True)
class Consequence:
    """What a fault did to another part for good, so that both have to be put right.

    `act` is a verb of the past ('blew'), `size` what tells the part apart ('20 A'), `state` where
    it happens first, `at` the value that does it ('130 A'). `least_s` and `most_s` are how long it
    takes [s], None where nothing says so; `grade` is how good that time is, in words.
    """

    element: str
    act: str
    size: str
    state: str
    at: str
    least_s: float | None
    most_s: float | None
    grade: str


@dataclass(frozen=True, slots=True, eq=False)
class FreeSources:
    """Places where a current of unknown size could leave the plant and come back.

    By place: `ends` it leaves at and comes back to, and prior `shares` that sum to one.
    `response` (n_places, n_checks) is how a reading moves for each ampere, in the check's unit;
    NaN where that is not followed. `limit_a` is about the largest current [A].
    """

    ends: tuple[tuple[str, str], ...]
    shares: tuple[float, ...]
    response: NDArray[np.float64]
    limit_a: float


class Plant(Protocol):
    """What a physics offers the diagnosis engine."""

    def faults(self) -> Sequence[Hypothesis]:
        """Return every fault row (severity cells expanded), without the no-fault row."""

    def repairs(self) -> Mapping[str, Repair]:
        """Return the repair classes by id."""

    def checks(self) -> Sequence[Check]:
        """Return every check worth offering."""

    def places(self) -> Mapping[str, float]:
        """Return minutes to reach each place the first time; afterwards it is free."""

    def setups(self) -> Mapping[str, float]:
        """Return minutes to bring the plant into each set-up."""

    def predict(self, hypotheses: Sequence[Hypothesis], checks: Sequence[Check]) -> Prediction:
        """Return predicted readings of hypotheses (which may include NO_FAULT)."""

    def margin_checks(self, repair: str) -> Sequence[Check]:
        """Return the loaded checks that prove a repair holds."""


def unlisted_rows(plant: Plant) -> Sequence[Hypothesis]:
    """Return a plant's rows for things it does not list (a load tapped in), priors relative.

    A plant offers them by a method `unlisted()`; without it there are none.
    """
    offered = getattr(plant, "unlisted", None)
    return tuple(offered()) if callable(offered) else ()


def free_sources(plant: Plant, checks: Sequence[Check]) -> FreeSources | None:
    """Return where an unknown current could flow in a plant, and what it moves at some checks.

    A plant tells it by a method `free_sources(checks)`; without it nothing is known (None).
    """
    told = getattr(plant, "free_sources", None)
    return told(checks) if callable(told) else None


def intermittent_shares(plant: Plant, rows: Sequence[Hypothesis]) -> Sequence[float]:
    """Return, for each fault row, the share of such faults that come and go (0 to 1).

    A plant says so by a method `intermittent(row)`; without it none do.
    """
    asked = getattr(plant, "intermittent", None)
    return tuple(float(asked(row)) if callable(asked) else 0.0 for row in rows)


def stirring_checks(plant: Plant, look: Check) -> Sequence[Check]:
    """Return looks at the same function during which something is done (`Check.action`).

    A plant offers them by a method `stirring(look)`; without it there are none.
    """
    offered = getattr(plant, "stirring", None)
    return tuple(offered(look)) if callable(offered) else ()


def stirred_shares(plant: Plant, rows: Sequence[Hypothesis], check: Check) -> Sequence[float]:
    """Return, for each row, the chance that such a look brings the fault back (0 to 1).

    A plant says so by a method `stirred(row, check)`; without it none does.
    """
    asked = getattr(plant, "stirred", None)
    if not check.action or not callable(asked):
        return (0.0,) * len(rows)
    return tuple(float(asked(row, check)) for row in rows)


def predicts_several(plant: Plant) -> bool:
    """Return whether a plant predicts rows of several faults that it did not list (`parts`).

    A plant says so by an attribute `predicts_several = True`; without it no such row is asked for.
    """
    return bool(getattr(plant, "predicts_several", False))


def consequences_of(plant: Plant, hypothesis: Hypothesis) -> Sequence[Consequence]:
    """Return what a fault did to other parts for good (a fuse it blew).

    A plant tells it by a method `consequences(hypothesis)`; without it nothing is known.
    """
    told = getattr(plant, "consequences", None)
    return tuple(told(hypothesis)) if callable(told) else ()
