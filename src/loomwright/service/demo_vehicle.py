"""The demonstration vehicles: a hidden fault given as data, measured with seeded meter error."""

from __future__ import annotations

import functools
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from loomwright.errors import UsageError

if TYPE_CHECKING:
    from loomwright.jobs.records import History, Job
    from loomwright.plant import Check
    from loomwright.service.benches import Bench

__all__ = ["hidden_faults", "measure"]


@functools.cache
def hidden_faults() -> dict[str, dict[str, Any]]:
    """Return the demonstration jobs by name, as their data file gives them."""
    import yaml

    text = (files("loomwright.demo") / "hidden.yaml").read_text(encoding="utf-8")
    return {str(one["job"]): one for one in yaml.safe_load(text)}


def measure(job: Job, history: History, bench: Bench, check: Check) -> str:
    """Return what the demonstration vehicle shows at a check, as typed from a display.

    The vehicle is solved with its hidden fault, which goes when its own repair was recorded. The
    meter's error depends on the seed and on how much has happened, so a job plays the same again.
    Raises UsageError on a job that is not a demonstration.
    """
    from loomwright.circuit import parse_fault
    from loomwright.service.hidden_vehicle import HiddenVehicle
    from loomwright.service.words import value_words

    hidden = hidden_faults().get(job.demo)
    if hidden is None:
        raise UsageError("This job has a real vehicle.", next_step="Measure it and type the value.")
    fault = parse_fault(bench.circuit, str(hidden["fault"]))
    vehicle = HiddenVehicle(bench.plant, fault, int(hidden["seed"]) * 1000 + history.last)
    for done in history.repairs:
        vehicle.repair(done.repair)
    return value_words(check, vehicle.measure(check))
