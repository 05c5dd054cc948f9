"""Versions of a job's circuit: who changed what and when, one opened, returning to it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import ConflictError, UsageError
from loomwright.service.circuit_versions import one_version, return_to, versions_of
from loomwright.service.office_view import office_view
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import Sent, sent_form
from loomwright.web.rendering import new_key
from loomwright.web.shared import page, see, workshop_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]


@router.get("/jobs/{job_id}/circuit")
def versions(request: Request, job_id: int, number: int | None = None, state: str = ""
             ) -> Response:
    """Show the versions of a job's circuit, one of them opened: the newest, or that asked for."""
    return _show(request, job_id, number, state)


def _show(request: Request, job_id: int, number: int | None, state: str = "",
          why: str = "", refusal: Refusal | None = None) -> Response:
    workshop = workshop_of(request)
    found = versions_of(workshop, job_id)
    wanted = found[-1].number if number is None else number
    try:
        opened = one_version(workshop, job_id, wanted, state)
    except UsageError as error:  # another version may not have the state that was looked at
        refusal = refusal or refusal_of(error)
        opened = one_version(workshop, job_id, wanted)
    return page(request, "circuit_versions.html", refusal.status if refusal else 200,
                view=office_view(workshop, job_id), versions=found[::-1], opened=opened,
                why=why, refusal=refusal, key=new_key(), tab="history")


@router.get("/jobs/{job_id}/circuit/{number}.yaml")
def version_file(request: Request, job_id: int, number: int) -> Response:
    """Return the text of a version as a file."""
    found = one_version(workshop_of(request), job_id, number)
    name = f'attachment; filename="job-{job_id}-version-{found.version.place}.yaml"'
    return Response(found.text, media_type="text/yaml; charset=utf-8",
                    headers={"content-disposition": name})


@router.post("/jobs/{job_id}/circuit/{number}/return")
def return_version(request: Request, job_id: int, number: int, sent: FormSent) -> Response:
    """Make an old version the newest again, as one more version."""
    try:
        return_to(workshop_of(request), job_id, number, sent.get("why"), sent.key, sent.who)
    except ConflictError:
        raise
    except UsageError as error:
        return _show(request, job_id, number, why=sent.get("why"), refusal=refusal_of(error))
    return see(f"/jobs/{job_id}/circuit")
