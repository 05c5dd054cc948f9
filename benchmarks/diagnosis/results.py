"""Outcomes as JSON lines in a work folder, so that a run can be taken up again."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from benchmarks.diagnosis.cases import STRATA
from benchmarks.diagnosis.job import Facts, Outcome

__all__ = ["Key", "append", "key_of", "load"]

Key = tuple[str, str, int, str]  # family, stratum, number, policy
_SETS = ("repairs", "twins")


def key_of(outcome: Outcome) -> Key:
    """Return what names an outcome."""
    facts = outcome.case
    return facts.family, facts.stratum.name, facts.number, outcome.policy


def to_line(outcome: Outcome) -> str:
    """Return an outcome as one line of JSON."""
    facts = outcome.case
    record: dict[str, Any] = {
        one.name: getattr(outcome, one.name) for one in dataclasses.fields(outcome)
        if one.name != "case"}
    record["case"] = {"stratum": facts.stratum.name, "family": facts.family,
                      "number": facts.number, "truth": facts.truth,
                      **{name: sorted(getattr(facts, name)) for name in _SETS}}
    return json.dumps(record, ensure_ascii=False)


def from_line(line: str) -> Outcome:
    """Return the outcome of a line."""
    record = json.loads(line)
    facts = record.pop("case")
    facts["stratum"] = next(one for one in STRATA if one.name == facts["stratum"])
    facts["truth"] = tuple(facts["truth"])
    facts.update({name: frozenset(facts[name]) for name in _SETS})
    record["named"] = tuple(record["named"])
    record["lead"] = [(share, right) for share, right in record["lead"]]
    return Outcome(Facts(**facts), **record)


def load(path: Path) -> dict[Key, Outcome]:
    """Return the outcomes of a file; a last line cut short by a crash is left out."""
    found = {}
    if path.exists():
        for line in path.read_text("utf-8").splitlines():
            try:
                outcome = from_line(line)
            except json.JSONDecodeError:
                continue
            found[key_of(outcome)] = outcome
    return found


def append(path: Path, outcomes: Iterable[Outcome]) -> None:
    """Add outcomes to a file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a", encoding="utf-8") as file:
        file.writelines(f"{to_line(one)}\n" for one in outcomes)
