"""Helps of the search: a point that cannot be reached, and what a reading would change."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import UsageError
from loomwright.service.reach import cannot_reach, reach_again
from loomwright.service.what_if import WhatIf, what_if
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import Sent, reading_of, sent_form
from loomwright.web.shared import page, see, workshop_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]
UNITS = {"V": ("V", "mV"), "A": ("A", "mA"), "ohm": ("ohm", "kohm", "Mohm")}


@router.post("/jobs/{job_id}/unreached")
def leave_out(request: Request, job_id: int, sent: FormSent) -> Response:
    """Note that a point cannot be reached; the next best check is asked for."""
    cannot_reach(workshop_of(request), job_id, reading_of(sent.fields), sent.key, sent.who)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/unreached/{number}/withdraw")
def ask_again(request: Request, job_id: int, number: int, sent: FormSent) -> Response:
    """Ask for readings at a point again."""
    reach_again(workshop_of(request), job_id, number, sent.key, sent.who)
    return see(f"/jobs/{job_id}")


@router.get("/jobs/{job_id}/what-if")
def imagine(request: Request, job_id: int) -> Response:
    """Show how the suspects would change with a reading; nothing is saved."""
    asked = dict(request.query_params)
    form, refusal = reading_of(asked), None
    try:
        found = what_if(workshop_of(request), job_id, form)
    except UsageError as error:
        refusal = refusal_of(error)
        bare = reading_of({**asked, "value": ""})
        found = what_if(workshop_of(request), job_id, bare)
    return _page(request, found, asked, refusal)


def _page(request: Request, found: WhatIf, asked: dict[str, str], refusal: Refusal | None
          ) -> Response:
    return page(request, "what_if.html", refusal.status if refusal else 200, found=found,
                asked=asked, refusal=refusal, units=UNITS.get(found.line.unit, ()))
