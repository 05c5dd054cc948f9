"""The job's page: readings, suspects, verdict, repair and proof."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import LoomwrightError, UsageError
from loomwright.service.records import Look
from loomwright.web.drawings import Drawings
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import Sent, look_of, reading_of, sent_form
from loomwright.web.rendering import new_key
from loomwright.web.shared import page, see, workshop_of

__all__ = ["router", "show_job"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]
QUANTITIES = (
    ("voltage", "Volts"), ("current", "Amps"), ("resistance", "Ohms"),
    ("ac voltage", "AC volts"), ("continuity", "Continuity"), ("lit", "Is it lit?"),
    ("running", "Is it working?"), ("heard", "What is heard?"),
    ("turns", "Does it turn by hand?"),
    ("input", "Controller input"), ("output", "Controller output"))
INSTRUMENTS = (("", "the usual one"), ("meter", "meter"), ("test lamp", "test lamp"),
               ("21 W lamp", "21 W lamp"),
               ("clamp", "clamp"), ("eye", "eye"), ("ear", "ear"), ("hand", "hand"),
               ("controller", "controller list"))
# Sort, heading, the words, hint, what it concerns, results with their words.
TOLD_FORMS = (
    ("code", "A trouble code", "Code", "as the tool shows it", "About which part or output",
     (("stored", "stored"), ("not stored", "not stored, though read"))),
    ("swap", "A part was swapped", "Note", "may stay empty", "Which part",
     (("no change", "no change"), ("gone", "the complaint was gone"))),
    ("history", "What happened before", "What", "work, accident, parts fitted", "At which part",
     (("", "work or damage there"), ("added", "something was added"))))
UNITS = {"V": ("V", "mV"), "A": ("A", "mA"), "ohm": ("ohm", "kohm", "Mohm")}


@router.get("/jobs/{job_id}")
def job(request: Request, job_id: int) -> Response:
    """Show a job; what is asked for in the address is chosen."""
    query = dict(request.query_params)
    try:
        return show_job(request, job_id, look_of(query), value=query.get("value", ""))
    except UsageError as error:
        return show_job(request, job_id, Look(), refusal=refusal_of(error))


def show_job(request: Request, job_id: int, look: Look, *, value: str = "",
             refusal: Refusal | None = None, told: Mapping[str, str] | None = None) -> Response:
    """Show a job's page; `value` and `told` are what was typed and could not be kept."""
    view = workshop_of(request).view(job_id, look)
    drawings: Drawings = request.app.state.drawings
    drawing = drawings.to_send(view.drawing, request.headers.get("x-drawing", ""))
    return page(request, "job.html", refusal.status if refusal else 200, view=view, look=look,
                drawing=drawing,
                value=value, refusal=refusal, key=new_key(), quantities=QUANTITIES,
                instruments=INSTRUMENTS, told=told or {}, told_forms=TOLD_FORMS,
                units=UNITS.get(view.entry.unit, ()))


@router.post("/jobs/{job_id}/readings")
def add_reading(request: Request, job_id: int, sent: FormSent) -> Response:
    """Store a reading; what cannot be read comes back with what was typed."""
    try:
        workshop_of(request).add_reading(job_id, reading_of(sent.fields), sent.key, sent.who)
    except UsageError as error:
        return _again(request, job_id, sent, error)
    return see(f"/jobs/{job_id}")


def _again(request: Request, job_id: int, sent: Sent, error: LoomwrightError) -> Response:
    """Show the job again with what was typed, or without it where it cannot be shown."""
    refusal = refusal_of(error)
    try:
        return show_job(request, job_id, look_of(sent.fields), value=sent.get("value"),
                     refusal=refusal)
    except UsageError:
        return show_job(request, job_id, Look(), value=sent.get("value"), refusal=refusal)


@router.get("/jobs/{job_id}/demo")
def read_demo(request: Request, job_id: int) -> Response:
    """Read the demonstration vehicle and go back with the value filled in."""
    query = dict(request.query_params)
    form = reading_of(query)
    value = workshop_of(request).demo_measure(job_id, form)
    kept = {name: query.get(name, "") for name in (
        "state", "quantity", "at", "to", "instrument")}
    return see(f"/jobs/{job_id}?{urlencode({**kept, 'value': value})}#enter")


@router.post("/jobs/{job_id}/readings/{number}/withdraw")
def withdraw(request: Request, job_id: int, number: int, sent: FormSent) -> Response:
    """Take a reading back."""
    workshop_of(request).withdraw(job_id, number, sent.key, sent.who)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/repair/begin")
def begin(request: Request, job_id: int, sent: FormSent) -> Response:
    """Note that a repair was begun."""
    workshop_of(request).begin_repair(job_id, sent.get("repair"), sent.key, sent.who)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/repair")
def repair(request: Request, job_id: int, sent: FormSent) -> Response:
    """Note that a repair was done."""
    workshop_of(request).record_repair(
        job_id, (sent.get("repair"), sent.get("found")), sent.key, sent.who, sent.seen)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/reopen")
def reopen(request: Request, job_id: int, sent: FormSent) -> Response:
    """Go back to finding the fault."""
    workshop_of(request).reopen(job_id, sent.key, sent.who)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/finish")
def finish(request: Request, job_id: int, sent: FormSent) -> Response:
    """Close the job."""
    try:
        workshop_of(request).finish(
            job_id, (sent.get("note"), sent.get("reason")), sent.key, sent.who, sent.seen)
    except UsageError as error:
        return show_job(request, job_id, Look(), refusal=refusal_of(error))
    return see(f"/jobs/{job_id}")


@router.get("/jobs/{job_id}/why")
def why(request: Request, job_id: int, state: str, output: str, show: str = "") -> Response:
    """Show why a controller's output is off."""
    view = workshop_of(request).why(job_id, state, output, show)
    return page(request, "why.html", view=view)
