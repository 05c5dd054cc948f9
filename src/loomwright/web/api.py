"""What our own pages' scripts ask for; programs of others use /api/v1 (see `api_v1`)."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response, StreamingResponse

from loomwright.service.records import Look
from loomwright.web.bench_pages import show_job
from loomwright.web.forms import Sent, look_of, reading_of, sent_form
from loomwright.web.shared import workshop_of

__all__ = ["router"]

router = APIRouter(prefix="/api", include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]


@router.get("/jobs")
def jobs(request: Request) -> list[dict[str, Any]]:
    """Return every job."""
    return [dataclasses.asdict(line) for line in workshop_of(request).job_lines()]


@router.get("/jobs/{job_id}")
def job(request: Request, job_id: int) -> dict[str, Any]:
    """Return everything a job's page shows, without the drawing."""
    view = workshop_of(request).view(job_id, look_of(request.query_params))
    found = dataclasses.asdict(view)
    del found["drawing"]
    return found


@router.post("/jobs/{job_id}/readings", status_code=201, response_model=None)
def add_reading(request: Request, job_id: int, sent: FormSent) -> dict[str, int] | Response:
    """Store a reading; the same key again returns the same number.

    Our page asks for HTML: the answer's head, at once, says that it is saved, and its body is the
    page as it is then, once that is worked out.
    """
    form = reading_of(sent.fields)
    shown = "text/html" in request.headers.get("accept", "")
    look = Look(only=sent.get("only"))
    number = workshop_of(request).add_reading(job_id, form, sent.key, sent.who)
    if not shown:
        return {"job": job_id, "reading": number}

    def page() -> Iterator[bytes]:
        yield b"\n"
        yield bytes(show_job(request, job_id, look).body)

    return StreamingResponse(page(), 201, media_type="text/html; charset=utf-8")


@router.get("/jobs/{job_id}/demo")
def read_demo(request: Request, job_id: int) -> dict[str, str]:
    """Return what the demonstration vehicle of a job shows now."""
    form = reading_of(request.query_params)
    return {"value": workshop_of(request).demo_measure(job_id, form)}
