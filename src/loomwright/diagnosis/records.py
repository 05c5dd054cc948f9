"""What the diagnosis engine takes and gives: frozen records, no behaviour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from loomwright.plant import Check, SeverityCell

__all__ = [
    "Clue",
    "ClueWeight",
    "Diagnosis",
    "Evidence",
    "NextCheck",
    "Proof",
    "ReadingWeight",
    "Settings",
    "Suspect",
    "Verdict",
]

Value = float | str


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reading taken: the check it answers and the value seen (number, or one of its levels).

    `after` names the repairs already done when it was taken: those faults are gone from it.
    """

    check: Check
    value: Value
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Clue:
    """Evidence that is no reading, in words, and how likely it is under each fault.

    `likelihood` holds (fault id, share); `otherwise` counts for every other fault. Only ratios
    matter; each is above 0.
    """

    text: str
    likelihood: tuple[tuple[str, float], ...] = ()
    otherwise: float = 1.0
    no_fault: float = 1.0
    unmodelled: float = 1.0


@dataclass(frozen=True, slots=True)
class ClueWeight:
    """What one clue says between the first two suspects; see `ReadingWeight`."""

    index: int
    for_first_bits: float
    verdict_without: str
    text: str


@dataclass(frozen=True, slots=True)
class Settings:
    """What the engine assumes; every number is shown to whoever asks (docs/models/diagnosis.md)."""

    wrong_reading: float = 0.03  # share of readings that are simply wrong
    unmodelled_prior: float = 0.01
    unlisted_prior: float = 0.02  # something not in the drawing, at a place that can be named
    free_source_prior: float = 0.01  # an unknown current, another one in each state, between points
    # A job exists, so "nothing is wrong" starts at this share; None: keep the plant's own odds.
    complaint_no_fault: float | None = 0.02
    confidence: float = 0.95
    costly_confidence: float = 0.99
    unmodelled_limit: float = 0.05
    labour_rate_per_min: float = 1.5  # money per minute, to price a wrong part in minutes
    comeback_min: float = 60.0  # minutes a wrong repair costs beside its own
    several_before_repair: bool = False  # look for several faults even before a first repair


@dataclass(frozen=True, slots=True)
class Suspect:
    """One fault with its probability, severities folded together."""

    id: str
    element: str
    kind: str
    probability: float
    severity: SeverityCell | None
    repair: str


@dataclass(frozen=True, slots=True)
class NextCheck:
    """A check worth taking: minutes with reach and set-up, bits about the repair, predictions.

    `predicts` maps suspect ids to what each would show: a number, or the likeliest level.
    """

    check: Check
    minutes: float
    gain_bits: float
    predicts: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Verdict:
    """Where the job stands. `status`: look further, repair, no fault found, unexplained."""

    status: str
    repair: str
    confidence: float
    why: str


@dataclass(frozen=True, slots=True)
class ReadingWeight:
    """What one reading says between the first two suspects, and what changes without it."""

    index: int
    for_first_bits: float  # positive: speaks for the first suspect against the second
    verdict_without: str  # repair that would lead if this reading were wrong ('' when unchanged)
    expected_if_healthy: Value
    text: str


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether the readings after a repair show that it holds, and which still have to be taken."""

    holds: bool
    failed: tuple[str, ...]  # check ids whose reading is not that of a healthy plant
    missing: tuple[Check, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The whole answer for one set of readings."""

    suspects: tuple[Suspect, ...]
    no_fault: float
    unmodelled: float
    next_checks: tuple[NextCheck, ...]
    verdict: Verdict
    explanation: tuple[ReadingWeight, ...] = field(default=())
    clues: tuple[ClueWeight, ...] = field(default=())
