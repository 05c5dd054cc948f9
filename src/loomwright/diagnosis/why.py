"""The reasons of a verdict, computed from the readings, in words a customer can read."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loomwright.diagnosis.belief import Belief, Reading
from loomwright.diagnosis.records import Suspect
from loomwright.diagnosis.source_words import why_source
from loomwright.diagnosis.suspects import predicted_value
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.unlisted import unmodelled_share
from loomwright.diagnosis.unlisted_words import why_unlisted
from loomwright.diagnosis.wording import (
    check_words,
    join_words,
    percent,
    repair_words,
    seen_words,
    suspect_words,
    value_words,
)

__all__ = [
    "because",
    "telling_readings",
    "why_in_vain",
    "why_no_fault",
    "why_repair",
    "why_second_part",
    "why_unexplained",
]

_NAMED_SHARE = 0.02  # suspects below this are not named in the reasons
_MOST_NAMED = 4
_TELLING_LOG = 1.0  # natural log units by which a reading must speak against a healthy plant


def _against(belief: Belief, number: int, rows: Sequence[int], other: Sequence[int]) -> float:
    """Return how much a reading speaks for some rows against others [natural log]."""
    log = belief.log_likelihoods[number]
    return _row_mean(belief, log, rows) - _row_mean(belief, log, other)


def _row_mean(belief: Belief, log: np.ndarray, rows: Sequence[int]) -> float:
    """Return the log of the mean likelihood over rows, weighted by the belief (or evenly)."""
    weights = belief.joint[:, list(rows)]
    weights = weights if weights.sum() > 0.0 else np.ones_like(weights)
    peak = max(float(log.max()), -700.0)
    likelihood = np.exp(np.maximum(log[:, list(rows)], -1e6) - peak)
    mean = float((weights * likelihood).sum() / weights.sum())
    return peak + float(np.log(max(mean, 1e-300)))


def telling_readings(
    table: Table, belief: Belief, suspects: Sequence[Suspect]
) -> tuple[Reading, ...]:
    """Return the readings that speak loudest for the first suspect against a healthy plant."""
    if not suspects:
        return ()
    rows = table.fault_rows[suspects[0].id]
    scores = [_against(belief, n, rows, [0]) for n in range(len(belief.readings))]
    order = np.argsort(-np.array(scores), kind="stable")
    return tuple(belief.readings[n] for n in order if scores[n] > _TELLING_LOG)


def _seen_against_healthy(table: Table, belief: Belief, reading: Reading) -> str:
    """Return "voltage at Y1.1 in 'locking' read 0 V where a healthy circuit shows 25 V"."""
    healthy = predicted_value(table, belief, reading.check, [0])
    return seen_words(reading.check, reading.value, healthy)


def because(table: Table, belief: Belief, suspects: Sequence[Suspect]) -> str:
    """Return which suspect leads and the one or two readings that say so.

    Where something that the drawing does not show is likelier than any suspect, that is said.
    """
    if not suspects:
        return "No fault in the drawing fits the readings."
    lead = suspects[0]
    unlisted = unmodelled_share(table, belief)
    words = why_unlisted(table, belief) if unlisted > lead.probability else ""
    if words:
        return (f"No fault in the drawing has more than {percent(lead.probability)}, "
                f"what the drawing does not show {percent(unlisted)}.{words}")
    start = f"{suspect_words(lead)} is the likeliest fault ({percent(lead.probability)})"
    telling = telling_readings(table, belief, suspects)[:2]
    if not telling:
        return f"{start}; no reading speaks for it yet."
    seen = list(dict.fromkeys(_seen_against_healthy(table, belief, one) for one in telling))
    return f"{start}: {join_words(seen)}."


def why_repair(
    table: Table, belief: Belief, suspects: Sequence[Suspect], repairs: Sequence[str]
) -> str:
    """Return why the first of `repairs` is advised; faults no check can separate share the name."""
    text = because(table, belief, suspects)
    twins = [s for s in suspects if s.repair in repairs and s.probability > _NAMED_SHARE]
    named = [suspect_words(suspect) for suspect in twins[:_MOST_NAMED]]
    advice = f" Repair: {repair_words(table, repairs[0])}."
    if len(repairs) > 1:
        others = [repair_words(table, repair) for repair in repairs[1:_MOST_NAMED]]
        return (
            f"{text} No check on offer can tell {join_words(named)} apart.{advice}"
            f" It is the cheapest to try first; if the proof fails: {join_words(others, 'or')}."
        )
    if len(named) > 1:
        return f"{text} {join_words(named, 'or')}: the same repair mends either.{advice}"
    return text + advice


def why_no_fault(table: Table, belief: Belief, share: float) -> str:
    """Return why no fault is found, naming how many readings are those of a healthy plant."""
    count = sum(len(reading.indices) for reading in belief.readings)
    noun = "reading is that" if count == 1 else "readings are those"
    left = percent(1.0 - share)
    return (
        f"{count} {noun} of a healthy circuit; {left} is left for a fault. If the complaint comes "
        "back, take readings while it shows."
    )


def why_unexplained(table: Table, belief: Belief, suspects: Sequence[Suspect]) -> str:
    """Return which readings contradict each other under every fault in the drawing."""
    rows = belief.rows.copy()
    rows[-1] = 0.0
    rows = rows / rows.sum() if rows.sum() > 0.0 else rows
    odd = [
        f"{check_words(reading.check)} ({value_words(reading.check, reading.value)})"
        for reading, wrong in zip(belief.readings, belief.wrong, strict=True)
        if float(rows @ wrong) > 0.5
    ]
    text = "No single fault in the drawing explains the readings together."
    if odd and suspects:
        text += f" Even {suspect_words(suspects[0])} leaves {join_words(odd)} unexplained."
    text += why_unlisted(table, belief) + why_source(table, belief)
    return (
        f"{text} No part is advised. Repeat those readings, then look for something the drawing "
        "does not show: added equipment, a repaired loom, or two faults at once."
    )


def why_second_part(table: Table, rejected: Sequence[str], repair: str) -> str:
    """Return why a second part is not advised before a person says so."""
    done = join_words([repair_words(table, name) for name in rejected])
    return (
        f"Already done without success: {done}. Next in line is {repair_words(table, repair)}, but "
        "a second part is not advised on the same reasoning: repeat the deciding readings, or let "
        "a person agree to it."
    )


def why_in_vain(table: Table, done: Sequence[str], lead: str) -> str:
    """Return why nothing more is advised after a repair that the readings had asked for failed."""
    names = join_words([repair_words(table, name) for name in done])
    text = f"Done with confidence and without success: {names}. So the reasoning itself is in doubt"
    if lead in table.repairs:
        text += f", and {repair_words(table, lead)} would rest on the same"
    return (
        f"{text}. No repair is advised. If the old part was really bad, say so and go on: then "
        "there is a second fault. Otherwise look for something the drawing does not show."
    )
