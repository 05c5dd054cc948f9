"""Use case: what finding and mending will take, before the customer says yes."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.errors import UsageError
from loomwright.service.learning import read_counts, sorts_of

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit
    from loomwright.diagnosis.estimate import Bounds, Estimate
    from loomwright.diagnosis.records import Evidence
    from loomwright.plant import Plant

__all__ = ["EstimateAnswer", "EstimateQuestion", "estimate_job", "rate_per_min"]


@dataclass(frozen=True, slots=True)
class EstimateQuestion:
    """The files, the labour rate [money per minute] or None for the usual one, counts learnt.

    `large` lets a circuit of any size be searched.
    """

    circuit: str
    readings: str
    rate_per_min: float | None = None
    counts: str = ""
    vehicle_class: str = ""
    large: bool = False


@dataclass(frozen=True, slots=True)
class EstimateAnswer:
    """The readings taken and what the job will take."""

    circuit: Circuit
    evidence: tuple[Evidence, ...]
    estimate: Estimate


def rate_per_min(text: str) -> float:
    """Return a labour rate typed as '90/h', '1.5/min' or '90' (per hour) in money per minute.

    Raises UsageError where it is no rate above 0.
    """
    amount, _, per = text.strip().partition("/")
    minutes = {"": 60.0, "h": 60.0, "hour": 60.0, "min": 1.0, "minute": 1.0}.get(per.strip())
    try:
        money = float(amount.strip())
    except ValueError:
        money = -1.0
    if minutes is None or not 0.0 < money < 1e9:
        raise UsageError(f"'{text}' is no labour rate.", next_step="Give it like 90/h or 1.5/min.")
    return money / minutes


def estimate_job(question: EstimateQuestion, bounds: Bounds) -> EstimateAnswer:
    """Return P50 and P90 minutes and money to find and mend; see docs/models/estimates.md.

    Raises UsageError: a file is missing or has problems (all of them together).
    """
    from loomwright.circuit import CircuitPlant
    from loomwright.diagnosis import Settings, build_table
    from loomwright.diagnosis.estimate import estimate
    from loomwright.diagnosis.learning import LearnedPlant, learned_rows
    from loomwright.service import bench

    answer = bench.suspects(question.circuit, question.readings, next_count=0,
                            large=question.large)
    settings = Settings()
    if question.rate_per_min is not None:
        settings = dataclasses.replace(settings, labour_rate_per_min=question.rate_per_min)
    plant: Plant = CircuitPlant(answer.circuit)
    if question.counts:
        counts = read_counts(Path(question.counts))
        rows = learned_rows(plant.faults(), sorts_of(answer.circuit), counts,
                            question.vehicle_class)
        plant = LearnedPlant(plant, rows)
    found = estimate(build_table(plant, settings), answer.evidence, bounds)
    return EstimateAnswer(answer.circuit, answer.evidence, found)
