"""Predicted readings of fault rows: means and spreads over severity, tolerance and battery volts.

Each row is solved several times, once per draw: a severity inside its cell and a draw of the
tolerances. Mean and spread of a reading are those of its draws. The battery's volts are unknown to
all readings alike, so they are a grid of their own: volts and amps grow in proportion to them,
which is exact for linear parts and close for lamps; a relay or fuse on the edge is left out.
"""

from __future__ import annotations

import copy
import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.batch import Variant
from loomwright.circuit.model import Circuit
from loomwright.circuit.network import network_of
from loomwright.circuit.plant.hypotheses import SHORTS, FaultRow
from loomwright.circuit.plant.instruments import (
    FLOATING_SPREAD_V,
    LEAD_OHM,
    LEAD_SPREAD_OHM,
    OPEN_LINE_OHM,
    PROBE_SPREAD_V,
)
from loomwright.circuit.plant.solutions import Solutions
from loomwright.plant import Check, GrowingPrediction, Growth, Prediction

__all__ = ["DRAWS", "EMF_FACTORS", "EMF_WEIGHTS", "Reader", "Sample", "spread_out"]

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
_BATTERY = Growth(np.array(EMF_WEIGHTS), np.array(EMF_FACTORS) - 1.0, _INSIDE_STEP)
_LOG_OFFSET_OHM = 0.5  # resistance readings are averaged on log10(ohm + 0.5)
_OPEN_LINE_LOG_SD = 0.15  # damp and dirt on an open circuit (assumed)
_FROM_FEW = np.sqrt(1.0 + 1.0 / DRAWS)  # the mean of a few draws is itself uncertain
_RAISED = 1.05  # battery factor that shows which readings follow the battery
_MOST_SHARE = 2.0
_LEAST = 1e-6  # a reading below is none
_APART_A = 0.5  # five steps of a clamp: then it matters on which side of a short it sits
_SAME = 1e-9  # severities that differ by less are one
_AT_ONCE = 16  # checks; their numbers stay in the processor's cache
# What people see against what is: rows off, dim, on (assumed).
_SEEN = np.array([[0.99, 0.008, 0.002], [0.05, 0.87, 0.08], [0.002, 0.028, 0.97]])
_TWO_LEVELS = np.array([[0.995, 0.005], [0.005, 0.995]])  # a buzzer misread (assumed)
# What is heard of silence, a click and chatter beside other noise (assumed).
_HEARD = np.array([[0.95, 0.04, 0.01], [0.08, 0.91, 0.01], [0.02, 0.08, 0.90]])
# A controller's list: off, on, no answer. People, and some lists, call what does not answer "off".
_LISTED = np.array([[0.99, 0.005, 0.005], [0.005, 0.99, 0.005], [0.3, 0.005, 0.695]])
# What a hand feels of a motor that is free, stiff or stuck: a wiper's or winch's gear feels stiff
# when sound, and a seized fan may still give a little (assumed).
_TURNED = np.array([[0.94, 0.05, 0.01], [0.10, 0.80, 0.10], [0.02, 0.10, 0.88]])
_BY_QUANTITY = {"input": _LISTED, "output": _LISTED, "heard": _HEARD, "turns": _TURNED}


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One reading over rows, at the file's battery volts: see `spread_out` for the others.

    `mean` and `noise` (n_rows,) are those of the draws, `moving` (n_rows,) is the part of the mean
    that grows in proportion to the battery's volts; or `levels` (n_rows, n_levels) probabilities.
    `leaning` (n_rows,) is the part of the noise that goes with how severe the fault is, within its
    row: signed, for one deviation of the severity.
    """

    mean: Array
    noise: Array
    moving: Array
    levels: Array | None = None
    leaning: Array | None = None

    @property
    def spread(self) -> Array:
        """Return the spread (n_rows,), battery volts inside the middle step included."""
        return np.asarray(np.hypot(self.noise, _INSIDE_STEP[len(_INSIDE_STEP) // 2] * self.moving))

    def spread_of(self, row: int) -> float:
        """Return the spread of one row."""
        inside = _INSIDE_STEP[len(_INSIDE_STEP) // 2] * self.moving[row]
        return float(np.hypot(self.noise[row], inside))


def _variant(row: tuple[FaultRow, ...], draw: int, draws: int) -> Variant:
    """Return the variant of one draw: a severity of its cell and its share of the tolerances.

    A row that has only tolerances gets as many draws of them as are asked for; so does a short,
    whose draws are told apart by the side that a clamp sits on.
    """
    faults = tuple(one.samples[draw % len(one.samples)] for one in row)
    emf = math.prod(one.emf[draw % len(one.emf)] for one in row if one.emf)
    only_tolerances = len(row) == 1 and not row[0].emf and row[0].samples[0] is row[0].samples[-1]
    short = len(row) == 1 and row[0].hypothesis.kind in SHORTS
    count = draws if only_tolerances or short else DRAWS
    return Variant(faults, float(emf), balanced=(draw % count, count))


def _severity(variant: Variant) -> float:
    """Return a number that grows with how severe a variant's faults are: its ohms, its volts."""
    ohms = sum(math.log(one.ohms) for one in variant.faults if one.ohms)
    return ohms + variant.emf_factor


def _holds_volts(circuit: Circuit) -> bool:
    """Return whether something holds its volts whatever the battery has."""
    return any(one.steady or one.law == "regulated" for one in network_of(circuit).branches)


class Reader:
    """Turns solved states into predicted readings, one check at a time over all rows at once.

    `behaviour` is, for every draw of every row (n_rows, n_draws), a number for what loads, relays,
    fuses and controllers do in all states: the same number, the same behaviour.
    """

    def __init__(
        self, circuit: Circuit, rows: Sequence[tuple[FaultRow, ...]], draws: int = DRAWS
    ) -> None:
        """Keep the rows; each is a tuple of faults present together (empty: no fault)."""
        variants = [_variant(row, draw, draws) for row in rows for draw in range(draws)]
        # draw after draw in memory, so that a mean over draws adds whole rows
        self._draw = np.asfortranarray(np.arange(len(variants)).reshape(len(rows), draws))
        self._raised: NDArray[np.int64] | None = None
        self._plain: NDArray[np.int64] | None = None
        if _holds_volts(circuit):  # the first draw again, with more battery volts
            first = [variants[number] for number in self._draw[:, 0]]
            self._raised = len(variants) + np.arange(len(rows))
            variants += [replace(one, emf_factor=one.emf_factor * _RAISED) for one in first]
        self._solutions = Solutions(circuit, tuple(variants))
        self._severity = np.array([_severity(one) for one in variants])

    @property
    def count(self) -> int:
        """Return how many rows there are."""
        return len(self._draw)

    def behaviour(self) -> NDArray[np.int64]:
        """Return a number for the behaviour of each draw (n_rows, n_draws)."""
        return self._solutions.behaviour()[self._draw]

    def beyond(self, row: int, wire: str) -> NDArray[np.bool_]:
        """Return which draws of a row have a short beyond a clamp round its wire.

        None of them where the clamp shows the same on either side of the short in every state.
        """
        found = self._solutions.beyond()[self._draw[row]]
        apart = 0.0
        for state in self._solutions.circuit.states if found.any() else ():
            amps = self._solutions.amps(state, wire)[self._draw[row]]
            apart = max(apart, abs(float(amps[found].mean() - amps[~found].mean())))
        return np.asarray(found & (apart > _APART_A))

    def regrouped(self, groups: Sequence[tuple[int, Sequence[int]]]) -> Reader:
        """Return a reader whose rows are some draws of a row each: (row, draws)."""
        most = max(len(draws) for _, draws in groups)
        found = copy.copy(self)
        found._draw = np.asfortranarray([np.resize(self._draw[row, list(draws)], most)
                                         for row, draws in groups])
        if self._raised is not None:
            found._raised = self._raised[[row for row, _ in groups]]
            found._plain = self._draw[[row for row, _ in groups], 0]
        return found

    def samples(self, checks: Sequence[Check]) -> list[Sample]:
        """Return the predicted readings of every row at each check."""
        self._solutions.isolate(checks)
        sorts: dict[tuple[str, ...], list[int]] = {}
        for number, check in enumerate(checks):  # several of one sort are read at once
            sort = (check.state, check.quantity, check.unit, *check.levels)
            sorts.setdefault(sort, []).append(number)
        found: dict[int, Sample] = {}
        for numbers in sorts.values():
            for first in range(0, len(numbers), _AT_ONCE):
                some = numbers[first:first + _AT_ONCE]
                found |= zip(some, self._samples([checks[one] for one in some]), strict=True)
        return [found[number] for number in range(len(checks))]

    def _samples(self, checks: Sequence[Check]) -> list[Sample]:
        """Return the predicted readings of checks of one sort."""
        one, values = checks[0], self._solutions.raw_of(checks)
        if one.levels:
            seen = _SEEN if len(one.levels) == len(_SEEN) else _TWO_LEVELS
            seen = _BY_QUANTITY.get(one.quantity, seen)
            return [self._levels(some, seen) for some in values]
        parts = self._ohms(values) if one.quantity == "resistance" else \
            self._numbers(values, one.unit)
        return [Sample(mean, noise, moving, None, leaning)
                for mean, noise, moving, leaning in zip(*parts, strict=True)]

    def _draws(self, values: Array) -> Array:
        return np.asarray(values[self._draw])

    @functools.cached_property
    def _degrees(self) -> Array:
        """Return how severe each draw is within its row (n_draws, n_rows): mean 0, deviation 1.

        0 where a row has one severity only.
        """
        found = self._severity[self._draw].T
        found = found - found.mean(axis=0)
        spread = np.sqrt((found**2).mean(axis=0))
        return np.asarray(np.where(spread > _SAME, found / np.maximum(spread, _SAME), 0.0))

    def _spread(self, values: Array) -> tuple[Array, Array, Array]:
        """Return mean, spread and leaning (n_checks, n_rows) of the draws of values (n_checks, B).
        """
        draws = [values.take(some, axis=1) for some in self._draw.T]
        mean = functools.reduce(np.add, draws) / len(draws)
        leaning, step = np.zeros(mean.shape), np.empty(mean.shape)
        for one, degree in zip(draws, self._degrees, strict=True):
            one -= mean
            leaning += np.multiply(one, degree, out=step)
            one *= one
        spread = np.sqrt(functools.reduce(np.add, draws) / len(draws)) * _FROM_FEW
        return mean, spread, leaning * (_FROM_FEW / len(draws))

    def _follows(self, values: Array) -> Array:
        """Return by how much each row's readings grow with the battery's volts, share by share.

        1 where nothing holds its volts: everything is in proportion then. A reading that jumps (a
        relay lets go) is taken as in proportion.
        """
        if self._raised is None:
            return np.ones((1, self.count))
        plain = self._draw[:, 0] if self._plain is None else self._plain
        before, after = values[:, plain], values[:, self._raised]
        with np.errstate(invalid="ignore", divide="ignore"):
            share = (after / before - 1.0) / (_RAISED - 1.0)
        steady = np.abs(share) <= _MOST_SHARE
        return np.where(np.isfinite(share) & steady & (np.abs(before) > _LEAST), share, 1.0)

    def _numbers(self, values: Array, unit: str) -> tuple[Array, Array, Array, Array]:
        """Return mean, noise, moving and leaning part of volts or amps (n_checks, B).

        (n_checks, n_rows) each.
        """
        floats = np.isnan(values)
        values = np.where(floats, 0.0, values)
        middle, spread, leaning = self._spread(values)
        for number in np.flatnonzero(floats.any(axis=1)):
            share = self._draws(floats[number].astype(float)).mean(axis=1)
            spread[number] = np.sqrt(spread[number] ** 2 + FLOATING_SPREAD_V**2 * share)
        if unit == "V":
            spread = np.hypot(spread, PROBE_SPREAD_V)
        return middle, spread, middle * self._follows(values), leaning

    def _levels(self, values: Array, seen: Array) -> Sample:
        """Return level probabilities: shares of the draws, seen through a person's eyes."""
        draws = self._draws(values)
        true = np.stack([(draws == level).mean(axis=1) for level in range(len(seen))], axis=1)
        blank = np.full(len(true), np.nan)
        return Sample(blank, blank, blank, true @ seen)

    def _ohms(self, values: Array) -> tuple[Array, Array, Array, Array]:
        """Return ohms whose mean and spread are those of log10(ohm + 0.5), leads included.

        As `_numbers`; the battery's volts do not move them.
        """
        middle, spread_log, leaning = self._spread(
            np.log10(values + LEAD_OHM + _LOG_OFFSET_OHM))
        size = 10.0**middle
        spread_log = np.hypot(spread_log, _OPEN_LINE_LOG_SD * (size > 0.5 * OPEN_LINE_OHM))
        spread = np.hypot(spread_log * size * np.log(10.0), LEAD_SPREAD_OHM)
        mean = np.minimum(size - _LOG_OFFSET_OHM, OPEN_LINE_OHM)
        return mean, spread, np.zeros(mean.shape), leaning * size * np.log(10.0)


def spread_out(samples: Sequence[Sample], rows: NDArray[np.int64]) -> Prediction:
    """Return readings of some rows over the battery grid, as the diagnosis takes them."""
    shape = (len(samples), len(rows))  # a check's readings lie together
    mean, noise, moving = np.empty(shape), np.empty(shape), np.empty(shape)
    leaning = np.zeros(shape)
    levels = {}
    for number, sample in enumerate(samples):
        mean[number], noise[number] = sample.mean[rows], sample.noise[rows]
        moving[number] = sample.moving[rows]
        if sample.leaning is not None:
            leaning[number] = sample.leaning[rows]
        if sample.levels is not None:
            some = sample.levels[rows]
            levels[number] = np.broadcast_to(some, (len(EMF_FACTORS), *some.shape))
    return GrowingPrediction((mean, moving, noise), _BATTERY, levels, leaning)

