"""Proof of repair: the failed readings again, loaded margins, and the odds for a healthy plant.

"The complaint is gone" is no proof: with two faults the complaint often goes with the first repair.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.belief import Belief, Reading, believe, check_evidence, log_likelihood
from loomwright.diagnosis.comes_and_goes import interval_of
from loomwright.diagnosis.outlook import class_gains, live_rows
from loomwright.diagnosis.records import Evidence, Proof
from loomwright.diagnosis.suspects import predicted_value
from loomwright.diagnosis.table import Table
from loomwright.diagnosis.wording import check_words, join_words, repair_words, value_words
from loomwright.errors import UnknownNameError
from loomwright.plant import Check

__all__ = ["judge_proof", "proof_checks"]

Array = NDArray[np.float64]

_NEEDED_FACTOR = 100.0  # Bayes factor healthy : best fault that counts as proof
# A fault this far apart, were all readings perfect, must be ruled out. Two sigma of reading error
# (z = 2) still leave the needed factor: d^2/2 - z d >= ln 100 gives d = 5.6, exp(d^2/2) = 7e6.
_SEES_FACTOR = 1e7
_DOUBT = 0.5
_FITS_LOG = 1.0


def _known_repair(table: Table, repair: str) -> None:
    if repair not in table.repairs:
        raise UnknownNameError("repair", repair, table.repairs)


def _failed(belief: Belief) -> list[Reading]:
    """Return the readings that a healthy plant would not show, the worst first."""
    scored = [
        (_healthy_log(log), reading)
        for reading, log in zip(belief.readings, belief.log_likelihoods, strict=True)
    ]
    scored.sort(key=lambda pair: pair[0])
    return [reading for score, reading in scored if score < -_FITS_LOG]


def _healthy_log(log: Array) -> float:
    """Return how far the healthy row is below the best row for one reading [natural log]."""
    return float(log[:, 0].max() - log.max())


def proof_checks(table: Table, repair: str, evidence: Sequence[Evidence]) -> tuple[Check, ...]:
    """Return what has to be read after a repair: the failed readings again, then loaded margins.

    Margins are those of the repair, and both drops of every load whose function was seen failing;
    that function is looked at in all its states. Set-up by set-up, that of the worst reading first.
    `evidence` is what was read before the repair. Raises UnknownNameError on an unknown repair.
    """
    _known_repair(table, repair)
    belief = believe(table, evidence)
    again = [
        reading.check
        for reading in _failed(belief)
        if not reading.check.action
        and predicted_value(table, belief, reading.check, [0]) is not None
    ]
    again += _other_states(table, again)
    margins = (*table.plant.margin_checks(repair), *_complained_drops(table, again))
    wanted = {check.id: check for check in (*again, *margins)}
    return _by_setup([*wanted.values()])


def _by_setup(checks: Sequence[Check]) -> tuple[Check, ...]:
    """Return checks set-up by set-up, each in the order of its first: none is made twice."""
    order = list(dict.fromkeys(check.setup for check in checks))
    return tuple(sorted(checks, key=lambda check: order.index(check.setup)))


def _other_states(table: Table, failed: Sequence[Check]) -> list[Check]:
    """Return the looks at functions seen failing in all other states the plant knows for them.

    A load that was dead cannot show that it would not go off: that is seen after the repair only.
    """
    listed = getattr(table.plant, "complaint_checks", None)
    looks = tuple(listed()) if callable(listed) else ()
    known = {one.id for one in looks}
    loads = {one.at for one in failed if one.id in known}
    return [one for one in looks if one.at in loads]


def _complained_drops(table: Table, failed: Sequence[Check]) -> tuple[Check, ...]:
    """Return both drops of every load whose function was seen failing, where the plant has them.

    Not only those of the mended path: a second fault of the same load shows there, under load.
    """
    listed = getattr(table.plant, "complaint_checks", None)
    drops = getattr(table.plant, "load_drops", None)
    if not callable(listed) or not callable(drops):
        return ()
    looks = {check.id for check in listed()}
    found: tuple[Check, ...] = tuple(drops([one.at for one in failed if one.id in looks]))
    return found


def _latest(evidence: Sequence[Evidence]) -> list[Evidence]:
    """Return the last reading of every check: a reading taken again replaces the first."""
    return list({item.check.id: item for item in evidence}.values())


def _marginal(table: Table, logs: Sequence[Array]) -> Array:
    """Return the log likelihood of every row, the nuisance marginalised."""
    total = table.log_weights[:, None] + sum(logs, np.zeros((len(table.log_weights), 1)))
    top = total.max(axis=0)
    safe = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        result: Array = safe + np.log(np.exp(total - safe).sum(axis=0))
    return result


def _factors(table: Table, evidence: Sequence[Evidence]) -> Array:
    """Return the log Bayes factor healthy : row for every row."""
    if not evidence:
        return np.zeros(len(table.rows))
    readings = [Reading(item.check, item.value, (0,)) for item in evidence]
    logs = [log_likelihood(table.model(r.check), r, table.settings)[0] for r in readings]
    rows = _marginal(table, logs)
    result: Array = rows[0] - rows
    return result


def _ideal(table: Table, belief: Belief, evidence: Sequence[Evidence]) -> list[Evidence]:
    """Return the same checks as a perfectly healthy plant would answer them."""
    values = [predicted_value(table, belief, item.check, [0]) for item in evidence]
    return [
        replace(item, value=value)
        for item, value in zip(evidence, values, strict=True)
        if value is not None
    ]


def judge_proof(
    table: Table,
    repair: str,
    evidence_after: Sequence[Evidence],
    *,
    evidence_before: Sequence[Evidence] = (),
) -> Proof:
    """Return whether the readings after a repair prove it.

    Holds when nothing is missing, every reading is that of a healthy plant, and the Bayes factor
    healthy : best fault is at least 100 for every fault that these readings can see at all. The
    last reading of a check counts. With `evidence_before` the failed readings are asked for again,
    and a function that had failed and worked has to work through the fault-free interval.
    """
    _known_repair(table, repair)
    check_evidence(evidence_after)
    after = _latest(evidence_after)
    belief = believe(table, after)
    required = proof_checks(table, repair, evidence_before)
    taken = {item.check.id for item in after}
    missing = [check for check in required if check.id not in taken]
    failed = [
        reading
        for reading, wrong in zip(belief.readings, belief.wrong, strict=True)
        if _fails(wrong) or _healthy_log(_log_of(belief, reading)) < -math.log(_NEEDED_FACTOR)
    ]
    factors = _factors(table, after)[1:-1]
    ideal = _factors(table, _ideal(table, belief, after))[1:-1]
    own = np.array([row.repair == repair for row in table.rows[1:-1]])
    seen = ideal >= math.log(_SEES_FACTOR)
    sees_own = bool(own.any()) and float(ideal[own].max()) >= math.log(_NEEDED_FACTOR)
    trials = _trials(table, evidence_before)
    done = sum(item.check == trials[0] for item in evidence_after) if trials else 0
    if trials and done < trials[1] and trials[0] not in missing:
        missing.append(trials[0])
    if not missing and not failed and not sees_own:
        missing = _more(table, repair, taken)
    doubted = np.flatnonzero(seen & (factors < math.log(_NEEDED_FACTOR)))
    holds = not failed and not missing and sees_own and doubted.size == 0
    names = list(dict.fromkeys(table.rows[int(n) + 1].element for n in doubted))
    why = _why(table, repair, failed, missing, belief)
    if trials and not failed:
        why += (f" It came and went before: {min(done, trials[1])} of {trials[1]} trials without "
                "the fault are done; all show with 95 % that it is gone.")
    if not failed and not missing and not holds:
        why = f"The readings do not yet rule out {join_words(names[:4]) or 'the fault itself'}."
    return Proof(holds, tuple(r.check.id for r in failed), tuple(missing), why)


def _trials(table: Table, before: Sequence[Evidence]) -> tuple[Check, int] | None:
    """Return the look that has to stay good, and how often, for a fault that came and went."""
    working = {}
    for item in before:
        levels = table.model(item.check).levels
        if item.check.instrument == "eye" and not item.check.action and levels is not None:
            healthy = int((np.exp(table.log_weights) @ levels[:, 0]).argmax())
            working[item.check.id] = item.check.levels[healthy]
    newest = [item for item in before if item.after == before[-1].after]
    return interval_of(newest, working)


def _log_of(belief: Belief, reading: Reading) -> Array:
    return belief.log_likelihoods[belief.readings.index(reading)]


def _fails(wrong: Array) -> bool:
    """Return whether a healthy plant would have to be misread to show this."""
    return float(wrong[0]) > _DOUBT


def _more(table: Table, repair: str, taken: set[str]) -> list[Check]:
    """Return the one check on offer that best tells the repaired fault from a healthy plant."""
    harmless = [c.offer and c.id not in taken and c.risk < 2 for c in table.checks]
    columns = [n for n, wanted in enumerate(harmless) if wanted]
    if not columns:
        return []
    mine = np.array([row.repair == repair for row in table.rows])
    weights = np.where(mine, np.exp(table.log_prior), 0.0)
    weights = 0.5 * weights / max(float(weights.sum()), 1e-300)
    weights[0] = 0.5
    joint = np.exp(table.log_weights)[:, None] * weights[None, :]
    rows = joint.sum(axis=0)
    belief = Belief(joint, rows, np.zeros(0), (), (), (), True, joint)
    gains = class_gains(table, live_rows(table, belief), columns)
    return [table.checks[columns[int(np.argmax(gains))]]]


def _why(
    table: Table,
    repair: str,
    failed: Sequence[Reading],
    missing: Sequence[Check],
    belief: Belief,
) -> str:
    """Return the judgement in words."""
    if failed:
        shown = [
            f"{check_words(r.check)} is {value_words(r.check, r.value)}, healthy is "
            f"{value_words(r.check, predicted_value(table, belief, r.check, [0]))}"
            for r in failed[:3]
        ]
        return f"Not proved: {join_words(shown)}."
    if missing:
        return f"Still to read: {join_words([check_words(check) for check in missing])}."
    count = len(belief.readings)
    noun = "reading is that" if count == 1 else "readings are those"
    return (
        f"Proved: {count} {noun} of a healthy circuit after '{repair_words(table, repair)}', at "
        "least 100 times likelier than with any fault these readings can see."
    )
