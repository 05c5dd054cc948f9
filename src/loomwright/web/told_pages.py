"""What is told of a vehicle beside readings: codes, swapped parts, history, a word to go on."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import UsageError
from loomwright.service import telling
from loomwright.service.records import Look
from loomwright.service.roles import Permission
from loomwright.service.telling import TellForm
from loomwright.web.bench_pages import show_job
from loomwright.web.failures import refusal_of
from loomwright.web.forms import Sent, sent_form
from loomwright.web.permits import need
from loomwright.web.shared import events_of_kind, see, workshop_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]
TOLD_HERE = ("code", "swap", "history")  # the word to go on needs more leave


@router.post("/jobs/{job_id}/told")
def tell(request: Request, job_id: int, sent: FormSent) -> Response:
    """Keep a code, a swapped part or history; what cannot be kept comes back as typed."""
    form = TellForm(*(sent.get(name) for name in ("sort", "text", "about", "result")))
    try:
        if form.sort not in TOLD_HERE:
            raise UsageError("It is not said what is told.",
                             next_step="Choose a code, a swapped part or history.")
        telling.tell(workshop_of(request), job_id, form, sent.key, sent.who)
    except UsageError as error:
        return show_job(request, job_id, Look(), refusal=refusal_of(error), told=sent.fields)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/told/{number}/withdraw")
def take_back(request: Request, job_id: int, number: int, sent: FormSent) -> Response:
    """Take back what was told; it stays in the history."""
    if number in events_of_kind(workshop_of(request), job_id, "told", sort="agree"):
        need(request, Permission.REPAIR)  # the word to go on, as for giving it
    telling.take_back(workshop_of(request), job_id, number, sent.key, sent.who)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/go-on")
def go_on(request: Request, job_id: int, sent: FormSent) -> Response:
    """Keep a person's word that a further part may be fitted after one in vain."""
    telling.tell(workshop_of(request), job_id, TellForm("agree"), sent.key, sent.who)
    return see(f"/jobs/{job_id}")
