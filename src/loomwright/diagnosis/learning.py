"""What closed jobs teach: counts of faults found, and the priors they lead to.

Counts are of a sort of fault (kind of part, kind of fault, place) in a class of vehicle. Shares of
sorts are Dirichlet: the plant's own priors count as `strength` jobs, every job found counts as
one. Nothing here knows a customer, a plate or a date, and a counts file has no room for them.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from loomwright.errors import FileProblemsError, Problem, UsageError
from loomwright.plant import Check, Hypothesis, Plant, Prediction, Repair

__all__ = [
    "PRIOR_STRENGTH", "Counts", "FaultSort", "LearnedPlant", "Lesson", "Shift", "count_jobs",
    "learned_rows", "merge", "read_counts_text", "shifts", "word", "write_counts",
]

PRIOR_STRENGTH = 50.0  # jobs that the plant's own priors are worth; assumed
_FORMAT = "loomwright counts"
_VERSION = 1
_TOP_KEYS = ("format", "version", "counts")
_KEYS = ("part_kind", "fault_kind", "place", "vehicle_class", "count")
# No digits: neither plates, chassis numbers, dates nor telephone numbers fit. The class may be a
# system voltage.
_WORD = re.compile(r"[a-z][a-z -]{0,39}")
_CLASS = re.compile(r"\d{1,2} V|[a-z][a-z -]{0,39}")
_MOST = 1_000_000_000


@dataclass(frozen=True, slots=True, order=True)
class FaultSort:
    """A sort of fault: kind of part ('wire', 'relay'), kind of fault ('open'), place."""

    part_kind: str
    fault_kind: str
    place: str = ""


@dataclass(frozen=True, slots=True, order=True)
class Lesson:
    """A closed job whose repair was proved: the sort of fault found, the class of the vehicle."""

    sort: FaultSort
    vehicle_class: str


@dataclass(frozen=True, slots=True)
class Counts:
    """How often each lesson was learnt, sorted, every count above 0."""

    rows: tuple[tuple[Lesson, int], ...] = ()

    @property
    def total(self) -> int:
        """Return the number of jobs counted."""
        return sum(count for _, count in self.rows)


@dataclass(frozen=True, slots=True)
class Shift:
    """How the share of a sort of fault moved: jobs counted here and in other classes."""

    sort: FaultSort
    own_jobs: int
    other_jobs: int
    share_before: float
    share_after: float


def word(text: str) -> str:
    """Return a text as a word that counts may hold: small letters, spaces, hyphens; may be ''."""
    kept = re.sub(r"[^a-z -]+", " ", text.lower())
    return " ".join(kept.split())[:40].strip(" -")


def _counts(found: Mapping[Lesson, int]) -> Counts:
    return Counts(tuple(sorted((lesson, count) for lesson, count in found.items() if count > 0)))


def count_jobs(lessons: Iterable[Lesson]) -> Counts:
    """Return the counts of closed jobs; their order makes no difference."""
    found: dict[Lesson, int] = {}
    for lesson in lessons:
        found[lesson] = found.get(lesson, 0) + 1
    return _counts(found)


def merge(*parts: Counts) -> Counts:
    """Return counts of several workshops together (a sum, so in any order and grouping)."""
    found: dict[Lesson, int] = {}
    for part in parts:
        for lesson, count in part.rows:
            found[lesson] = found.get(lesson, 0) + count
    return _counts(found)


# --- from counts to priors -----------------------------------------------------------------------


def shifts(
    rows: Sequence[Hypothesis],
    sorts: Mapping[str, FaultSort],
    counts: Counts,
    vehicle_class: str,
    strength: float = PRIOR_STRENGTH,
) -> tuple[Shift, ...]:
    """Return how counts move the share of every sort of fault a plant has.

    Dirichlet in two steps: the plant's shares, worth `strength` jobs, are moved by the jobs of
    other vehicle classes; the result, worth `strength` jobs again, by those of this class:
    share = (strength x share before + jobs of the sort) / (strength + jobs). Jobs of sorts that
    this plant does not have are left out.

    Parameters
        rows: the plant's fault rows; sorts: the sort of each fault id (rows without one stay)
        strength: jobs the share before is worth [jobs], > 0
    Raises
        UsageError: a strength that is not above 0
    """
    if not (math.isfinite(strength) and strength > 0.0):
        raise UsageError(f"A prior strength of {strength:g} jobs is not above 0.",
                         next_step="Give the number of jobs that the priors are worth.")
    weight: dict[FaultSort, float] = {}
    for row in rows:
        if row.fault_id in sorts:
            sort = sorts[row.fault_id]
            weight[sort] = weight.get(sort, 0.0) + row.prior
    own, other = dict.fromkeys(weight, 0), dict.fromkeys(weight, 0)
    for lesson, count in counts.rows:
        here = own if lesson.vehicle_class == vehicle_class else other
        if lesson.sort in here:
            here[lesson.sort] += count
    total = sum(weight.values())
    before = {sort: share / total for sort, share in weight.items()}
    after = _moved(_moved(before, other, strength), own, strength)
    return tuple(Shift(sort, own[sort], other[sort], before[sort], after[sort])
                 for sort in sorted(weight))


def _moved(shares: Mapping[FaultSort, float], jobs: Mapping[FaultSort, int], strength: float
           ) -> dict[FaultSort, float]:
    total = strength + sum(jobs.values())
    return {sort: (strength * share + jobs[sort]) / total for sort, share in shares.items()}


def learned_rows(
    rows: Sequence[Hypothesis],
    sorts: Mapping[str, FaultSort],
    counts: Counts,
    vehicle_class: str,
    strength: float = PRIOR_STRENGTH,
) -> tuple[Hypothesis, ...]:
    """Return new rows whose priors follow the counts; inside a sort all keep their ratios.

    The sum of priors stays the same. See `shifts` for the model and its errors.
    """
    moved = {one.sort: one.share_after / one.share_before
             for one in shifts(rows, sorts, counts, vehicle_class, strength)}
    return tuple(
        replace(row, prior=row.prior * moved[sorts[row.fault_id]]) if row.fault_id in sorts else row
        for row in rows
    )


class LearnedPlant:
    """A plant with other priors: everything else is asked of the plant inside."""

    def __init__(self, plant: Plant, rows: Sequence[Hypothesis]) -> None:
        """Keep the plant and its rows with learned priors (see `learned_rows`)."""
        self._plant = plant
        self._rows = tuple(rows)
        self._inside = {(row.fault_id, row.severity): row for row in plant.faults()}

    def faults(self) -> Sequence[Hypothesis]:
        """Return the rows with learned priors."""
        return self._rows

    def repairs(self) -> Mapping[str, Repair]:
        """Return the plant's repairs."""
        return self._plant.repairs()

    def checks(self) -> Sequence[Check]:
        """Return the plant's checks."""
        return self._plant.checks()

    def places(self) -> Mapping[str, float]:
        """Return the plant's minutes to reach each place."""
        return self._plant.places()

    def setups(self) -> Mapping[str, float]:
        """Return the plant's minutes for each set-up."""
        return self._plant.setups()

    def predict(self, hypotheses: Sequence[Hypothesis], checks: Sequence[Check]) -> Prediction:
        """Return the plant's predictions, which priors do not change."""
        known = [self._inside.get((row.fault_id, row.severity), row) for row in hypotheses]
        return self._plant.predict(known, checks)

    def margin_checks(self, repair: str) -> Sequence[Check]:
        """Return the plant's proof of a repair."""
        return self._plant.margin_checks(repair)


# --- the counts file -----------------------------------------------------------------------------


def write_counts(counts: Counts) -> str:
    """Return counts as the text of a JSON file: one line each, sorted, always the same."""
    lines = [
        json.dumps({
            "part_kind": lesson.sort.part_kind, "fault_kind": lesson.sort.fault_kind,
            "place": lesson.sort.place, "vehicle_class": lesson.vehicle_class, "count": count,
        })
        for lesson, count in counts.rows
    ]
    inside = ",\n  ".join(lines)
    body = f"[\n  {inside}\n]" if lines else "[]"
    return f'{{"format": "{_FORMAT}", "version": {_VERSION}, "counts": {body}}}\n'


def read_counts_text(text: str, file: str = "counts") -> Counts:
    """Return the counts in the text of a file written by `write_counts`, or merged by hand.

    Raises FileProblemsError with every problem: not JSON, an unknown key (a counts file has no
    room for names, plates, dates), a word that is none, a count that is none.
    """
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise FileProblemsError(file, [Problem(error.lineno, error.colno, f"Not JSON: {error.msg}.",
                                               "Export the counts again.")]) from error
    except RecursionError as error:
        raise FileProblemsError(file, [Problem(1, 1, "Nested too deeply.",
                                               "Export the counts again.")]) from error
    problems: list[tuple[str, str]] = []
    entries = _entries(data, problems)
    found: dict[Lesson, int] = {}
    for number, entry in enumerate(entries, start=1):
        lesson = _lesson(entry, f"Entry {number}", problems)
        if lesson is not None:
            found[lesson[0]] = found.get(lesson[0], 0) + lesson[1]
    if problems:
        raise FileProblemsError(file, [Problem(1, 1, what, fix) for what, fix in problems])
    return _counts(found)


def _entries(data: object, problems: list[tuple[str, str]]) -> list[object]:
    if not isinstance(data, dict):
        problems.append(("A counts file is an object.", f"Its keys: {', '.join(_TOP_KEYS)}."))
        return []
    _check_keys(data, _TOP_KEYS, "The file", problems)
    if data.get("format") != _FORMAT:
        problems.append(("This is no file of counts.", f"Its format is '{_FORMAT}'."))
    if data.get("version") != _VERSION or isinstance(data.get("version"), bool):
        problems.append((f"Version {str(data.get('version'))[:20]} is not known.",
                         f"This program reads version {_VERSION}."))
    entries = data.get("counts")
    if not isinstance(entries, list):
        problems.append(("'counts' is not a list.", f"Each entry has {', '.join(_KEYS)}."))
        return []
    return entries


def _check_keys(data: Mapping[str, object], known: Sequence[str], where: str,
                problems: list[tuple[str, str]]) -> None:
    for key in data:
        if key not in known:
            problems.append((f"{where} has an unknown key '{key[:40]}'.",
                             f"Only {', '.join(known)}: counts hold nothing of a person."))
    for key in known:
        if key not in data:
            problems.append((f"{where} has no '{key}'.", "Add it."))


def _lesson(entry: object, where: str, problems: list[tuple[str, str]]
            ) -> tuple[Lesson, int] | None:
    """Return the lesson and count of an entry, or None after noting what is wrong."""
    if not isinstance(entry, dict):
        problems.append((f"{where} is not an object.", f"Its keys: {', '.join(_KEYS)}."))
        return None
    before = len(problems)
    _check_keys(entry, _KEYS, where, problems)
    for key in _KEYS[:-1]:
        if key in entry:
            _check_word(key, entry[key], where, problems)
    count = entry.get("count", 1)
    if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= _MOST:
        problems.append((f"{where}: the count is not a whole number from 0 to {_MOST}.",
                         "Count closed jobs."))
    if len(problems) > before:
        return None
    sort = FaultSort(entry["part_kind"], entry["fault_kind"], entry["place"])
    return Lesson(sort, entry["vehicle_class"]), count


def _check_word(key: str, value: object, where: str, problems: list[tuple[str, str]]) -> None:
    pattern = _CLASS if key == "vehicle_class" else _WORD
    empty = key in {"place", "vehicle_class"} and value == ""
    if not (empty or (isinstance(value, str) and pattern.fullmatch(value))):
        fix = "Small letters, spaces and hyphens, at most 40"
        fix += "; or volts such as '24 V'." if key == "vehicle_class" else "; no digits."
        problems.append((f"{where}: '{str(value)[:40]}' is no {key.replace('_', ' ')}.", fix))
