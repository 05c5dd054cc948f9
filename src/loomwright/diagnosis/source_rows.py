"""When rows of an unknown current between two points are asked for, and how they fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief, Reading, log_likelihood
from loomwright.diagnosis.free_sources import FittedCurrent, FreeFit, StateReadings, Tallied, tally
from loomwright.diagnosis.misfit import misfit_probability
from loomwright.diagnosis.table import UNMODELLED, Table, scaled
from loomwright.plant import FreeSources, free_sources

__all__ = ["fitted_sources", "with_sources"]

Array = NDArray[np.float64]

# Asked for below this chance of as many wrong readings as the listed rows need, or from this belief
# in what is not listed: where the verdict is "unexplained" anyway. Earlier (0.05, 0.1) one of 106
# single faults that was found no longer was.
_FITS = 0.003
_UNKNOWN = 0.5
_LIMIT_SDS = 2.0  # standard deviations of the prior to the largest current
_ELSE = math.log(0.5)  # what is seen, heard or in ohms: as healthy, or anything, half each


def with_sources(table: Table, belief: Belief) -> Belief:
    """Return the belief with unknown currents fitted beside its rows (`free`), where asked for.

    What the rows of the table have stays. With the currents as part of the row that predicts
    nothing, the repairs advised were the same and the minutes to hand on no fewer.
    """
    fit = fitted_sources(table, belief)
    return belief if fit is None else replace(belief, free=fit)


def fitted_sources(table: Table, belief: Belief) -> FreeFit | None:
    """Return the rows of an unknown current, fitted; None where something listed explains all.

    Of readings after a repair only the newest count: before it something else was wrong.
    """
    least = min(table.settings.free_source_prior, table.settings.unmodelled_prior)
    if least <= 0.0 or not _asked_for(table, belief):
        return None
    newest = tuple(one for one in belief.readings if belief.repeatable(one))
    sources = free_sources(table.plant, [one.check for one in newest])
    if sources is None or not sources.ends:
        return None
    return _fit(table, belief, newest, sources)


def _asked_for(table: Table, belief: Belief) -> bool:
    if not belief.readings or not belief.fits:
        return False
    unknown = float(belief.classes[table.classes.index(UNMODELLED.repair)])
    return unknown > _UNKNOWN or misfit_probability(table, belief) < _FITS


def _fit(table: Table, belief: Belief, readings: Sequence[Reading], sources: FreeSources
         ) -> FreeFit:
    followed = np.isfinite(sources.response).all(axis=0)
    prior = table.settings.free_source_prior / table.settings.unmodelled_prior
    log = belief.start[:, -1:] + np.log(prior * np.array(sources.shares))[None, :]
    for one, known in zip(belief.readings, belief.log_likelihoods, strict=True):
        if one not in readings:  # from before a repair: whatever it was, it says nothing here
            log = log + known[:, -1:]
    numbers = [int(n) for n in np.flatnonzero(followed)]
    for number in set(range(len(readings))) - set(numbers):
        log = log + _not_followed(table, readings[number])[:, None]
    states = dict.fromkeys(readings[number].check.state for number in numbers)
    tallies = {}
    for state in states:
        some = [n for n in numbers if readings[n].check.state == state]
        response = sources.response[:, some]
        prior_sd = _prior_sd(sources, response, [readings[n] for n in some])
        found = tally(_state_readings(table, [readings[n] for n in some], response), prior_sd)
        tallies[state] = (found, prior_sd)
        log = log + found.log
    rest = _of_all(belief)
    top = max(float(log.max()), float(rest.max()))
    joint, others = np.exp(log - top), np.exp(rest - top)
    shares = joint.sum(axis=0) / (joint.sum() + others.sum())
    lead = int(np.argmax(np.logaddexp.reduce(log, axis=0)))
    node = np.exp(log[:, lead] - np.logaddexp.reduce(log[:, lead]))
    currents = {state: _current(found, prior_sd, lead, node)
                for state, (found, prior_sd) in tallies.items()}
    return FreeFit(sources, shares, lead, currents, int(np.argmax(node)))


def _of_all(belief: Belief) -> Array:
    return np.asarray(belief.start + sum(belief.log_likelihoods, np.zeros_like(belief.start)))


def _current(found: Tallied, prior_sd: Array, place: int, node: Array) -> FittedCurrent:
    mean = float(node @ found.mean[:, place])
    second = float(node @ (found.variance[:, place] + found.mean[:, place] ** 2))
    sd = math.sqrt(max(second - mean**2, 0.0))
    return FittedCurrent(mean, sd, float(prior_sd[place]))


def _prior_sd(sources: FreeSources, response: Array, readings: Sequence[Reading]) -> Array:
    """Return the current's standard deviation by place [A].

    The largest current is two of them; no more than takes a reading across its span, which no
    battery does: at a point that nothing is joined to microamps do.
    """
    width = np.array([one.check.span[1] - one.check.span[0] for one in readings])
    most = (np.abs(response) / width).max(axis=1)
    limit = np.minimum(sources.limit_a, 1.0 / np.maximum(most, 1e-30))
    return np.asarray(limit / _LIMIT_SDS)


def _state_readings(table: Table, readings: Sequence[Reading], response: Array) -> StateReadings:
    residual, sd, wrong = [], [], []
    for one in readings:
        model = table.model(one.check)
        total, share = log_likelihood(model, one, table.settings)
        residual.append(float(scaled(one.check, float(one.value))) - model.mean[:, 0])
        sd.append(model.sd[:, 0])
        wrong.append(total[:, 0] + np.log(np.maximum(share[:, 0], 1e-300)))
    right = np.log1p([-one.wrong_share(table.settings) for one in readings])
    return StateReadings(np.stack(residual, axis=1), np.stack(sd, axis=1), response, right,
                         np.stack(wrong, axis=1))


def _not_followed(table: Table, reading: Reading) -> Array:
    """Return the log likelihood (n_nuisance,) of a reading that the response does not follow."""
    model = table.model(reading.check)
    healthy, _ = log_likelihood(model, reading, table.settings)
    low, high = model.span if model.levels is None else (0.0, float(model.levels.shape[2]))
    return np.asarray(np.logaddexp(_ELSE + healthy[:, 0], _ELSE - math.log(high - low)))
