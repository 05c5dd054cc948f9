"""Pages of the job list and the new job."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import UsageError
from loomwright.jobs.index import CLOSED, Wanted
from loomwright.service.records import JobForm
from loomwright.web.failures import refusal_of
from loomwright.web.forms import Sent, sent_form
from loomwright.web.rendering import new_key
from loomwright.web.shared import page, see, workshop_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MAX_WORDS = 200  # characters of a search
FormSent = Annotated[Sent, Depends(sent_form)]


@router.get("/")
def job_list(request: Request) -> Response:
    """Show jobs, open ones first; with words asked for, those that have them all."""
    words = request.query_params.get("words", "")[:MAX_WORDS].strip()
    lines = workshop_of(request).job_lines(Wanted(words))
    return page(request, "jobs.html", words=words,
                running=[one for one in lines if one.state not in CLOSED],
                finished=[one for one in lines if one.state in CLOSED])


@router.get("/jobs/new")
def new_job(request: Request) -> Response:
    """Show the form of a new job."""
    return page(request, "new.html", circuits=workshop_of(request).circuits(), fields={},
                refusal=None, key=new_key())


@router.post("/jobs/form")
def new_job_with(request: Request, sent: FormSent) -> Response:
    """Show the form of a new job with the circuit that the editor sent."""
    return page(request, "new.html", circuits=workshop_of(request).circuits(),
                fields={"circuit_text": sent.get("circuit_text")}, refusal=None, key=new_key())


@router.post("/jobs")
def create_job(request: Request, sent: FormSent) -> Response:
    """Create a job; problems come back with everything that was typed."""
    copy = sent.get("copy_from")
    form = JobForm(
        customer=sent.get("customer"), vehicle=sent.get("vehicle"), plate=sent.get("plate"),
        vin=sent.get("vin"),
        system=sent.get("system"), complaint=sent.get("complaint"), when=sent.get("when"),
        circuit_text=sent.get("circuit_file") or sent.get("circuit_text"),
        copy_from=int(copy) if copy.isdecimal() else None, by=sent.who)
    try:
        job = workshop_of(request).create_job(form, sent.key)
    except UsageError as error:
        refusal = refusal_of(error)
        return page(request, "new.html", refusal.status, fields=sent.fields, refusal=refusal,
                    circuits=workshop_of(request).circuits(), key=new_key())
    return see(f"/jobs/{job.id}")
