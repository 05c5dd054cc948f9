"""What our own pages' scripts ask for; programs of others use /api/v1 (see `api_v1`)."""

from __future__ import annotations

import dataclasses
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request

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


@router.post("/jobs/{job_id}/readings", status_code=201)
def add_reading(request: Request, job_id: int, sent: FormSent) -> dict[str, int]:
    """Store a reading; the same key again returns the same number."""
    form = reading_of(sent.fields)
    number = workshop_of(request).add_reading(job_id, form, sent.key, sent.who)
    return {"job": job_id, "reading": number}


@router.get("/jobs/{job_id}/demo")
def read_demo(request: Request, job_id: int) -> dict[str, str]:
    """Return what the demonstration vehicle of a job shows now."""
    form = reading_of(request.query_params)
    return {"value": workshop_of(request).demo_measure(job_id, form)}
