"""Pages of a job's paper side: card, costs and offers, hand-over, everything that happened."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.office import CARD_FIELDS
from loomwright.service import office
from loomwright.service.dates import DATE_ORDERS
from loomwright.service.office import Sender
from loomwright.service.office_view import change_lines, has_tax, office_view, way_lines
from loomwright.service.quote import foresee, give_offer
from loomwright.service.rates import rates, save_rates, sender_missing
from loomwright.service.roles import Permission
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import Sent, sent_form
from loomwright.web.permits import need
from loomwright.web.rendering import new_key
from loomwright.web.shared import events_of_kind, page, see, workshop_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]


def _sender(sent: Sent) -> Sender:
    return Sender(sent.key, sent.who)


def _show(request: Request, job_id: int, name: str, sent: Sent | None = None,
          refusal: Refusal | None = None) -> Response:
    view = office_view(workshop_of(request), job_id)
    fields = sent.fields if sent else {}
    return page(request, f"office_{name}.html", refusal.status if refusal else 200, view=view,
                refusal=refusal, fields=fields, tab=name)


def _do(request: Request, job_id: int, name: str, sent: Sent, work: Callable[[], object]
        ) -> Response:
    """Do what was sent and show the page again; a refusal comes back with what was typed."""
    try:
        work()
    except ConflictError:
        raise
    except UsageError as error:
        return _show(request, job_id, name, sent, refusal_of(error))
    return see(f"/jobs/{job_id}/{name}")


@router.get("/jobs/{job_id}/card")
def card(request: Request, job_id: int) -> Response:
    """Show the job card, to read and to change."""
    return _show(request, job_id, "card")


@router.post("/jobs/{job_id}/card")
def change_card(request: Request, job_id: int, sent: FormSent) -> Response:
    """Change the card; what it said before stays in the history."""
    fields = {name: sent.fields[name] for name in CARD_FIELDS if name in sent.fields}
    return _do(request, job_id, "card", sent, lambda: office.change_card(
        workshop_of(request), job_id, fields, _sender(sent)))


@router.get("/jobs/{job_id}/costs")
def costs(request: Request, job_id: int) -> Response:
    """Show minutes, parts, sums, limit and what was said to the customer."""
    return _show(request, job_id, "costs")


@router.post("/jobs/{job_id}/parts")
def use_part(request: Request, job_id: int, sent: FormSent) -> Response:
    """Note a part used."""
    return _do(request, job_id, "costs", sent, lambda: office.use_part(
        workshop_of(request), job_id, sent.fields, _sender(sent)))


@router.post("/jobs/{job_id}/minutes")
def clock(request: Request, job_id: int, sent: FormSent) -> Response:
    """Note minutes worked."""
    return _do(request, job_id, "costs", sent, lambda: office.clock_minutes(
        workshop_of(request), job_id, (sent.get("minutes"), sent.get("work")), _sender(sent)))


@router.post("/jobs/{job_id}/limit")
def limit(request: Request, job_id: int, sent: FormSent) -> Response:
    """Set where to stop and ask."""
    return _do(request, job_id, "costs", sent, lambda: office.set_limit(
        workshop_of(request), job_id, (sent.get("limit_minutes"), sent.get("limit_money")),
        _sender(sent)))


@router.post("/jobs/{job_id}/offer")
def offer(request: Request, job_id: int, sent: FormSent) -> Response:
    """Record an estimate or a quote as it was told."""
    return _do(request, job_id, "costs", sent, lambda: give_offer(
        workshop_of(request), job_id, sent.fields, _sender(sent)))


@router.post("/jobs/{job_id}/answer")
def answer(request: Request, job_id: int, sent: FormSent) -> Response:
    """Record what the customer's side answered."""
    return _do(request, job_id, "costs", sent, lambda: office.answer(
        workshop_of(request), job_id, sent.fields, _sender(sent)))


@router.post("/jobs/{job_id}/take-back/{number}")
def take_back(request: Request, job_id: int, number: int, sent: FormSent) -> Response:
    """Take back a part, minutes or a photo."""
    if number in events_of_kind(workshop_of(request), job_id, "part"):
        need(request, Permission.REPAIR)  # as for noting one
    name = "photos" if sent.get("from") == "photos" else "costs"
    return _do(request, job_id, name, sent, lambda: office.take_back(
        workshop_of(request), job_id, number, _sender(sent)))


@router.get("/jobs/{job_id}/foresight")
def foresight(request: Request, job_id: int) -> Response:
    """Show what the job will take, testing first and swapping parts; asks again until it is so."""
    workshop = workshop_of(request)
    found, now = foresee(workshop, job_id), rates(workshop)
    return page(request, "office_foresight.html", view=office_view(workshop, job_id), found=found,
                ways=way_lines(found, now.currency), tab="costs", rates=now, taxed=has_tax(now))


@router.get("/jobs/{job_id}/hand-over")
def hand_over_page(request: Request, job_id: int) -> Response:
    """Show findings in the technician's words and the hand-over."""
    return _show(request, job_id, "hand-over")


@router.post("/jobs/{job_id}/findings")
def findings(request: Request, job_id: int, sent: FormSent) -> Response:
    """Keep cause, correction and what remains."""
    return _do(request, job_id, "hand-over", sent, lambda: office.write_findings(
        workshop_of(request), job_id, sent.fields, _sender(sent)))


@router.post("/jobs/{job_id}/hand-over")
def hand_over(request: Request, job_id: int, sent: FormSent) -> Response:
    """Note that the vehicle was given back."""
    return _do(request, job_id, "hand-over", sent, lambda: office.hand_over(
        workshop_of(request), job_id, (sent.get("given_to"), sent.get("explained")),
        _sender(sent)))


@router.get("/jobs/{job_id}/history")
def history(request: Request, job_id: int) -> Response:
    """Show everything that happened, with who and when."""
    workshop = workshop_of(request)
    return page(request, "office_history.html", view=office_view(workshop, job_id), tab="history",
                changes=change_lines(workshop, job_id))


@router.get("/settings")
def settings(request: Request) -> Response:
    """Show the workshop's settings."""
    return _settings(request, {})


def _settings(request: Request, fields: Mapping[str, str], refusal: Refusal | None = None
              ) -> Response:
    now = rates(workshop_of(request))
    return page(request, "settings.html", refusal.status if refusal else 200, rates=now,
                fields=fields, refusal=refusal, key=new_key(), missing=sender_missing(now),
                date_orders=DATE_ORDERS)


@router.post("/settings")
def change_settings(request: Request, sent: FormSent) -> Response:
    """Keep new settings; those of before stay."""
    workshop = workshop_of(request)
    try:
        save_rates(workshop, sent.fields, _sender(sent))
    except ConflictError:
        raise
    except UsageError as error:
        return _settings(request, sent.fields, refusal_of(error))
    return see("/settings")
