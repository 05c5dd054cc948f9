"""Evidence that is no reading: trouble codes, parts swapped, what happened before the fault.

A clue says how likely it is under each fault. That does not depend on the battery or on any other
clue, so by Bayes' rule it multiplies the prior of the rows; readings then count as ever.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.records import Clue, ClueWeight, Suspect
from loomwright.diagnosis.repaired import folded
from loomwright.diagnosis.table import NO_REPAIR, UNMODELLED, Table
from loomwright.diagnosis.wording import repair_words, suspect_words
from loomwright.errors import UnknownNameError, UsageError

__all__ = ["clue_log", "weigh_clues", "with_clues"]

Array = NDArray[np.float64]

_MOST_BITS = 60.0
_SPEAKS_BITS = 0.5


def _checked(table: Table, clue: Clue) -> None:
    shares = (clue.otherwise, clue.no_fault, clue.unmodelled, *(s for _, s in clue.likelihood))
    if not all(math.isfinite(share) and share > 0.0 for share in shares):
        raise UsageError(f"The clue '{clue.text}' has a likelihood that is not above 0.")
    for name, _ in clue.likelihood:
        if name not in table.fault_rows:
            raise UnknownNameError("fault", name, table.fault_rows)


def clue_log(table: Table, clue: Clue) -> Array:
    """Return the log likelihood (n_rows,) of a clue.

    A row of several faults counts as that of its faults under which the clue is likeliest.
    Raises UnknownNameError on an unknown fault, UsageError on a likelihood not above 0.
    """
    _checked(table.base or table, clue)
    known = dict(clue.likelihood)
    shares = np.array([
        max(known.get(one.fault_id, clue.otherwise) for one in (row.parts or (row,)))
        for row in table.rows
    ])
    shares[0], shares[-1] = clue.no_fault, clue.unmodelled
    result: Array = np.log(shares)
    return result


def with_clues(table: Table, clues: Sequence[Clue]) -> Table:
    """Return the table with the priors that the clues lead to; without clues the table itself.

    The predictions are shared, not copied. The order of the clues does not matter.
    """
    if not clues:
        return table
    key = ("clues", tuple(sorted(clues, key=lambda clue: clue.text)))
    return table.derived(key, lambda: _clued(table, key[1]))


def _clued(table: Table, clues: Sequence[Clue]) -> Table:
    log = table.log_prior + sum((clue_log(table, one) for one in clues), np.zeros(1))
    top = float(log.max())
    log = log - top - math.log(float(np.exp(log - top).sum()))
    return replace(table, log_prior=log, _wider={})


def weigh_clues(
    table: Table, belief: Belief, clues: Sequence[Clue], suspects: Sequence[Suspect]
) -> tuple[ClueWeight, ...]:
    """Return what each clue says between the first two suspects, and what changes without it.

    `table` and `belief` are those after the clues, widened or not.
    """
    first, second = _pair(table, suspects)
    lead = _leading(table, belief.rows)
    found = []
    for number, clue in enumerate(clues):
        log = clue_log(table, clue)
        without = _without(belief, log)
        other = _leading(table, without)
        bits = _bits(belief.rows, without, first[0], second[0])
        text = f"{clue.text}. {_says(bits, first[1], second[1])}"
        if other != lead:
            text += f" Without it, {_lead_words(table, other)} leads instead."
        changed = "" if other == lead else other or "no fault"
        found.append(ClueWeight(number, bits, changed, text))
    return tuple(found)


def _without(belief: Belief, log: Array) -> Array:
    """Return the belief of rows with a clue left out."""
    total = belief.start - log[None, :]
    for one in belief.log_likelihoods:
        total = total + one
    top = float(total.max())
    if not math.isfinite(top):
        return belief.rows
    joint = np.exp(total - top)
    joint = joint if belief.left is None else folded(joint, belief.left)
    result: Array = joint.sum(axis=0) / joint.sum()
    return result


def _pair(table: Table, suspects: Sequence[Suspect]
          ) -> tuple[tuple[list[int], str], tuple[list[int], str]]:
    """Return rows and words of the first suspect and of the next with another repair."""
    last = len(table.rows) - 1
    healthy = ([0], "a healthy circuit")
    if not suspects:
        return healthy, ([last], "a fault outside the drawing")
    first = suspects[0]
    second = next((one for one in suspects[1:] if one.repair != first.repair), None)
    rows = (list(table.fault_rows[first.id]), suspect_words(first))
    return rows, healthy if second is None else (
        list(table.fault_rows[second.id]), suspect_words(second))


def _bits(now: Array, before: Array, first: list[int], second: list[int]) -> float:
    odds = [math.log2(max(float(rows[first].sum()), 1e-300))
            - math.log2(max(float(rows[second].sum()), 1e-300)) for rows in (now, before)]
    return float(np.clip(odds[0] - odds[1], -_MOST_BITS, _MOST_BITS))


def _leading(table: Table, rows: Array) -> str:
    sums = np.bincount(table.class_of, weights=rows, minlength=len(table.classes))
    return table.classes[int(np.argmax(sums))]


def _lead_words(table: Table, repair: str) -> str:
    if repair == NO_REPAIR:
        return "no fault"
    if repair == UNMODELLED.repair:
        return "a fault outside the drawing"
    return f"'{repair_words(table, repair)}'"


def _says(bits: float, first: str, second: str) -> str:
    if abs(bits) < _SPEAKS_BITS:
        return f"Between {first} and {second} it says nothing."
    winner, loser = (first, second) if bits > 0.0 else (second, first)
    return f"It speaks for {winner} against {loser} ({abs(bits):.1f} bits)."
