"""Pages of the job list and the new job."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import LoomwrightError, UsageError
from loomwright.jobs.index import CLOSED, Wanted
from loomwright.jobs.vin import vin_remark
from loomwright.service.job_transfer import import_text
from loomwright.service.records import JobForm
from loomwright.service.roles import Permission
from loomwright.service.templates import fill_template, one_template
from loomwright.web.editor_pages import grouped_templates, template_values
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import Sent, number_in, sent_form
from loomwright.web.permits import actor_of
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
    return _form(request, {})


@router.post("/jobs/form")
def new_job_with(request: Request, sent: FormSent) -> Response:
    """Show the form of a new job with the editor's circuit, or with a template's parameters."""
    return _form(request, sent.fields)


@router.get("/jobs/vin")
def look_at_vin(vin: str = "") -> dict[str, str]:
    """Return what is odd about a VIN as far as it is typed ('' for nothing)."""
    return {"says": vin_remark(vin)}


@router.post("/jobs")
def create_job(request: Request, sent: FormSent) -> Response:
    """Create a job; problems come back with everything that was typed."""
    try:
        form = JobForm(
            customer=sent.get("customer"), vehicle=sent.get("vehicle"), plate=sent.get("plate"),
            vin=sent.get("vin"),
            system=sent.get("system"), complaint=sent.get("complaint"), when=sent.get("when"),
            circuit_text=_circuit_text(sent.fields),
            copy_from=number_in(sent.get("copy_from")), by=sent.who)
        job = workshop_of(request).create_job(form, sent.key)
    except UsageError as error:
        return _form(request, sent.fields, refusal_of(error))
    return see(f"/jobs/{job.id}")


def _circuit_text(fields: Mapping[str, str]) -> str:
    """Return the circuit that a form gives: the file, else what was pasted, else the template's."""
    given = fields.get("circuit_file") or fields.get("circuit_text", "")
    name = fields.get("template", "")
    if given.strip() or not name:
        return given
    return fill_template(name, template_values(fields)).text


def _form(request: Request, fields: Mapping[str, str], refusal: Refusal | None = None) -> Response:
    """Show the form of a new job with what was typed; an uploaded file becomes pasted text."""
    given = fields.get("circuit_file") or fields.get("circuit_text", "")
    fields = {**fields, "circuit_text": given}
    try:
        chosen = one_template(fields["template"]) if fields.get("template") else None
    except UsageError as error:
        chosen, refusal = None, refusal or refusal_of(error)
    return page(request, "new.html", refusal.status if refusal else 200, fields=fields,
                refusal=refusal, circuits=workshop_of(request).circuits(), chosen=chosen,
                groups=grouped_templates(), key=new_key())


@router.get("/jobs/import")
def import_page(request: Request) -> Response:
    """Show the form that takes a whole job from another workshop."""
    return page(request, "import.html", refusal=None)


@router.post("/jobs/import")
def import_job(request: Request, sent: FormSent) -> Response:
    """Add the job of a file; what is wrong in it is told together."""
    try:
        found = import_text(workshop_of(request), sent.get("job_file"), by=sent.who,
                            may_approve=actor_of(request).may(Permission.APPROVE))
    except LoomwrightError as error:
        refusal = refusal_of(error)
        return page(request, "import.html", refusal.status, refusal=refusal)
    return see(f"/jobs/{found.job}")
