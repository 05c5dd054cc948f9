"""Do the modelled rows explain the readings at all? The posterior-predictive check."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.table import Table

__all__ = ["misfit_probability"]


def _leading_rows(belief: Belief) -> np.ndarray:
    """Return the weight of every modelled row, the unmodelled one left out."""
    rows = belief.rows.copy()
    rows[-1] = 0.0
    total = rows.sum()
    return rows / total if total > 0.0 else rows


def misfit_probability(table: Table, belief: Belief) -> float:
    """Return the chance of at least as many wrong readings as the modelled rows need.

    Posterior-predictive check: the expected number of wrong readings under the modelled rows
    against the distribution of their number (Poisson-binomial), where every reading has its own
    share: one confirmed by repeats is hardly ever wrong. Looked at twice, over all readings and
    over the confirmed ones alone (those shares are small beside a single reading's, and would be
    lost among them); the smaller chance counts. 0 when no row allows the readings.
    """
    if not belief.fits:
        return 0.0
    weights = _leading_rows(belief)
    shares = [reading.wrong_share(table.settings) for reading in belief.readings]
    needed = [float(weights @ wrong) for wrong in belief.wrong]
    chances = [_at_least(shares, round(sum(needed)))]
    confirmed = [n for n, reading in enumerate(belief.readings) if len(reading.indices) > 1]
    if confirmed:
        few = round(sum(needed[n] for n in confirmed))
        chances.append(_at_least([shares[n] for n in confirmed], few))
    return min(chances)


def _at_least(shares: Sequence[float], count: int) -> float:
    """Return the chance that at least so many of independent events happen (Poisson-binomial)."""
    happened = np.zeros(len(shares) + 1)
    happened[0] = 1.0
    for share in shares:
        happened[1:] = happened[1:] * (1.0 - share) + happened[:-1] * share
        happened[0] *= 1.0 - share
    return float(min(max(happened[count:].sum(), 0.0), 1.0))
