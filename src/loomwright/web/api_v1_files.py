"""/api/v1: whole documents of a job: record, letter, accounts table, job file, history."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Query, Request, Response
from starlette.concurrency import run_in_threadpool

from loomwright.errors import UsageError
from loomwright.service.accounts import accounts_csv
from loomwright.service.job_transfer import export_text, import_text
from loomwright.service.letter import letter, letter_pdf, picture_files
from loomwright.service.office_view import change_lines
from loomwright.service.report import record_pdf
from loomwright.service.roles import Permission
from loomwright.web import api_v1_office_models as shapes
from loomwright.web.api_v1_shared import JobId, new_router, pdf_of
from loomwright.web.forms import who_is
from loomwright.web.permits import actor_of
from loomwright.web.record_pages import MOST_RECORD_PHOTOS
from loomwright.web.shared import workshop_of

__all__ = ["router"]

router = new_router()
JOB_FILE: dict[str, Any] = {"type": "object", "description": (
    "A whole job in one file; `loomwright schema --job` prints its JSON Schema."),
    "required": ["loomwright_job", "sha256"]}


@router.get("/jobs/{job_id}/record.pdf", tags=["Documents"], summary="The record as PDF",
            response_class=Response, responses=pdf_of("The record."))
def record(request: Request, job_id: JobId) -> Response:
    """Return the record of a job: complaint, cause, correction, readings before and after."""
    workshop = workshop_of(request)
    found = workshop.record(job_id)
    made = record_pdf(found, picture_files(workshop, found.photos[:MOST_RECORD_PHOTOS]))
    return _file(made, "application/pdf", f'inline; filename="job-{job_id}.pdf"')


@router.get("/jobs/{job_id}/letter.pdf", tags=["Documents"], summary="The letter as PDF",
            response_class=Response, responses=pdf_of("The letter."))
def letter_to_customer(request: Request, job_id: JobId) -> Response:
    """Return the letter to the customer: found, done, proved, and what it costs."""
    workshop = workshop_of(request)
    found = letter(workshop, job_id)
    made = letter_pdf(found, picture_files(workshop, found.photos))
    return _file(made, "application/pdf", f'inline; filename="letter-{job_id}.pdf"')


@router.get("/jobs/{job_id}/accounts.csv", tags=["Documents"], summary="Minutes and parts as table",
            response_class=Response,
            responses={200: {"content": {"text/csv": {}}, "description": "The table."}})
def accounts(
    request: Request, job_id: JobId,
    separator: Annotated[str, Query(description="`comma`, or `semicolon` with decimal commas.")]
    = "comma",
) -> Response:
    """Return the minutes and parts of a job for an accounts program; no cell is a formula."""
    text = accounts_csv(workshop_of(request), job_id, separator)
    return _file(text.encode(), "text/csv; charset=utf-8",
                 f'attachment; filename="job-{job_id}.csv"')


@router.get("/jobs/{job_id}/history", tags=["Documents"], summary="Everything that happened")
def history(
    request: Request, job_id: JobId,
    after: Annotated[int, Query(description="Only what has a higher number.", ge=-1)] = -1,
) -> list[shapes.Change]:
    """Return every change of a job with who and when; ask again with the last number as `after`."""
    return [shapes.Change.model_validate(one)
            for one in change_lines(workshop_of(request), job_id) if one.number > after]


@router.get("/jobs/{job_id}/job-file", tags=["Documents"], summary="A whole job in one file",
            response_class=Response, responses={200: {
                "content": {"application/json": {"schema": JOB_FILE}},
                "description": "The job file."}})
def export_job(request: Request, job_id: JobId) -> Response:
    """Return a whole job with its circuits, events and photos, to be imported elsewhere."""
    return _file(export_text(workshop_of(request), job_id).encode(), "application/json",
                 f'attachment; filename="job-{job_id}.json"')


@router.post("/jobs/import", status_code=201, tags=["Documents"], summary="Take a whole job over",
             openapi_extra={"requestBody": {"required": True, "content": {
                 "application/json": {"schema": JOB_FILE}}}})
async def import_job(request: Request) -> shapes.Imported:
    """Add the job of a file, sent as it was exported; the same job counts once."""
    if not request.headers.get("content-type", "").startswith("application/json"):
        raise UsageError("A job file is sent as application/json.",
                         next_step="Set the header content-type.")
    data = await request.body()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UsageError("This is not a text file.",
                         next_step="Send a file written by 'loomwright job export'.") from error
    found = await run_in_threadpool(
        import_text, workshop_of(request), text, by=who_is(request),
        may_approve=actor_of(request).may(Permission.APPROVE))
    return shapes.Imported.model_validate(found)


def _file(data: bytes, kind: str, place: str) -> Response:
    return Response(data, media_type=kind, headers={"content-disposition": place})
