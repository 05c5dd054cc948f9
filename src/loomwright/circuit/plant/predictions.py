"""Predicted readings of fault rows: means and spreads over severity, tolerance and battery volts.

Each row is solved several times, once per draw: a severity inside its cell and a draw of the
tolerances. Mean and spread of a reading are those of its draws. The battery's volts are unknown to
all readings alike, so they are a grid of their own: volts and amps grow in proportion to them,
which is exact for linear parts and close for lamps; a relay or fuse on the edge is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.batch import Variant
from loomwright.circuit.model import Circuit
from loomwright.circuit.plant.hypotheses import FaultRow
from loomwright.circuit.plant.instruments import (
    FLOATING_SPREAD_V,
    LEAD_OHM,
    LEAD_SPREAD_OHM,
    OPEN_LINE_OHM,
    PROBE_SPREAD_V,
)
from loomwright.circuit.plant.solutions import Solutions
from loomwright.plant import Check

__all__ = ["DRAWS", "EMF_FACTORS", "EMF_WEIGHTS", "Reader", "Sample"]

Array = NDArray[np.float64]

DRAWS = 4  # severities inside a cell, each with its own draw of the tolerances
# Battery volts against the file's (all assumed): a battery at rest, tired to fresh; one that an
# engine charges; now and then any other. Near the middle the grid must be about as fine as a meter
# reads, or a voltage between two nodes looks like a volt drop; further out the spread inside a
# step makes up for it.
_REST_FACTORS = tuple(1.0 + 0.008 * number for number in range(-4, 5))
_LOW_FACTORS = (0.85, 0.873, 0.896, 0.917, 0.937, 0.955)
_CHARGED_FACTORS = (1.05, 1.075, 1.1, 1.125, 1.15, 1.18)
EMF_FACTORS = (*_LOW_FACTORS, *_REST_FACTORS, *_CHARGED_FACTORS)
# share of jobs, middle, standard deviation
_BATTERIES = ((0.8, 1.0, 0.02), (0.12, 1.12, 0.025), (0.08, 1.0, 0.08))
_STEPS = np.gradient(np.array(EMF_FACTORS))
_INSIDE_STEP = _STEPS / np.sqrt(12.0)  # battery volts between two nodes, as spread
_DENSITY = sum(share / sd * np.exp(-0.5 * ((np.array(EMF_FACTORS) - middle) / sd) ** 2)
               for share, middle, sd in _BATTERIES)
EMF_WEIGHTS = tuple(float(part) for part in _DENSITY * _STEPS / np.sum(_DENSITY * _STEPS))
_LOG_OFFSET_OHM = 0.5  # resistance readings are averaged on log10(ohm + 0.5)
_OPEN_LINE_LOG_SD = 0.15  # damp and dirt on an open circuit (assumed)
_FROM_FEW = np.sqrt(1.0 + 1.0 / DRAWS)  # the mean of a few draws is itself uncertain
# What people see against what is: rows off, dim, on (assumed).
_SEEN = np.array([[0.99, 0.008, 0.002], [0.05, 0.87, 0.08], [0.002, 0.028, 0.97]])
_TWO_LEVELS = np.array([[0.995, 0.005], [0.005, 0.995]])  # a buzzer misread (assumed)
# A controller's list: off, on, no answer. People, and some lists, call what does not answer "off".
_LISTED = np.array([[0.99, 0.005, 0.005], [0.005, 0.99, 0.005], [0.3, 0.005, 0.695]])


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One reading over rows: mean and spread (n_nuisance, n_rows), or level probabilities."""

    mean: Array
    spread: Array
    levels: Array | None = None


def _variant(row: tuple[FaultRow, ...], draw: int) -> Variant:
    """Return the variant of one draw: a severity of its cell and its share of the tolerances."""
    faults = tuple(one.samples[draw % len(one.samples)] for one in row)
    return Variant(faults, balanced=(draw, DRAWS))


class Reader:
    """Turns solved states into predicted readings, one check at a time over all rows at once."""

    def __init__(self, circuit: Circuit, rows: Sequence[tuple[FaultRow, ...]]) -> None:
        """Keep the rows; each is a tuple of faults present together (empty: no fault)."""
        self._count = len(rows)
        self._solutions = Solutions(
            circuit, tuple(_variant(row, draw) for row in rows for draw in range(DRAWS))
        )

    def samples(self, checks: Sequence[Check]) -> list[Sample]:
        """Return the predicted readings of every row at each check."""
        self._solutions.isolate(checks)
        return [self._sample(check) for check in checks]

    def _sample(self, check: Check) -> Sample:
        values = self._solutions.raw(check)
        if check.levels:
            if check.quantity in {"input", "output"}:
                return self._levels(values, _LISTED)
            return self._levels(values, _SEEN if len(check.levels) == len(_SEEN) else _TWO_LEVELS)
        if check.quantity == "resistance":
            return self._ohms(values)
        return self._numbers(values, check.unit)

    def _draws(self, values: Array) -> Array:
        return values.reshape(self._count, DRAWS)

    def _numbers(self, values: Array, unit: str) -> Sample:
        floats = np.isnan(values)
        draws = self._draws(np.where(floats, 0.0, values))
        spread = draws.std(axis=1) * _FROM_FEW
        if floats.any():
            share = self._draws(floats.astype(float)).mean(axis=1)
            spread = np.sqrt(spread**2 + FLOATING_SPREAD_V**2 * share)
        if unit == "V":
            spread = np.hypot(spread, PROBE_SPREAD_V)
        middle = draws.mean(axis=1)
        return Sample(np.outer(EMF_FACTORS, middle),
                      np.hypot(spread[None, :], np.outer(_INSIDE_STEP, middle)))

    def _levels(self, values: Array, seen: Array) -> Sample:
        """Return level probabilities: shares of the draws, seen through a person's eyes."""
        draws = self._draws(values)
        true = np.stack([(draws == level).mean(axis=1) for level in range(len(seen))], axis=1)
        levels = np.stack([true @ seen] * len(EMF_FACTORS))
        blank = np.full(levels.shape[:2], np.nan)
        return Sample(blank, blank, levels)

    def _ohms(self, values: Array) -> Sample:
        """Return ohms whose mean and spread are those of log10(ohm + 0.5), leads included."""
        draws = self._draws(np.log10(values + LEAD_OHM + _LOG_OFFSET_OHM))
        middle = draws.mean(axis=1)
        size = 10.0**middle
        spread_log = draws.std(axis=1) * _FROM_FEW
        spread_log = np.hypot(spread_log, _OPEN_LINE_LOG_SD * (size > 0.5 * OPEN_LINE_OHM))
        spread = np.hypot(spread_log * size * np.log(10.0), LEAD_SPREAD_OHM)
        mean = np.minimum(size - _LOG_OFFSET_OHM, OPEN_LINE_OHM)
        shape = (len(EMF_FACTORS), self._count)
        return Sample(np.broadcast_to(mean, shape), np.broadcast_to(spread, shape))
