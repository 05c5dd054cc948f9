"""Words for an unknown current that fits: between which points, how much, what would tell."""

from __future__ import annotations

import math

import numpy as np

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.free_sources import FreeFit
from loomwright.diagnosis.suspects import predicted_value
from loomwright.diagnosis.table import UNMODELLED, Table
from loomwright.diagnosis.wording import check_words, join_words, value_words
from loomwright.plant import Check, free_sources

__all__ = ["leading_places", "source_check", "why_source"]

_LEADS = 0.5  # of all belief, the rows of the drawing and of resistances between points included
_NAMED_SHARE = 0.1  # of these rows' belief; places below are not named
_MOST_NAMED = 3
_CLEAR = 3.0  # standard deviations from which a check tells two explanations apart


def leading_places(fit: FreeFit | None) -> tuple[tuple[str, str], ...]:
    """Return the pairs of points of the current that fits, likeliest first.

    Those that the readings do not tell from the first follow. Empty unless such rows have more
    than half of the belief and the readings say how much current flows in some state.
    """
    if fit is None or float(fit.shares.sum()) <= _LEADS:
        return ()
    if not any(one.known for one in fit.currents.values()):
        return ()
    order = np.argsort(-fit.shares, kind="stable")
    limit = _NAMED_SHARE * float(fit.shares.sum())
    return tuple(fit.sources.ends[n] for n in order if fit.shares[n] > limit)


def source_check(table: Table, belief: Belief) -> tuple[Check, float] | None:
    """Return the quickest harmless check that shows the fitted current, and what it then reads.

    By three standard deviations against no fault and the likeliest fault of the drawing; only in
    states whose current the readings tell.
    """
    fit = belief.free
    if fit is None or not leading_places(fit):
        return None
    modelled = [n for n, row in enumerate(table.rows[:-1]) if row.repair != UNMODELLED.repair]
    rival = max(modelled[1:], key=lambda number: float(belief.rows[number]), default=0)
    known = {state for state, one in fit.currents.items() if one.known}
    taken = {reading.check for reading in belief.readings}
    asked = [check for check in table.checks
             if check.offer and check.state in known and check not in taken]
    sources = free_sources(table.plant, asked)
    best: tuple[int, float, Check, float] | None = None
    for number, check in enumerate(asked):
        per_a = float("nan") if sources is None else float(sources.response[fit.lead, number])
        if not math.isfinite(per_a):
            continue
        model, current = table.model(check), fit.currents[check.state]
        mean, sd = model.mean[fit.nuisance], model.sd[fit.nuisance]
        there = float(mean[0]) + per_a * current.mean_a
        own = math.hypot(float(sd[0]), per_a * current.sd_a)
        apart = min(abs(there - float(mean[row])) / math.hypot(own, float(sd[row]))
                    for row in (0, rival))
        cost = (check.risk, check.minutes)
        if apart >= _CLEAR and (best is None or cost < best[:2]):
            best = (*cost, check, there)
    return None if best is None else best[2:]


def why_source(table: Table, belief: Belief) -> str:
    """Return between which points an unknown current fits, its amps and what would tell, or ''."""
    fit, places = belief.free, leading_places(belief.free)
    if fit is None or not places:
        return ""
    amps = [f"{_amps(one.mean_a, one.sd_a)} in '{state}'"
            for state, one in fit.currents.items() if one.known]
    first = places[0]
    text = (f" A current that nobody drew would fit them: {join_words(amps)} "
            f"out of the circuit at {first[0]} and back at {first[1]} (below 0: the other way).")
    others = [f"{a} and {b}" for a, b in places[1:_MOST_NAMED]]
    if others:
        text += f" As well it may be between {join_words(others, 'or between')}."
    found = source_check(table, belief)
    if found is None:
        return text
    check, there = found
    healthy = predicted_value(table, belief, check, [0])
    return (f"{text} What would tell: {check_words(check)} ({value_words(check, there)} then, "
            f"{value_words(check, healthy)} in a healthy circuit).")


def _amps(mean_a: float, sd_a: float) -> str:
    """Return amps to what the fit knows of them: '2.3 A, give or take 0.1'."""
    digits = min(max(1 - math.floor(math.log10(max(sd_a, 0.001))), 1), 3)
    return f"{mean_a:.{digits}f} A, give or take {max(sd_a, 10.0**-digits):.{digits}f},"
