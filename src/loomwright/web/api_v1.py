"""/api/v1: the use cases of the pages as documented JSON, for programs with a token."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request

from loomwright.errors import ConflictError, UnknownNameError
from loomwright.jobs.index import Wanted
from loomwright.service.reasoning import diagnosis_of, led_to_of
from loomwright.service.records import JobForm, JobView
from loomwright.web import (
    api_v1_circuits,
    api_v1_files,
    api_v1_office,
    api_v1_photos,
    api_v1_practice,
    api_v1_search,
)
from loomwright.web import api_v1_models as models
from loomwright.web.api_v1_shared import JobId, check_answer, job_answer, new_router, undo_key
from loomwright.web.forms import who_is
from loomwright.web.shared import workshop_of

__all__ = ["router"]

own = new_router()
MOST = 200


# --- jobs ----------------------------------------------------------------------------------------


@own.get("/jobs", tags=["Jobs"], summary="List jobs")
def list_jobs(
    request: Request,
    words: Annotated[str, Query(description="Search: customer, plate, part of a VIN, fault, part.",
                                max_length=200)] = "",
    closed: Annotated[bool | None, Query(description="Only closed, or only open jobs.")] = None,
    most: Annotated[int, Query(ge=1, le=MOST)] = MOST,
) -> list[models.JobLine]:
    """Return jobs, newest first."""
    lines = workshop_of(request).job_lines(Wanted(words, closed, most))
    return [models.JobLine(
        id=one.job.id, customer=one.job.customer, vehicle=one.job.vehicle.name,
        plate=one.job.vehicle.plate, complaint=one.job.complaint.text, state=one.state,
        title=one.title, readings=one.readings, created_at=one.job.created_at,
        last_at=one.last_at) for one in lines]


@own.post("/jobs", status_code=201, tags=["Jobs"], summary="Open a job")
def open_job(request: Request, sent: models.NewJob) -> models.Job:
    """Open a job; its circuit is read and solved first, and every problem comes back."""
    form = JobForm(
        customer=sent.customer, vehicle=sent.vehicle, plate=sent.plate, system=sent.system,
        complaint=sent.complaint, when=sent.when, circuit_text=sent.circuit,
        copy_from=sent.copy_from, by=who_is(request), vin=sent.vin)
    return job_answer(request, workshop_of(request).create_job(form, sent.key).id)


@own.get("/jobs/{job_id}", tags=["Jobs"], summary="Read a job")
def read_job(request: Request, job_id: JobId) -> models.Job:
    """Return a job as it stands."""
    return job_answer(request, job_id)


@own.post("/jobs/{job_id}/finish", tags=["Jobs"], summary="Finish a job")
def finish_job(request: Request, job_id: JobId, sent: models.Finishing) -> models.Job:
    """Close a job. Without a proof that holds it is refused, unless a reason is given."""
    workshop_of(request).finish(
        job_id, (sent.note, sent.reason), sent.key, who_is(request), sent.seen)
    return job_answer(request, job_id)


@own.post("/jobs/{job_id}/reopen", tags=["Jobs"], summary="Open a job again")
def reopen_job(request: Request, job_id: JobId, sent: models.Keyed) -> models.Job:
    """Go back to finding the fault: the repair did not hold, or the vehicle came back."""
    workshop_of(request).reopen(job_id, sent.key, who_is(request))
    return job_answer(request, job_id)


# --- circuit -------------------------------------------------------------------------------------


@own.get("/jobs/{job_id}/circuit", tags=["Circuit"], summary="The circuit of a job")
def read_circuit(request: Request, job_id: JobId) -> models.Circuit:
    """Return the circuit file of a job, and the names that readings can use."""
    circuit = workshop_of(request).opened(job_id)[2].circuit
    return models.Circuit(
        title=circuit.title, system_v=circuit.system_v,
        text=workshop_of(request).circuit_text(job_id), states=list(circuit.states),
        parts=list(circuit.parts), wires=list(circuit.wires), points=list(circuit.points()))


@own.get("/jobs/{job_id}/expected", tags=["Circuit"], summary="What is expected")
def expected(
    request: Request, job_id: JobId,
    state: Annotated[str, Query(description="A state of the circuit.")],
    fault: Annotated[list[str] | None, Query(
        description="Insert this fault, such as `open:W7`; repeatable.", max_length=4)] = None,
) -> models.Expected:
    """Return what every point, wire and part reads in one state, healthy or with faults."""
    bench, faults = workshop_of(request).opened(job_id)[2], tuple(fault or ())
    if state not in bench.circuit.states:
        raise UnknownNameError("state", state, bench.circuit.states)
    found = bench.solved(state, faults)
    return models.Expected(
        state=state, faults=list(faults),
        points={name: models.PointReads.model_validate(one) for name, one in found.points.items()},
        wires=dict(found.wires),
        parts={name: models.PartReads.model_validate(one) for name, one in found.parts.items()},
        inputs={name: dict(some) for name, some in found.inputs.items()},
        outputs={name: dict(some) for name, some in found.outputs.items()},
        notes=list(found.notes))


# --- readings ------------------------------------------------------------------------------------


@own.get("/jobs/{job_id}/readings", tags=["Readings"], summary="Readings of a job")
def list_readings(request: Request, job_id: JobId) -> list[models.Reading]:
    """Return the readings that stand, oldest first."""
    history = workshop_of(request).opened(job_id)[1]
    return [models.Reading.model_validate(one) for one in history.readings]


@own.post("/jobs/{job_id}/readings", status_code=201, tags=["Readings"],
             summary="Add a reading")
def add_reading(request: Request, job_id: JobId, sent: models.NewReading) -> models.Done:
    """Store a reading; the same key again gives the same number."""
    number = workshop_of(request).add_reading(
        job_id, sent.form(sent.value), sent.key, who_is(request))
    return models.Done(job=job_id, number=number)


@own.delete("/jobs/{job_id}/readings/{number}", tags=["Readings"], summary="Undo a reading")
def undo_reading(
    request: Request, job_id: JobId, number: Annotated[int, Path(ge=1, lt=2**31)]
) -> models.Done:
    """Take a reading back; it stays in the history as withdrawn. Twice counts once."""
    workshop_of(request).withdraw(job_id, number, undo_key(number), who_is(request))
    return models.Done(job=job_id, number=number)


# --- finding the fault ---------------------------------------------------------------------------


@own.get("/jobs/{job_id}/suspects", tags=["Fault"], summary="Suspects and the next check")
def suspects(request: Request, job_id: JobId) -> models.Suspects:
    """Return which faults explain the readings, the verdict, and what to read next."""
    workshop = workshop_of(request)
    _, history, bench = workshop.opened(job_id)
    found = diagnosis_of(bench, history)
    return models.Suspects(
        suspects=[_suspect(one) for one in found.suspects],
        led_to=[models.LedTo.model_validate(one) for one in led_to_of(bench, found)],
        learned=bench.learned.words if bench.learned else "",
        no_fault=found.no_fault, unmodelled=found.unmodelled,
        verdict=models.Verdict.model_validate(found.verdict),
        next_checks=[check_answer(one) for one in workshop.view(job_id).next_checks])


def _suspect(one: Any) -> models.Suspect:
    cell = one.severity
    low, mid, high = (cell.low_ohm, cell.mid_ohm, cell.high_ohm) if cell else (None, None, None)
    return models.Suspect(
        id=one.id, element=one.element, kind=one.kind, probability=one.probability,
        repair=one.repair, low_ohm=low, mid_ohm=mid, high_ohm=high)


# --- repair and proof ----------------------------------------------------------------------------


@own.get("/jobs/{job_id}/repairs", tags=["Repair"], summary="Repairs of a job")
def list_repairs(request: Request, job_id: JobId) -> models.Repairs:
    """Return the repairs done, and those that can be done on this circuit."""
    workshop = workshop_of(request)
    view, bench = workshop.view(job_id), workshop.opened(job_id)[2]
    return models.Repairs(
        done=[models.Repair.model_validate(one) for one in view.repairs],
        choices=[models.RepairChoice(repair=name, text=one.text)
                 for name, one in bench.repairs.items()])


@own.post("/jobs/{job_id}/repairs", status_code=201, tags=["Repair"],
             summary="Record a repair")
def add_repair(request: Request, job_id: JobId, sent: models.NewRepair) -> models.Job:
    """Note that a repair was begun or done."""
    workshop, by = workshop_of(request), who_is(request)
    if sent.stage == "begun":
        workshop.begin_repair(job_id, sent.repair, sent.key, by)
    else:
        workshop.record_repair(job_id, (sent.repair, sent.found), sent.key, by, sent.seen)
    return job_answer(request, job_id)


@own.get("/jobs/{job_id}/proof", tags=["Repair"], summary="Proof of the last repair")
def proof(request: Request, job_id: JobId) -> models.Proof:
    """Return whether the last repair holds, and each reading that has to show it."""
    view: JobView = workshop_of(request).view(job_id)
    found = view.proof
    if found is None:
        raise ConflictError("No repair of this job is being proved.",
                            next_step="Record a repair that was done first.")
    return models.Proof(
        repair=found.repair_text, holds=found.holds, failed=found.failed, why=found.why,
        checks=[models.ProofCheck(status=one.status, value=one.value, before=one.before,
                                  check=check_answer(one.check)) for one in found.lines])


router = APIRouter()
router.include_router(own)
for group in (api_v1_search, api_v1_circuits, api_v1_office, api_v1_photos, api_v1_files,
              api_v1_practice):
    router.include_router(group.router)
