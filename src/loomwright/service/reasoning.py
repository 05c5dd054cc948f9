"""From a job's history to evidence, diagnosis and proof; a pure function of circuit and events."""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING

from loomwright.service.benches import Question
from loomwright.service.instrument import as_shown
from loomwright.service.reach import left_out
from loomwright.service.telling import agreed, job_clues

if TYPE_CHECKING:
    from loomwright.diagnosis.led_to import LedTo
    from loomwright.diagnosis.records import Diagnosis, Evidence, Proof
    from loomwright.jobs.records import History, Reading, RepairDone
    from loomwright.plant import Check
    from loomwright.service.benches import Bench

__all__ = [
    "believed_readings",
    "current_readings",
    "diagnosis_of",
    "diagnosis_text",
    "evidence_of",
    "led_to_of",
    "proof_of",
    "proof_readings",
    "proof_wanted",
    "rejected_repairs",
]


def evidence_of(
    bench: Bench, readings: tuple[Reading, ...], repairs: tuple[RepairDone, ...] = ()
) -> tuple[Evidence, ...]:
    """Return readings as the engine takes them.

    `repairs` are those of the job: each reading then says which of them had been done before it.
    """
    from loomwright.diagnosis import Evidence

    done = tuple(one.repair for one in repairs)
    found = []
    for one in readings:
        check = bench.plant.check_for(one.state, one.quantity, one.point, one.to, one.instrument)
        value = bench.plant.value_of(check, one.value)
        found.append(Evidence(check, value, done[: one.round]))
    return as_shown(found, [one.value for one in readings])


def believed_readings(history: History) -> tuple[Reading, ...]:
    """Return the readings that the diagnosis is made of, oldest first: those of every round.

    While a repair is being proved, its proof is left out: the diagnosis is what led to it.
    """
    last = len(history.repairs) - (1 if history.proving else 0)
    return tuple(one for one in history.readings if one.round <= last)


def current_readings(history: History) -> tuple[Reading, ...]:
    """Return the readings taken since the last failed repair: the last of `believed_readings`.

    While a repair is being proved, those of the round before it, which led to it.
    """
    last = len(history.repairs) - (1 if history.proving else 0)
    return tuple(one for one in history.readings if one.round == last)


def proof_readings(history: History) -> tuple[Reading, ...]:
    """Return the readings taken since the last repair."""
    count = len(history.repairs)
    return tuple(one for one in history.readings if one.round == count and one.proving)


def rejected_repairs(history: History) -> tuple[str, ...]:
    """Return repairs that were done and did not hold."""
    return tuple(dict.fromkeys(one.repair for one in history.repairs if one.failed))


def diagnosis_of(bench: Bench, history: History) -> Diagnosis:
    """Return what the job's readings of all rounds say of the vehicle as it is now."""
    from loomwright.diagnosis import diagnose

    bench.ready()
    evidence = evidence_of(bench, believed_readings(history), history.repairs)
    asked = Question(evidence, rejected_repairs(history), job_clues(bench, history),
                     agreed(history), left_out(bench, history))
    return bench.diagnosed(asked, diagnose)


def led_to_of(bench: Bench, diagnosis: Diagnosis) -> tuple[LedTo, ...]:
    """Return what the leading suspects of a job did to other parts, such as a fuse they blew."""
    from loomwright.diagnosis import led_to

    return led_to(bench.plant, diagnosis.suspects)


def proof_wanted(bench: Bench, history: History) -> tuple[Check, ...]:
    """Return the checks that the last repair's proof needs."""
    from loomwright.diagnosis import proof_checks

    bench.ready()
    before = evidence_of(bench, believed_readings(history), history.repairs)
    return proof_checks(bench.table, history.repairs[-1].repair, before)


def proof_of(bench: Bench, history: History) -> Proof:
    """Return whether the last repair holds, by the readings taken since."""
    from loomwright.diagnosis import judge_proof

    bench.ready()
    before = evidence_of(bench, believed_readings(history), history.repairs)
    after = evidence_of(bench, proof_readings(history))
    return judge_proof(bench.table, history.repairs[-1].repair, after, evidence_before=before)


def diagnosis_text(diagnosis: Diagnosis) -> str:
    """Return a diagnosis as canonical JSON."""
    return json.dumps(dataclasses.asdict(diagnosis), sort_keys=True, ensure_ascii=False,
                      separators=(",", ":"), default=str)
