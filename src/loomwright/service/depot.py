"""The demonstration depot: jobs in an empty data folder, their readings computed, not typed in."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING, Any

from loomwright.service import reasoning
from loomwright.service.demo_vehicle import hidden_faults
from loomwright.service.records import JobForm, ReadingForm

if TYPE_CHECKING:
    from loomwright.plant import Check
    from loomwright.service.jobs import Workshop

__all__ = ["create_depot"]

MOST_READINGS = 50  # a demonstration job that needs more would be a mistake in its data


def create_depot(workshop: Workshop) -> tuple[int, ...]:
    """Create the demonstration jobs that the folder does not have yet; return their numbers.

    Each reading is the engine's next check, taken on the vehicle with its hidden fault. Calling it
    again changes nothing.
    """
    present = {job.demo for job in workshop.store.jobs()}
    entries = reversed(list(hidden_faults().values()))
    return tuple(_create(workshop, one) for one in entries if one["job"] not in present)


def _create(workshop: Workshop, hidden: dict[str, Any]) -> int:
    name, by = str(hidden["job"]), str(hidden["by"])
    text = (files("loomwright.demo") / str(hidden["circuit"])).read_text(encoding="utf-8")
    job = workshop.create_job(JobForm(
        customer=hidden["customer"], vehicle=hidden["vehicle"], plate=hidden["plate"],
        system=hidden["system"], complaint=hidden["complaint"], when=hidden["when"],
        circuit_text=text, by=by), f"demo-{name}", demo=name)
    for number, seen in enumerate(hidden["observed"]):
        workshop.demo_reading(job.id, ReadingForm(**seen), f"demo-{name}-seen-{number}", by)
    wanted = hidden["readings"]
    if wanted == "all":
        _to_the_end(workshop, job.id, name, by)
    else:
        for number in range(int(wanted)):
            _next_reading(workshop, job.id, f"demo-{name}-read-{number}", by)
    return job.id


def _form(check: Check) -> ReadingForm:
    return ReadingForm(check.state, check.quantity, check.at, check.to,
                       instrument=check.instrument)


def _next_reading(workshop: Workshop, job_id: int, key: str, by: str) -> bool:
    """Take the engine's next check; return whether there was one and it was wanted."""
    _, history, bench = workshop.opened(job_id)
    diagnosis = reasoning.diagnosis_of(bench, history)
    if diagnosis.verdict.status != "look further" or not diagnosis.next_checks:
        return False
    workshop.demo_reading(job_id, _form(diagnosis.next_checks[0].check), key, by)
    return True


def _to_the_end(workshop: Workshop, job_id: int, name: str, by: str) -> None:
    """Follow the engine to its verdict, repair, prove and finish."""
    for number in range(MOST_READINGS):
        if not _next_reading(workshop, job_id, f"demo-{name}-read-{number}", by):
            break
    _, history, bench = workshop.opened(job_id)
    repair = reasoning.diagnosis_of(bench, history).verdict.repair
    if not repair:
        return
    workshop.begin_repair(job_id, repair, f"demo-{name}-begin", by)
    workshop.record_repair(job_id, repair, "Done as advised.", f"demo-{name}-repair", by)
    for number in range(MOST_READINGS):
        _, history, bench = workshop.opened(job_id)
        proof = reasoning.proof_of(bench, history)
        if not proof.missing:
            break
        workshop.demo_reading(job_id, _form(proof.missing[0]), f"demo-{name}-proof-{number}", by)
    if reasoning.proof_of(bench, history).holds:
        workshop.finish(job_id, "Back in service.", "", f"demo-{name}-end", by)
