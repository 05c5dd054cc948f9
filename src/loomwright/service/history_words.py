"""A job's events as one would tell them; what a newer program kept beside is told by its name."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING

from loomwright.service.money import money_words, taxed
from loomwright.service.office import CARD_LABELS

if TYPE_CHECKING:
    from loomwright.jobs.records import Event

__all__ = ["WHAT", "event_words", "offer_words"]

WHAT = {"reading": "Reading", "withdraw": "Taken back", "begin": "Repair begun",
        "repair": "Repair done", "reopen": "Opened again", "finish": "Finished", "card": "Card",
        "part": "Part", "minutes": "Minutes", "limit": "Limit", "offer": "Offer",
        "answer": "Answer", "photo": "Photo", "findings": "Findings", "hand over": "Handed over",
        "told": "Told", "unreached": "Cannot be reached",
        "circuit": "Circuit changed"}
UNSAID = {"sha256", "width", "height"}
SEEN = {"lit": "lamp {}", "running": "{}", "heard": "sound of {}", "input": "input {}",
        "output": "output {}"}
Body = dict[str, str]


def event_words(event: Event) -> str:
    """Return what an event says; nothing that was entered is left out."""
    body = {name: str(text) for name, text in event.body.items() if name not in UNSAID}
    if event.kind == "card":
        labels = {name: CARD_LABELS.get(name, name) for name in body}
        return ", ".join(f"{labels[name]}{'' if labels[name].endswith('?') else ':'} "
                         f"{text or 'emptied'}" for name, text in body.items())
    words = [_TELL[event.kind](body)] if event.kind in _TELL else []
    words += [f"{name.replace('_', ' ')}: {text}" for name, text in body.items() if text]
    return ", ".join(word for word in words if word)


def offer_words(body: Body) -> str:
    """Return an offer as it was told, taking what it says out of a body."""
    currency, form = body.pop("currency", ""), body.pop("form", "offer").capitalize()
    net, tax = _number(body.pop("money", "")), _number(body.pop("tax_percent", ""))
    most, name = body.pop("most", ""), body.pop("tax_name", "") or "tax"
    text = f"{form}: {money_words(net, currency)}"
    if most:
        text += f", at most {money_words(_number(most), currency)}"
    if tax:
        gross = money_words(taxed(net, tax).gross, currency)
        text += f" without tax ({gross} with {name} {tax} %)"
    minutes, note = body.pop("minutes", ""), body.pop("note", "")
    return f"{text}.{f' {minutes} minutes.' if minutes else ''} {note}".strip()


def _number(text: str) -> Decimal:
    try:
        return Decimal(text or "0")
    except InvalidOperation:  # a job file of elsewhere
        return Decimal(0)


def _reading(body: Body) -> str:
    """Return "voltage at Y1.1 in 'locking': 12.4 V (meter)"."""
    quantity, at, to = body.pop("quantity", ""), body.pop("at", ""), body.pop("to", "")
    where = SEEN.get(quantity, quantity + " at {}").format(f"{at} to {to}" if to else at)
    return (f"{where} in '{body.pop('state', '')}': {body.pop('value', '')} "
            f"({body.pop('instrument', '')})")


def _told(body: Body) -> str:
    sort, text = body.pop("sort", ""), body.pop("text", "")
    about, result = body.pop("about", ""), body.pop("result", "")
    if sort == "agree":
        return "the customer's side agreed to another part"
    name = {"code": "code", "swap": "swapped", "history": "before it began"}.get(sort, sort)
    said = f"{name} {about}: {text}" if sort == "swap" else f"{name}: {text} ({about})"
    return f"{said.removesuffix(' ()').removesuffix(': ')}{f', {result}' if result else ''}"


def _unreached(body: Body) -> str:
    to = body.pop("to", "")
    return f"{body.pop('at', '')}{f' to {to}' if to else ''} with the {body.pop('instrument', '')}"


def _answer(body: Body) -> str:
    agreed = "agreed" if body.pop("agreed", "") == "yes" else "did not agree"
    offer, minutes, money = body.pop("offer", ""), body.pop("minutes", ""), body.pop("money", "")
    words = [f"{body.pop('who', '')} {agreed}{f' to no. {offer}' if offer else ''}",
             body.pop("how", ""), body.pop("said_at", ""),
             f"up to {minutes} minutes" if minutes else "", f"up to {money}" if money else "",
             body.pop("note", "")]
    return ", ".join(word for word in words if word)


def _limit(body: Body) -> str:
    minutes, money = body.pop("minutes", ""), body.pop("money", "")
    words = [f"above {minutes} minutes" if minutes else "",
             f"above {money} without tax" if money else ""]
    return " or ".join(word for word in words if word) or "none"


def _repair(body: Body) -> str:
    found = body.pop("found", "")
    return body.pop("repair", "") + (f": {found}" if found else "")


def _part(body: Body) -> str:
    price = body.pop("price", "")
    return (f"{body.pop('quantity', '1')} × {body.pop('what', '')}"
            f"{f', {price} each' if price else ''}")


def _minutes(body: Body) -> str:
    work = body.pop("what", "")
    return f"{body.pop('minutes', '')} min{f', {work}' if work else ''}"


def _hand_over(body: Body) -> str:
    explained = body.pop("explained", "")
    return f"to {body.pop('who', '')}{f'; explained: {explained}' if explained else ''}"


def _finish(body: Body) -> str:
    note, reason = body.pop("note", ""), body.pop("reason", "")
    words = (note, f"without a proof: {reason}" if reason else "")
    return "; ".join(word for word in words if word)


_TELL: dict[str, Callable[[Body], str]] = {
    "reading": _reading, "withdraw": lambda body: f"no. {body.pop('number', '')}",
    "begin": _repair, "repair": _repair, "finish": _finish, "part": _part, "minutes": _minutes,
    "limit": _limit, "offer": offer_words, "answer": _answer,
    "photo": lambda body: body.pop("caption", ""), "hand over": _hand_over, "told": _told,
    "unreached": _unreached, "circuit": lambda body: body.pop("why", ""),
}
