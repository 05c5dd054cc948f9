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

__all__ = ["create_depot", "fill_depot"]

KEY = "demo-"  # the depot's own submissions
MOST_READINGS = 50  # a demonstration job that needs more would be a mistake in its data


def create_depot(workshop: Workshop) -> tuple[int, ...]:
    """Create the demonstration jobs that the folder does not have yet; return their numbers.

    Each starts with what was seen on the vehicle with its hidden fault. Takes no diagnosis, so it
    is quick. Calling it again changes nothing.
    """
    _sign_letters(workshop)
    present = {job.demo for job in workshop.store.jobs()}
    entries = reversed(list(hidden_faults().values()))
    return tuple(_create(workshop, one) for one in entries if one["job"] not in present)


def _sign_letters(workshop: Workshop) -> None:
    """Give the depot's letters their sender, where nobody entered settings yet."""
    import yaml

    from loomwright.jobs.rates import add_rates, rates_history

    if not rates_history(workshop.store):
        text = (files("loomwright.demo") / "workshop.yaml").read_text(encoding="utf-8")
        add_rates(workshop.store, yaml.safe_load(text), f"{KEY}sender", "")


def fill_depot(workshop: Workshop) -> None:
    """Take the jobs as far as their data say, by the engine's own next checks.

    Goes on where it was stopped, but leaves alone every job that somebody else worked on.
    """
    hidden = hidden_faults()
    for job in workshop.store.jobs():
        if job.demo in hidden:
            _fill(workshop, job.id, hidden[job.demo])


def _create(workshop: Workshop, hidden: dict[str, Any]) -> int:
    name, by = str(hidden["job"]), str(hidden["by"])
    text = (files("loomwright.demo") / str(hidden["circuit"])).read_text(encoding="utf-8")
    job = workshop.create_job(JobForm(
        customer=hidden["customer"], vehicle=hidden["vehicle"], plate=hidden["plate"],
        system=hidden["system"], complaint=hidden["complaint"], when=hidden["when"],
        circuit_text=text, by=by), f"{KEY}{name}", demo=name)
    for number, seen in enumerate(hidden["observed"]):
        workshop.demo_reading(job.id, ReadingForm(**seen), f"{KEY}seen-{number}", by)
    return job.id


def _fill(workshop: Workshop, job_id: int, hidden: dict[str, Any]) -> None:
    by, wanted = str(hidden["by"]), hidden["readings"]
    most = MOST_READINGS if wanted == "all" else int(wanted) + len(hidden["observed"])
    while _untouched(workshop, job_id, most) and _next_reading(workshop, job_id, by):
        pass
    if wanted == "all" and _untouched(workshop, job_id, most):
        _to_the_end(workshop, job_id, by)


def _untouched(workshop: Workshop, job_id: int, most: int) -> bool:
    """Return whether only the depot wrote to a job, and it may write more."""
    events = workshop.store.events(job_id)
    return len(events) < most and all(one.key.startswith(KEY) for one in events)


def _form(check: Check) -> ReadingForm:
    return ReadingForm(check.state, check.quantity, check.at, check.to,
                       instrument=check.instrument)


def _next_reading(workshop: Workshop, job_id: int, by: str) -> bool:
    """Take the engine's next check; return whether there was one and it was wanted."""
    _, history, bench = workshop.opened(job_id)
    if history.repairs or history.finish:
        return False
    diagnosis = reasoning.diagnosis_of(bench, history)
    if diagnosis.verdict.status != "look further" or not diagnosis.next_checks:
        return False
    workshop.demo_reading(
        job_id, _form(diagnosis.next_checks[0].check), f"{KEY}read-{history.last}", by)
    return True


def _to_the_end(workshop: Workshop, job_id: int, by: str) -> None:
    """Repair by the verdict, prove and finish."""
    _, history, bench = workshop.opened(job_id)
    if not history.repairs:
        repair = reasoning.diagnosis_of(bench, history).verdict.repair
        if not repair:
            return
        workshop.begin_repair(job_id, repair, f"{KEY}begin", by)
        workshop.record_repair(job_id, (repair, "Done as advised."), f"{KEY}repair", by)
    for _ in range(MOST_READINGS):
        _, history, bench = workshop.opened(job_id)
        proof = reasoning.proof_of(bench, history)
        if not proof.missing:
            break
        workshop.demo_reading(
            job_id, _form(proof.missing[0]), f"{KEY}proof-{history.last}", by)
    if history.finish is None and proof.holds:
        workshop.finish(job_id, ("Back in service.", ""), f"{KEY}end", by)
