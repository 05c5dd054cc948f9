"""What each reading says, what leaving it out would change, and what healthy would have shown."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.records import Evidence, ReadingWeight, Suspect
from loomwright.diagnosis.repaired import folded
from loomwright.diagnosis.suspects import predicted_value
from loomwright.diagnosis.table import NO_REPAIR, UNMODELLED, Table
from loomwright.diagnosis.wording import check_words, repair_words, suspect_words, value_words

__all__ = ["explain", "rows_without"]

Array = NDArray[np.float64]

_MOST_BITS = 60.0  # beyond this a weight says 'impossible' anyway
_SPEAKS_BITS = 0.5


def joint_without(belief: Belief, number: int) -> Array:
    """Return the joint belief (n_nuisance, n_rows) with one merged reading left out.

    It sums to one, or is zeros where no row fits the others.
    """
    log_joint = belief.start
    for other, log in enumerate(belief.log_likelihoods):
        if other != number:
            log_joint = log_joint + log
    top = float(log_joint.max())
    if not math.isfinite(top):
        return np.zeros(belief.joint.shape)
    joint = np.exp(log_joint - top)
    joint = joint if belief.left is None else folded(joint, belief.left)
    result: Array = joint / joint.sum()
    return result


def rows_without(belief: Belief, number: int) -> Array:
    """Return the belief of rows (n_rows,) with one merged reading left out; zeros if none fits."""
    result: Array = joint_without(belief, number).sum(axis=0)
    return result


def _bits(belief: Belief, without: Array, first: list[int], second: list[int]) -> float:
    """Return the log2 odds that the reading adds for the first rows against the second."""
    now = _log2_odds(belief.rows, first, second)
    before = _log2_odds(without, first, second)
    return float(np.clip(now - before, -_MOST_BITS, _MOST_BITS))


def _log2_odds(rows: Array, first: list[int], second: list[int]) -> float:
    return math.log2(max(float(rows[first].sum()), 1e-300)) - math.log2(
        max(float(rows[second].sum()), 1e-300)
    )


def _leading_class(table: Table, rows: Array) -> str:
    sums = np.bincount(table.class_of, weights=rows, minlength=len(table.classes))
    return table.classes[int(np.argmax(sums))]


def _lead_words(table: Table, repair: str) -> str:
    if repair == NO_REPAIR:
        return "no fault"
    if repair == UNMODELLED.repair:
        return "a fault outside the drawing"
    return f"'{repair_words(table, repair)}'"


def _pair(table: Table, suspects: Sequence[Suspect]) -> tuple[list[int], list[int], str, str]:
    """Return rows and words of the first suspect and of the next one with another repair."""
    if not suspects:
        return [0], [len(table.rows) - 1], "a healthy circuit", "a fault outside the drawing"
    first = suspects[0]
    second = next((s for s in suspects[1:] if s.repair != first.repair), None)
    words = suspect_words(first)
    rows = list(table.fault_rows[first.id])
    if second is None:
        return rows, [0], words, "a healthy circuit"
    return rows, list(table.fault_rows[second.id]), words, suspect_words(second)


def explain(
    table: Table,
    belief: Belief,
    evidence: Sequence[Evidence],
    suspects: Sequence[Suspect],
) -> tuple[ReadingWeight, ...]:
    """Return one weight per reading taken, in the order taken.

    Weights are bits of log odds between the first suspect and the next with another repair, by
    leaving the reading out (agreeing repeats count as one). `verdict_without` names the repair
    that would lead without it.
    """
    first, second, first_words, second_words = _pair(table, suspects)
    lead = _leading_class(table, belief.rows)
    weights: dict[int, ReadingWeight] = {}
    for number, reading in enumerate(belief.readings):
        without = rows_without(belief, number)
        bits = _bits(belief, without, first, second)
        other = _leading_class(table, without)
        healthy = predicted_value(table, belief, reading.check, [0])
        seen = value_words(reading.check, reading.value)
        text = f"{check_words(reading.check)}: {seen}; healthy shows "
        text += f"{value_words(reading.check, healthy)}.{_says(bits, first_words, second_words)}"
        if other != lead:
            text += f" If this reading is wrong, {_lead_words(table, other)} leads instead."
        for index in reading.indices:
            weights[index] = ReadingWeight(
                index=index,
                for_first_bits=bits,
                verdict_without="" if other == lead else (other or "no fault"),
                expected_if_healthy="" if healthy is None else healthy,
                text=text,
            )
    return tuple(weights[index] for index in range(len(evidence)))


def _says(bits: float, first: str, second: str) -> str:
    if abs(bits) < _SPEAKS_BITS:
        return ""  # no words: the same sentence at every reading that says nothing tires the reader
    winner, loser = (first, second) if bits > 0.0 else (second, first)
    return f" It speaks for {winner} against {loser} ({abs(bits):.1f} bits)."
