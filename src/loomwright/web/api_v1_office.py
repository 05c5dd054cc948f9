"""/api/v1: a job's paper side: card, parts, minutes, limit, offers, hand-over; settings."""

from __future__ import annotations

import dataclasses
from typing import Annotated, Any

from fastapi import Query, Request
from pydantic import BaseModel

from loomwright.errors import UsageError
from loomwright.jobs.vin import clean_vin, vin_remark
from loomwright.service import office
from loomwright.service.costs import costs_of, limit_of
from loomwright.service.money import two_places
from loomwright.service.office_view import limit_warnings
from loomwright.service.quote import foresee, give_offer
from loomwright.service.rates import rates, save_rates
from loomwright.service.roles import Permission
from loomwright.web import api_v1_models as models
from loomwright.web import api_v1_office_models as shapes
from loomwright.web.api_v1_shared import JobId, Number, new_router, sender_of, undo_key
from loomwright.web.permits import need
from loomwright.web.shared import events_of_kind, workshop_of

__all__ = ["router"]

router = new_router()


def _given(sent: BaseModel) -> dict[str, str]:
    """Return the fields of a change that were sent."""
    return {name: text for name, text in sent.model_dump(exclude={"key"}).items()
            if text is not None}


# --- customer and vehicle ------------------------------------------------------------------------


@router.get("/jobs/{job_id}/card", tags=["Customer and vehicle"], summary="Read the job card")
def read_card(request: Request, job_id: JobId) -> shapes.Card:
    """Return customer, vehicle and complaint as they stand."""
    return shapes.Card(**office.card_of(workshop_of(request).opened(job_id)[0]))


@router.patch("/jobs/{job_id}/card", tags=["Customer and vehicle"], summary="Change the job card")
def change_card(request: Request, job_id: JobId, sent: shapes.CardChange) -> shapes.Card:
    """Change fields of the card; what they said before stays in the history."""
    office.change_card(workshop_of(request), job_id, _given(sent), sender_of(request, sent.key))
    return read_card(request, job_id)


@router.get("/vin", tags=["Customer and vehicle"], summary="Look at a VIN")
def look_at_vin(vin: Annotated[str, Query(description="As typed.", max_length=60)]
                ) -> shapes.VinCheck:
    """Return what is odd about a VIN; a wrong check digit is a remark where one is due."""
    try:
        return shapes.VinCheck(vin=clean_vin(vin), remark=vin_remark(vin))
    except UsageError as error:
        return shapes.VinCheck(vin="", remark=f"{error.message} {error.next_step}")


# --- parts, minutes, limit -----------------------------------------------------------------------


@router.get("/jobs/{job_id}/costs", tags=["Costs"], summary="What a job has cost so far")
def read_costs(request: Request, job_id: JobId) -> shapes.Costs:
    """Return labour and parts line by line, the sums with tax, and the job's limit."""
    workshop = workshop_of(request)
    _, history, bench = workshop.opened(job_id)
    now = rates(workshop)
    costs, limit = costs_of(history, bench, now), limit_of(history, now)
    return shapes.Costs(
        lines=[shapes.CostLine(
            number=one.number, at=one.at, by=one.by, line=one.line, what=one.what,
            minutes=_text(one.minutes), quantity=f"{one.quantity.normalize():f}",
            price="" if one.price is None else _text(one.price), basis=one.basis)
            for one in costs.lines],
        parts_used=[shapes.PartUsed.model_validate(one) for one in history.office.parts],
        minutes_worked=[shapes.MinutesWorked.model_validate(one)
                        for one in history.office.minutes],
        minutes=_text(costs.minutes), labour=_text(costs.labour), parts=_text(costs.parts),
        unpriced=costs.unpriced, net=_text(costs.total.net), tax=_text(costs.total.tax),
        gross=_text(costs.total.gross), tax_name=now.tax_name, tax_percent=now.tax_percent or "0",
        currency=now.currency, labour_rate_per_h=now.labour_rate_per_h, basis=costs.basis,
        limit=shapes.Limit(minutes=limit.minutes, money=limit.money),
        warnings=list(limit_warnings(history, bench, now)))


def _text(amount: Any) -> str:
    return f"{two_places(amount):f}"


@router.post("/jobs/{job_id}/parts", status_code=201, tags=["Costs"], summary="Note a part")
def use_part(request: Request, job_id: JobId, sent: shapes.NewPart) -> models.Done:
    """Note a part that was fitted."""
    number = office.use_part(workshop_of(request), job_id, _given(sent),
                             sender_of(request, sent.key))
    return models.Done(job=job_id, number=number)


@router.post("/jobs/{job_id}/minutes", status_code=201, tags=["Costs"], summary="Clock minutes")
def clock_minutes(request: Request, job_id: JobId, sent: shapes.NewMinutes) -> models.Done:
    """Note minutes that were worked."""
    number = office.clock_minutes(workshop_of(request), job_id, (sent.minutes, sent.what),
                                  sender_of(request, sent.key))
    return models.Done(job=job_id, number=number)


@router.delete("/jobs/{job_id}/entries/{number}", tags=["Costs"],
               summary="Take back a part, minutes or a photo")
def take_back_entry(request: Request, job_id: JobId, number: Number) -> models.Done:
    """Take back a part, minutes or a photo; it stays in the history. Twice counts once."""
    if number in events_of_kind(workshop_of(request), job_id, "part"):
        need(request, Permission.REPAIR)
    office.take_back(workshop_of(request), job_id, number,
                     sender_of(request, undo_key(number)))
    return models.Done(job=job_id, number=number)


@router.put("/jobs/{job_id}/limit", tags=["Costs"], summary="Set where to stop and ask")
def set_limit(request: Request, job_id: JobId, sent: shapes.NewLimit) -> shapes.Limit:
    """Set the minutes and the money up to which work may go on without asking the customer."""
    office.set_limit(workshop_of(request), job_id, (sent.minutes, sent.money),
                     sender_of(request, sent.key))
    return read_costs(request, job_id).limit


# --- estimates, quotes, answers ------------------------------------------------------------------


@router.get("/jobs/{job_id}/foresight", tags=["Offers"], summary="What a job will take")
def read_foresight(
    request: Request, job_id: JobId,
    wait_s: Annotated[float, Query(description="Wait so long for the figures, s.", ge=0.0,
                                   le=20.0)] = 0.0,
) -> shapes.Foresight:
    """Return minutes and money to find and mend, testing first and swapping parts."""
    found = foresee(workshop_of(request), job_id, wait_s=wait_s)
    return shapes.Foresight(
        ready=found.ready, problem=found.problem, stops=list(found.stops),
        episodes=found.episodes, found=found.found, handed_on=found.handed_on,
        ways=[shapes.Way(name=one.name, wrong_parts=str(one.wrong_parts),
                         **{name: [str(amount) for amount in getattr(one, name)]
                            for name in ("minutes", "net", "gross")}) for one in found.ways],
        swaps=[shapes.Swap(**{name: str(value) for name, value in dataclasses.asdict(one).items()})
               for one in found.swaps])


@router.get("/jobs/{job_id}/offers", tags=["Offers"], summary="Offers and answers")
def list_offers(request: Request, job_id: JobId) -> shapes.Talk:
    """Return what was told to the customer and what was answered."""
    paper = workshop_of(request).opened(job_id)[1].office
    return shapes.Talk(
        offers=[shapes.Offer(number=one.number, at=one.at, by=one.by, **{
            name: one.body.get(name, "") for name in (
                "form", "money", "most", "minutes", "tax_name", "tax_percent", "currency",
                "note")}) for one in paper.offers],
        answers=[shapes.Answer.model_validate(one) for one in paper.answers],
        awaited=paper.asks)


@router.post("/jobs/{job_id}/offers", status_code=201, tags=["Offers"],
             summary="Record an estimate or a quote")
def add_offer(request: Request, job_id: JobId, sent: shapes.NewOffer) -> models.Done:
    """Record an offer as it was told; tax rate and currency of now are kept with it."""
    number = give_offer(workshop_of(request), job_id, _given(sent), sender_of(request, sent.key))
    return models.Done(job=job_id, number=number)


@router.post("/jobs/{job_id}/answers", status_code=201, tags=["Offers"],
             summary="Record the customer's answer")
def add_answer(request: Request, job_id: JobId, sent: shapes.NewAnswer) -> shapes.Talk:
    """Record who agreed or not, how and up to which limit; it answers the last offer."""
    said = {**{name: str(text) for name, text in _given(sent).items()},
            "agreed": "yes" if sent.agreed else "no"}
    office.answer(workshop_of(request), job_id, said, sender_of(request, sent.key))
    return list_offers(request, job_id)


# --- cause, correction, hand-over ----------------------------------------------------------------


@router.get("/jobs/{job_id}/findings", tags=["Hand-over"], summary="Cause and correction")
def read_findings(request: Request, job_id: JobId) -> shapes.Findings:
    """Return cause, correction and what remains, as somebody wrote them."""
    return shapes.Findings.model_validate(workshop_of(request).opened(job_id)[1].office.findings)


@router.put("/jobs/{job_id}/findings", tags=["Hand-over"], summary="Write cause and correction")
def write_findings(request: Request, job_id: JobId, sent: shapes.NewFindings) -> shapes.Findings:
    """Keep cause, correction and what remains."""
    office.write_findings(workshop_of(request), job_id, _given(sent),
                          sender_of(request, sent.key))
    return read_findings(request, job_id)


@router.get("/jobs/{job_id}/hand-over", tags=["Hand-over"], summary="Who took the vehicle")
def read_hand_over(request: Request, job_id: JobId) -> shapes.HandOver:
    """Return to whom the vehicle was given; empty while it is here."""
    given = workshop_of(request).opened(job_id)[1].office.hand_over
    if given is None:
        return shapes.HandOver(who="", explained="", at="", by="")
    return shapes.HandOver.model_validate(given)


@router.post("/jobs/{job_id}/hand-over", status_code=201, tags=["Hand-over"],
             summary="Hand the vehicle over")
def hand_over(request: Request, job_id: JobId, sent: shapes.NewHandOver) -> shapes.HandOver:
    """Note that the vehicle of a finished job was given back."""
    office.hand_over(workshop_of(request), job_id, (sent.who, sent.explained),
                     sender_of(request, sent.key))
    return read_hand_over(request, job_id)


# --- settings ------------------------------------------------------------------------------------


@router.get("/settings", tags=["Settings"], summary="The workshop's settings")
def read_settings(request: Request) -> shapes.Settings:
    """Return labour rate, tax, currency, usual limits and the workshop's own address."""
    return shapes.Settings.model_validate(rates(workshop_of(request)), from_attributes=True)


@router.patch("/settings", tags=["Settings"], summary="Change the settings")
def change_settings(request: Request, sent: shapes.NewSettings) -> shapes.Settings:
    """Change settings from now on; those of before stay with the offers of their time."""
    save_rates(workshop_of(request), _given(sent), sender_of(request, sent.key))
    return read_settings(request)
