"""How each event of the paper side changes what stands; pure functions."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

from loomwright.jobs.office import (
    CARD_FIELDS,
    Answer,
    Findings,
    HandOver,
    Limit,
    Minutes,
    Offer,
    Office,
    PartUsed,
    Photo,
)
from loomwright.jobs.records import Event

__all__ = ["OFFICE_STEPS", "without"]


def without(office: Office, number: int) -> Office:
    """Return the paper side without a part, minutes or photo that was taken back."""
    return dataclasses.replace(
        office,
        parts=tuple(one for one in office.parts if one.number != number),
        minutes=tuple(one for one in office.minutes if one.number != number),
        photos=tuple(one for one in office.photos if one.number != number))


def _card(office: Office, event: Event) -> Office:
    known = {name: text for name, text in event.body.items() if name in CARD_FIELDS}
    return dataclasses.replace(office, card={**office.card, **known})


def _part(office: Office, event: Event) -> Office:
    body = event.body
    used = PartUsed(event.number, body["what"], body.get("quantity", "1"), body.get("price", ""),
                    event.at, event.by)
    return dataclasses.replace(office, parts=(*office.parts, used))


def _minutes(office: Office, event: Event) -> Office:
    clocked = Minutes(event.number, event.body["minutes"], event.body.get("what", ""),
                      event.at, event.by)
    return dataclasses.replace(office, minutes=(*office.minutes, clocked))


def _limit(office: Office, event: Event) -> Office:
    body = event.body
    return dataclasses.replace(office, limit=Limit(
        body.get("minutes", ""), body.get("money", ""), event.at, event.by))


def _offer(office: Office, event: Event) -> Office:
    offer = Offer(event.number, dict(event.body), event.at, event.by)
    return dataclasses.replace(office, offers=(*office.offers, offer))


def _answer(office: Office, event: Event) -> Office:
    body = event.body
    given = Answer(
        event.number, body["agreed"] == "yes", body["who"], body.get("how", ""),
        body.get("said_at", ""), body.get("minutes", ""), body.get("money", ""),
        body.get("note", ""), body.get("offer", ""), event.at, event.by)
    office = dataclasses.replace(office, answers=(*office.answers, given))
    if given.agreed and (given.minutes or given.money):  # what was agreed is the new limit
        office = dataclasses.replace(
            office, limit=Limit(given.minutes, given.money, event.at, event.by))
    return office


def _photo(office: Office, event: Event) -> Office:
    body = event.body
    photo = Photo(event.number, body["sha256"], body.get("caption", ""), body.get("about", ""),
                  int(body["width"]), int(body["height"]), event.at, event.by)
    return dataclasses.replace(office, photos=(*office.photos, photo))


def _findings(office: Office, event: Event) -> Office:
    body = event.body
    return dataclasses.replace(office, findings=Findings(
        body.get("cause", ""), body.get("correction", ""), body.get("remains", ""),
        event.at, event.by))


def _hand_over(office: Office, event: Event) -> Office:
    body = event.body
    return dataclasses.replace(office, hand_over=HandOver(
        body["who"], body.get("explained", ""), event.at, event.by))


OFFICE_STEPS: dict[str, Callable[[Office, Event], Office]] = {
    "card": _card, "part": _part, "minutes": _minutes, "limit": _limit, "offer": _offer,
    "answer": _answer, "photo": _photo, "findings": _findings, "hand over": _hand_over,
}
