"""Which cases there are: shares of the strata, circuits, and what a result is valid for."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from benchmarks.diagnosis.cases import STRATA
from benchmarks.diagnosis.families import FAMILIES

__all__ = ["COMPARED", "Task", "fingerprint", "planned"]

COMPARED = "single, 3 % wrong"  # the stratum in which the rules of thumb run too
_CIRCUITS = 30  # circuits of a family; cases are dealt to them in turn
_SHARES = {  # cases of a family by stratum, of 100; what a family cannot have goes to the first
    "single, 3 % wrong": 20, "single, no wrong readings": 12, "single, 10 % wrong": 8,
    "priors wrong x10": 7, "costs wrong x2": 7, "meter of 0.1 V": 5, "leads swapped, 10 %": 6,
    "all of these at once": 4, "doubles": 9, "intermittents": 6, "no fault": 5, "unmodelled": 8,
    "inseparable twins": 3,
}
_SOURCES = ("src/loomwright/diagnosis", "src/loomwright/circuit", "src/loomwright/plant.py",
            "benchmarks/diagnosis")
_NO_MATTER = {"__main__.py", "report.py", "figures.py", "trace.py"}  # do not change an outcome


@dataclass(frozen=True, slots=True)
class Task:
    """The cases of one circuit of a family: (stratum's name, number) each."""

    family: int
    circuit: int
    seed: int
    cases: tuple[tuple[str, int], ...]


def planned(total: int, seed: int, words: str = "") -> Iterator[Task]:
    """Yield the tasks of `total` cases a family, spread over the strata; `words` picks strata."""
    for circuit in range(_CIRCUITS):
        for place, family in enumerate(FAMILIES):
            cases = tuple(
                (name, number)
                for name, count in _counts(total, family.twins is not None).items()
                for number in range(circuit, count, _CIRCUITS) if _wanted(name, words))
            if cases:
                yield Task(place, circuit, seed, cases)


def _wanted(name: str, words: str) -> bool:
    return not words or any(word.strip() in name for word in words.split(";"))


def _counts(total: int, twins: bool) -> dict[str, int]:
    shares = {name: share for name, share in _SHARES.items()
              if twins or name != "inseparable twins"}
    counts = {name: max(round(total * share / 100.0), 1) for name, share in shares.items()}
    first = next(iter(counts))
    counts[first] += max(total - sum(counts.values()), 0)
    return counts


def fingerprint() -> str:
    """Return what results are valid for: a digest of the engine's and the benchmark's source."""
    root = Path(__file__).resolve().parents[2]
    digest = hashlib.sha256()
    for name in _SOURCES:
        place = root / name
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            if path.name not in _NO_MATTER:
                digest.update(path.relative_to(root).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:12]


assert set(_SHARES) == {stratum.name for stratum in STRATA}
