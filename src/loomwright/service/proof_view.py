"""The proof of a repair as shown: each reading that has to show it, before and after."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from loomwright.service import reasoning
from loomwright.service.records import ProofLine, ProofView
from loomwright.service.words import check_line, predicted_words, value_words

if TYPE_CHECKING:
    from loomwright.diagnosis.records import Evidence
    from loomwright.jobs.records import History, Reading
    from loomwright.plant import Check
    from loomwright.service.benches import Bench

__all__ = ["proof_view"]


def proof_view(bench: Bench, history: History) -> ProofView:
    """Return whether the last repair holds and each reading of its proof."""
    proof = reasoning.proof_of(bench, history)
    before = _by_check(bench, reasoning.current_readings(history))
    after = _by_check(bench, reasoning.proof_readings(history))
    wanted = {check.id: check for check in reasoning.proof_wanted(bench, history)}
    wanted |= {check.id: check for check in proof.missing}
    wanted |= {key: evidence.check for key, (_, evidence) in after.items()}
    lines = tuple(
        _line(bench, check, (before.get(key), after.get(key)), key in proof.failed)
        for key, check in wanted.items())
    lines = _by_set_up(lines)
    repair = bench.repairs.get(history.repairs[-1].repair)
    return ProofView(
        repair_text=repair.text if repair else history.repairs[-1].repair,
        holds=proof.holds, failed=bool(proof.failed), why=proof.why, lines=lines)


def _by_set_up(lines: tuple[ProofLine, ...]) -> tuple[ProofLine, ...]:
    """Return the lines with those still to read grouped by set-up and place: fewer walks."""
    taken = [one for one in lines if one.status != "still to read"]
    to_read = [one for one in lines if one.status == "still to read"]
    order = {one.check.set_up: number for number, one in reversed(list(enumerate(to_read)))}
    to_read.sort(key=lambda one: (order[one.check.set_up], one.check.place))
    return (*taken, *to_read)


def _by_check(
    bench: Bench, readings: tuple[Reading, ...]
) -> dict[str, tuple[Reading, Evidence]]:
    """Return the last reading of each check."""
    evidence = reasoning.evidence_of(bench, readings)
    return {one.check.id: (reading, one)
            for reading, one in zip(readings, evidence, strict=True)}


def _line(
    bench: Bench, check: Check,
    pair: tuple[tuple[Reading, Evidence] | None, tuple[Reading, Evidence] | None], failed: bool,
) -> ProofLine:
    before, after = pair
    line = dataclasses.replace(
        check_line(bench.circuit, check, bench.negative, check.minutes),
        healthy=predicted_words(check, bench.healthy(check)))
    status = "still to read" if after is None else "not good" if failed else "good"
    return ProofLine(
        line, status,
        value=value_words(check, after[1].value) if after else "",
        before=value_words(check, before[1].value) if before else "",
        number=after[0].number if after else 0)
