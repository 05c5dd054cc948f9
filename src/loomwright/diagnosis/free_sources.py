"""Rows for a current of unknown size between two points, another one in each state.

The most general thing at one place: whatever it is, it acts on the rest as a current, so a row for
each pair of points fits that current to the readings of each state. A reading is its healthy mean
plus response times current plus noise; the current has a broad normal prior about zero and is
integrated out in closed form (a covariance of the noise plus rank one). The rows are asked for only
where nothing listed fits. They stand beside the belief and never name a repair.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.plant import FreeSources

__all__ = ["FittedCurrent", "FreeFit", "StateReadings", "Tallied", "tally"]

Array = NDArray[np.float64]

_MOST_WRONG = 3  # readings of a state taken as wrong together; more are left out, so too low


@dataclass(frozen=True, slots=True, eq=False)
class StateReadings:
    """Numbers read in one state against a healthy plant.

    `residual` and `sd` (n_nuisance, n_readings) of what is healthy, `response` (n_places,
    n_readings) for each ampere, `log_right` (n_readings,) the log share of right readings and
    `log_wrong` (n_nuisance, n_readings) the log likelihood of such a wrong one, its share included.
    """

    residual: Array
    sd: Array
    response: Array
    log_right: Array
    log_wrong: Array


@dataclass(frozen=True, slots=True, eq=False)
class Tallied:
    """Log likelihood of a state's readings, and the current's mean and variance [A, A^2].

    Each (n_nuisance, n_places).
    """

    log: Array
    mean: Array
    variance: Array


@dataclass(frozen=True, slots=True)
class FittedCurrent:
    """The current of one state [A]: mean and standard deviation, and that of the prior."""

    mean_a: float
    sd_a: float
    prior_sd_a: float

    @property
    def known(self) -> bool:
        """Return whether the readings say more of it than nothing."""
        return self.sd_a < 0.5 * self.prior_sd_a


@dataclass(frozen=True, slots=True, eq=False)
class FreeFit:
    """Rows of an unknown current: `shares` of the belief (n_places,) and what is left to the rest.

    `currents` are those of the leading place by state, `lead` its number.
    """

    sources: FreeSources
    shares: Array
    lead: int
    currents: dict[str, FittedCurrent]
    nuisance: int


def tally(read: StateReadings, prior_sd: Array) -> Tallied:
    """Return the likelihood of one state's readings by place, the current integrated out.

    Every set of up to three wrong readings is summed over; in each the right ones are normal with
    covariance D + s^2 z z' (Sherman-Morrison; determinant lemma). `prior_sd` (n_places,) [A].
    """
    right = _right_sets(read.residual.shape[1])
    log_noise = -0.5 * (read.residual / read.sd) ** 2 - np.log(read.sd * math.sqrt(2.0 * math.pi))
    base = (read.log_right + log_noise) @ right.T + read.log_wrong @ (1.0 - right).T
    weight = 1.0 / read.sd**2
    spread = prior_sd[None, :, None] ** 2
    square = (weight[:, None, :] * read.response**2) @ right.T
    cross = ((weight * read.residual)[:, None, :] * read.response) @ right.T
    shrink = 1.0 + spread * square
    log = base[:, None, :] - 0.5 * np.log(shrink) + 0.5 * spread * cross**2 / shrink
    total = np.logaddexp.reduce(log, axis=2)
    share = np.exp(log - total[:, :, None])
    each, own = spread * cross / shrink, spread / shrink
    mean = (share * each).sum(axis=2)
    variance = (share * (own + each**2)).sum(axis=2) - mean**2
    return Tallied(total, mean, np.maximum(variance, 0.0))


def _right_sets(count: int) -> Array:
    """Return 1 where a reading is right, for every set with at most three wrong (n_sets, n)."""
    wrong = [one for size in range(min(count, _MOST_WRONG) + 1)
             for one in itertools.combinations(range(count), size)]
    right = np.ones((len(wrong), count))
    for number, one in enumerate(wrong):
        right[number, list(one)] = 0.0
    return right
