"""The record of a job: on screen, on paper, as PDF; and its circuit's text."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from loomwright.service.accounts import accounts_csv
from loomwright.service.job_transfer import export_text
from loomwright.service.letter import letter, letter_pdf, picture_files
from loomwright.service.report import record_pdf
from loomwright.web.shared import page, workshop_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MOST_RECORD_PHOTOS = 24  # pictures in the PDF; the others are named


@router.get("/jobs/{job_id}/record")
def record(request: Request, job_id: int) -> Response:
    """Show the record, ready to print."""
    return page(request, "record.html", record=workshop_of(request).record(job_id))


@router.get("/jobs/{job_id}/record.pdf")
def record_file(request: Request, job_id: int) -> Response:
    """Return the record as PDF."""
    workshop = workshop_of(request)
    found = workshop.record(job_id)
    made = record_pdf(found, picture_files(workshop, found.photos[:MOST_RECORD_PHOTOS]))
    name = f'inline; filename="job-{job_id}.pdf"'
    return Response(made, media_type="application/pdf", headers={"content-disposition": name})


@router.get("/jobs/{job_id}/letter.pdf")
def letter_file(request: Request, job_id: int) -> Response:
    """Return the letter to the customer as PDF."""
    workshop = workshop_of(request)
    found = letter(workshop, job_id)
    made = letter_pdf(found, picture_files(workshop, found.photos))
    name = f'inline; filename="letter-{job_id}.pdf"'
    return Response(made, media_type="application/pdf", headers={"content-disposition": name})


@router.get("/jobs/{job_id}/circuit.yaml")
def circuit_file(request: Request, job_id: int) -> Response:
    """Return the circuit of a job as it was given."""
    text = workshop_of(request).circuit_text(job_id)
    name = f'attachment; filename="job-{job_id}.yaml"'
    return Response(text, media_type="text/yaml; charset=utf-8",
                    headers={"content-disposition": name})


@router.get("/jobs/{job_id}/job.json")
def whole_job(request: Request, job_id: int) -> Response:
    """Return a whole job as one file, to be imported elsewhere."""
    text = export_text(workshop_of(request), job_id)
    name = f'attachment; filename="job-{job_id}.json"'
    return Response(text, media_type="application/json", headers={"content-disposition": name})


@router.get("/jobs/{job_id}/job.csv")
def minutes_and_parts(request: Request, job_id: int, separator: str = "comma") -> Response:
    """Return the minutes and parts of a job for an accounts program."""
    text = accounts_csv(workshop_of(request), job_id, separator)
    name = f'attachment; filename="job-{job_id}.csv"'
    return Response(text, media_type="text/csv; charset=utf-8",
                    headers={"content-disposition": name})
