"""/api/v1: the search's helps: points out of reach, what is known beside readings, what-if."""

from __future__ import annotations

from fastapi import Request

from loomwright.service import telling
from loomwright.service.reach import cannot_reach, reach_again
from loomwright.service.roles import Permission
from loomwright.service.telling import TellForm
from loomwright.service.what_if import what_if
from loomwright.web import api_v1_models as models
from loomwright.web import api_v1_more_models as shapes
from loomwright.web.api_v1_shared import JobId, Number, check_answer, new_router, undo_key
from loomwright.web.forms import who_is
from loomwright.web.permits import need
from loomwright.web.shared import events_of_kind, workshop_of

__all__ = ["router"]

router = new_router()


@router.get("/jobs/{job_id}/left-out", tags=["Fault"], summary="Points out of reach")
def list_left_out(request: Request, job_id: JobId) -> list[shapes.LeftOut]:
    """Return the points at which nothing is asked, since nobody gets at them."""
    history = workshop_of(request).opened(job_id)[1]
    return [shapes.LeftOut.model_validate(one) for one in history.unreached]


@router.post("/jobs/{job_id}/left-out", status_code=201, tags=["Fault"],
             summary="Leave a point out")
def leave_out(request: Request, job_id: JobId, sent: shapes.NewLeftOut) -> models.Done:
    """Note that nobody gets at what a reading needs; the next best check is asked for."""
    number = cannot_reach(workshop_of(request), job_id, sent.form(), sent.key, who_is(request))
    return models.Done(job=job_id, number=number)


@router.delete("/jobs/{job_id}/left-out/{number}", tags=["Fault"], summary="Ask there again")
def ask_again(request: Request, job_id: JobId, number: Number) -> models.Done:
    """Ask for readings at a point again. Twice counts once."""
    reach_again(workshop_of(request), job_id, number, undo_key(number), who_is(request))
    return models.Done(job=job_id, number=number)


@router.get("/jobs/{job_id}/told", tags=["Fault"], summary="What is known beside readings")
def list_told(request: Request, job_id: JobId) -> list[shapes.Told]:
    """Return codes, swapped parts and history that were told, oldest first."""
    return [shapes.Told(number=one.number, sort=one.sort, text=one.text, about=list(one.about),
                        result=one.result, at=one.at, by=one.by)
            for one in workshop_of(request).opened(job_id)[1].told]


@router.post("/jobs/{job_id}/told", status_code=201, tags=["Fault"],
             summary="Tell a code, a swapped part or history")
def tell(request: Request, job_id: JobId, sent: shapes.NewTold) -> models.Done:
    """Keep what is known beside readings; it is weighed with them."""
    form = TellForm(sent.sort, sent.text, sent.about, sent.result)
    number = telling.tell(workshop_of(request), job_id, form, sent.key, who_is(request))
    return models.Done(job=job_id, number=number)


@router.delete("/jobs/{job_id}/told/{number}", tags=["Fault"], summary="Take back what was told")
def untell(request: Request, job_id: JobId, number: Number) -> models.Done:
    """Take back what was told; it stays in the history. Twice counts once."""
    if number in events_of_kind(workshop_of(request), job_id, "told", sort="agree"):
        need(request, Permission.REPAIR)
    telling.take_back(workshop_of(request), job_id, number, undo_key(number),
                      who_is(request))
    return models.Done(job=job_id, number=number)


@router.post("/jobs/{job_id}/go-on", status_code=201, tags=["Fault"],
             summary="Go on with another part")
def go_on(request: Request, job_id: JobId, sent: models.Keyed) -> models.Done:
    """Keep a person's word that a further part may be fitted after one in vain."""
    number = telling.tell(workshop_of(request), job_id, TellForm("agree"), sent.key,
                          who_is(request))
    return models.Done(job=job_id, number=number)


@router.post("/jobs/{job_id}/what-if", tags=["Fault"], summary="What a reading would change")
def imagine(request: Request, job_id: JobId, sent: shapes.ImaginedReading) -> shapes.WhatIf:
    """Return how the suspects would change with a reading; nothing is saved."""
    found = what_if(workshop_of(request), job_id, sent.form(sent.value))
    then = found.then
    following = then.next_checks if then else ()
    return shapes.WhatIf(
        title=found.line.title, value=found.value,
        changes=[shapes.Share.model_validate(one) for one in found.changes],
        verdict=then.verdict.title if then else "", why=then.verdict.why if then else "",
        next_check=check_answer(following[0]) if following else None)


@router.post("/jobs/{job_id}/demo", tags=["Readings"], summary="Read the demonstration vehicle")
def read_demo(request: Request, job_id: JobId, sent: models.Spot) -> shapes.DemoReading:
    """Return what a demonstration job's vehicle shows; nothing is saved. Refused on real jobs."""
    return shapes.DemoReading(value=workshop_of(request).demo_measure(job_id, sent.form()))
