"""What the routes of /api/v1 share: refusals, the number of a job, a job and a check as answers."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Request

from loomwright.service.office import Sender
from loomwright.service.records import CheckLine
from loomwright.web import api_v1_models as models
from loomwright.web.forms import who_is
from loomwright.web.shared import workshop_of

__all__ = ["REFUSALS", "JobId", "Number", "check_answer", "job_answer", "new_router",
           "pdf_of", "sender_of", "undo_key"]

REFUSALS = {
    400: "The request, a value or a name in it is wrong.",
    401: "No token, or one that is unknown or revoked.",
    403: "The scope of the token does not allow it.",
    404: "There is no such job, or the job has no such thing.",
    409: "Something happened meanwhile, or the job does not stand where this is possible.",
    413: "Too much was sent at once.",
    429: "Ten requests of this token are being answered already; send it again.",
    422: "The circuit cannot be solved.",
}
_REFUSED: dict[int | str, dict[str, Any]] = {
    status: {"model": models.ErrorAnswer, "description": text}
    for status, text in REFUSALS.items()}
JobId = Annotated[int, Path(alias="job_id", description="Number of the job.", ge=1)]
Number = Annotated[int, Path(description="Number of the event, as it was answered.",
                             ge=0, lt=2**31)]


def new_router(prefix: str = "") -> APIRouter:
    """Return a router below /api/v1 whose routes refuse as all there do.

    Each router names the whole address, as `permits` looks up the path of the route itself.
    """
    return APIRouter(prefix=f"/api/v1{prefix}", responses=_REFUSED)


def pdf_of(what: str) -> dict[int | str, dict[str, Any]]:
    """Return the good answer of a route that gives a PDF."""
    return {200: {"content": {"application/pdf": {}}, "description": what}}


def sender_of(request: Request, key: str) -> Sender:
    """Return who sends a change, and its key."""
    return Sender(key, who_is(request))


def undo_key(number: int) -> str:
    """Return the key of taking something back: doing so twice counts once."""
    from loomwright.jobs.store import UNDOES

    return f"{UNDOES}{number}"


def job_answer(request: Request, job_id: int) -> models.Job:
    """Return a job as it stands."""
    view = workshop_of(request).view(job_id)
    job, vehicle = view.job, view.job.vehicle
    return models.Job(
        id=job.id, customer=job.customer, vehicle=vehicle.name, plate=vehicle.plate,
        vin=vehicle.vin, system=job.system, complaint=job.complaint.text, when=job.complaint.when,
        state=view.state_word, title=view.title, system_v=view.system_v,
        created_at=job.created_at, by=job.by, begun=view.begun, last=view.last,
        finished_at=view.finish.at if view.finish else "",
        states=[one.id for one in view.states], vin_warning=view.vin_warning,
        warnings=list(view.warnings))


def check_answer(line: CheckLine) -> models.Check:
    """Return a check as an instruction."""
    told = {name: getattr(line, name) for name in models.Check.model_fields
            if name not in {"predicts", "levels"}}
    return models.Check(**told, levels=list(line.levels), predicts=[
        models.Prediction(suspect=suspect, shows=shows) for suspect, shows in line.predicts])
