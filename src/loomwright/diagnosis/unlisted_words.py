"""Words for something that the drawing does not show: where it sits, and what would tell why."""

from __future__ import annotations

import numpy as np

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.suspects import predicted_value
from loomwright.diagnosis.table import UNMODELLED, Table
from loomwright.diagnosis.wording import check_words, join_words, percent, value_words
from loomwright.plant import Check, Hypothesis

__all__ = ["leading_unlisted", "telling_checks", "why_unlisted"]

_NAMED_SHARE = 0.1  # of the unmodelled belief; rows below are not named
_MOST_NAMED = 3
_MOST_CHECKS = 2
_CLEAR = 3.0  # standard deviations from which a check tells two explanations apart


def leading_unlisted(table: Table, belief: Belief) -> tuple[Hypothesis, ...]:
    """Return the rows of something unlisted that carry the unmodelled belief, likeliest first.

    Empty unless they have more of it than the row that predicts nothing.
    """
    return tuple(table.rows[number] for number in _leading(table, belief))


def _leading(table: Table, belief: Belief) -> list[int]:
    own = [n for n, row in enumerate(table.rows[:-1]) if row.repair == UNMODELLED.repair]
    total = float(belief.rows[own].sum())
    if total <= float(belief.rows[-1]):
        return []
    best = sorted(own, key=lambda number: -float(belief.rows[number]))
    return [n for n in best if float(belief.rows[n]) > _NAMED_SHARE * total]


def telling_checks(table: Table, belief: Belief) -> tuple[Check, ...]:
    """Return the offered checks not yet taken that tell the likeliest unlisted row from the rest.

    From no fault and from the likeliest fault of the drawing by at least three standard
    deviations, most per minute first.
    """
    rows = _leading(table, belief)
    if not rows:
        return ()
    modelled = [n for n, row in enumerate(table.rows[:-1]) if row.repair != UNMODELLED.repair]
    rival = max(modelled[1:], key=lambda number: float(belief.rows[number]))
    taken = {reading.check for reading in belief.readings}
    node = int(np.argmax(belief.joint[:, rows[0]]))
    scored = []
    for check, model in zip(table.checks, table.models, strict=True):
        if check in taken or model.levels is not None or not check.offer:
            continue
        mean, sd = model.mean[node], model.sd[node]
        apart = min(abs(mean[rows[0]] - mean[other]) / np.hypot(sd[rows[0]], sd[other])
                    for other in (0, rival))
        if apart >= _CLEAR:  # NaN, an impossible check, is not
            scored.append((check.risk, check.minutes, check))
    scored.sort(key=lambda one: one[:2])
    return tuple(check for _, _, check in scored[:_MOST_CHECKS])


def why_unlisted(table: Table, belief: Belief) -> str:
    """Return where something unlisted fits the readings and what would tell; '' where none does."""
    rows = _leading(table, belief)
    if not rows:
        return ""
    named = [_place_words(table.rows[n]) for n in rows[:_MOST_NAMED]]
    share = percent(float(sum(belief.rows[n] for n in rows[:_MOST_NAMED])))
    text = (f" Something that the drawing does not show fits them ({share}): "
            f"{join_words(named, 'or')}.")
    telling = []
    for check in telling_checks(table, belief):
        there, healthy = (value_words(check, predicted_value(table, belief, check, [n]))
                          for n in (rows[0], 0))
        telling.append(f"{check_words(check)} ({there} then, {healthy} in a healthy circuit)")
    return text + (f" What would tell: {join_words(telling)}." if telling else "")


def _place_words(row: Hypothesis) -> str:
    ends = join_words(row.element.split("~"))
    cell = row.severity
    ohms = "" if cell is None else f"{_ohms(cell.low_ohm)} to {_ohms(cell.high_ohm)} ohm "
    return f"{ohms}between {ends}"


def _ohms(ohm: float) -> str:
    """Return ohms of which two digits count, without an exponent."""
    return f"{float(f'{ohm:.2g}'):g}"
