"""Use cases of a job's paper side: card, parts, minutes, limits, answers, findings, hand-over.

Every change is one event with who and when; what it replaces stays in the history.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.office import CARD_FIELDS
from loomwright.jobs.records import NewEvent
from loomwright.jobs.vin import clean_vin
from loomwright.service.money import canonical

if TYPE_CHECKING:
    from loomwright.jobs.records import History, Job
    from loomwright.service.jobs import Workshop

__all__ = ["CARD_LABELS", "HOW", "Sender", "answer", "card_of", "change_card", "clock_minutes",
           "hand_over", "set_limit", "take_back", "use_part", "write_findings"]

MAX_TEXT = 2_000  # characters
MOST_MINUTES = Decimal(100_000)
CARD_LABELS = {
    "customer": "Customer", "phone": "Telephone", "email": "E-mail", "address": "Address",
    "vehicle": "Vehicle", "plate": "Plate", "vin": "VIN", "make": "Make and model",
    "vehicle_class": "Vehicle class", "system_v": "System voltage", "odometer": "Odometer",
    "hours": "Hours run", "system": "System", "complaint": "Complaint",
    "when": "When does it happen?", "hot": "Hot or cold?", "wet": "Wet or dry?",
    "after": "Since what?"}
HOW = ("in person", "by telephone", "by e-mail", "by message", "on paper")
_AGREED = ("answer", "limit", "offer")  # what one who answers must have seen


@dataclass(frozen=True, slots=True)
class Sender:
    """Who sends a change, and the key of this submission: the same key counts once."""

    key: str
    by: str = ""


def card_of(job: Job) -> dict[str, str]:
    """Return the fields of a job's card as they stand."""
    vehicle, said, contact = job.vehicle, job.complaint, job.contact
    return {
        "customer": job.customer, "phone": contact.phone, "email": contact.email,
        "address": contact.address, "vehicle": vehicle.name, "plate": vehicle.plate,
        "vin": vehicle.vin, "make": vehicle.make, "vehicle_class": vehicle.vehicle_class,
        "system_v": vehicle.system_v, "odometer": vehicle.odometer, "hours": vehicle.hours,
        "system": job.system, "complaint": said.text, "when": said.when, "hot": said.hot,
        "wet": said.wet, "after": said.after}


def change_card(workshop: Workshop, job_id: int, fields: Mapping[str, str], sender: Sender
                ) -> tuple[str, ...]:
    """Change fields of a job's card and return which; the old ones stay in the history.

    Raises UsageError where a field cannot be so, or vehicle or complaint would be empty.
    """
    job = workshop.opened(job_id)[0]
    if any(one.key == sender.key for one in workshop.store.events(job_id)):
        return ()  # sent again: it counted the first time
    wanted = checked_card({name: fields[name] for name in CARD_FIELDS if name in fields})
    now = card_of(job)
    changed = {name: text for name, text in wanted.items() if text != now[name]}
    for name in ("vehicle", "complaint"):
        if changed.get(name) == "":
            raise UsageError(f"The {name} is missing.", next_step=f"Fill in the {name}.")
    if changed:
        workshop.store.add_event(job_id, NewEvent("card", changed, sender.key, sender.by))
    return tuple(changed)


def checked_card(fields: Mapping[str, str]) -> dict[str, str]:
    """Return fields of a card as they are stored. Raises UsageError."""
    found = {name: _text(text, CARD_LABELS[name]) for name, text in fields.items()}
    if "vin" in found:
        found["vin"] = clean_vin(found["vin"])
    if found.get("system_v"):
        found["system_v"] = _volts(found["system_v"])
    if found.get("email") and not (0 < found["email"].find("@") < len(found["email"]) - 1):
        raise UsageError(f"'{found['email'][:60]}' is no e-mail address.",
                         next_step="Correct it, or leave it empty.")
    return found


def _volts(text: str) -> str:
    from loomwright.units import parse_quantity

    volts = parse_quantity(text if not text[-1].isdigit() else f"{text} V", "V")
    if not 1.0 <= volts <= 100.0:
        raise UsageError(f"The system voltage is {volts:g} V; 1 to 100 V is the range here.",
                         next_step="Above that is a high-voltage system: keep to its maker's "
                                   "procedure.")
    return f"{volts:g} V"


def use_part(workshop: Workshop, job_id: int, what: Mapping[str, str], sender: Sender) -> int:
    """Note a part used (`what`, `quantity`, `price` of one without tax); return its number."""
    _open(workshop.opened(job_id)[1])
    named = _needed(what.get("what", ""), "part")
    quantity = canonical(what.get("quantity", "") or "1", "quantity", most=MOST_MINUTES)
    if not Decimal(quantity):
        raise UsageError("The quantity is 0.", next_step="Take the part back instead.")
    body = {"what": named, "quantity": quantity, "price": canonical(what.get("price", ""), "price")}
    return workshop.store.add_event(job_id, NewEvent("part", body, sender.key, sender.by)).number


def clock_minutes(workshop: Workshop, job_id: int, done: tuple[str, str], sender: Sender) -> int:
    """Note minutes worked: `done` is how many, and on what; return the number of the entry."""
    _open(workshop.opened(job_id)[1])
    minutes = canonical(done[0], "minutes", most=MOST_MINUTES)
    if not minutes or not Decimal(minutes):
        raise UsageError("The minutes are missing.", next_step="Type how many were worked.")
    body = {"minutes": minutes, "what": _text(done[1], "work")}
    return workshop.store.add_event(
        job_id, NewEvent("minutes", body, sender.key, sender.by)).number


def set_limit(workshop: Workshop, job_id: int, limit: tuple[str, str], sender: Sender) -> None:
    """Set where to stop and ask: (minutes, money without tax); '' is no limit of that sort."""
    _open(workshop.opened(job_id)[1])
    body = {"minutes": canonical(limit[0], "minutes", most=MOST_MINUTES),
            "money": canonical(limit[1], "sum")}
    workshop.store.add_event(job_id, NewEvent("limit", body, sender.key, sender.by))


def answer(workshop: Workshop, job_id: int, said: Mapping[str, str], sender: Sender) -> None:
    """Record what the customer's side said.

    `said` has agreed (yes or no), who, how, said_at, minutes, money, note; agreed with an amount
    makes that amount the limit. `seen` in it is the last event its author knew of.

    Raises
        UsageError: who is missing
        ConflictError: somebody else recorded an answer, a limit or an offer meanwhile
    """
    _, history, _ = workshop.opened(job_id)
    _open(history)
    before = workshop.store.events(job_id)
    again = any(one.key == sender.key for one in before)
    if not again and any(one.kind in _AGREED and one.number > _seen(said.get("seen", ""))
                         for one in before):
        raise ConflictError("Somebody recorded an answer, a limit or an offer meanwhile.",
                            next_step="Load the page again and look at it first.")
    if said.get("agreed") not in ("yes", "no"):
        raise UsageError("It is not said whether the customer agreed.",
                         next_step="Choose yes or no.")
    if said.get("how", "") not in ("", *HOW):
        raise UsageError(f"'{said['how'][:40]}' is no way of asking.",
                         next_step=f"Choose one: {', '.join(HOW)}.")
    offers = history.office.offers
    body = {
        "agreed": said["agreed"], "who": _needed(said.get("who", ""), "name of who answered"),
        "how": said.get("how", ""), "said_at": _text(said.get("said_at", ""), "time"),
        "minutes": canonical(said.get("minutes", ""), "minutes", most=MOST_MINUTES),
        "money": canonical(said.get("money", ""), "sum"),
        "note": _text(said.get("note", ""), "note"),
        "offer": str(offers[-1].number) if offers else ""}
    if again:  # the same submission sent again: it answered what was the last offer then
        known = next(one for one in before if one.key == sender.key)
        body["offer"] = known.body.get("offer", "")
    workshop.store.add_event(job_id, NewEvent("answer", body, sender.key, sender.by),
                             before[-1].number if before else 0)


def _seen(text: str) -> int:
    """Return the last event that a form's author knew of; all of them where it does not say."""
    return int(text) if re.fullmatch("[0-9]{1,9}", text) else 10**9


def write_findings(workshop: Workshop, job_id: int, words: Mapping[str, str], sender: Sender
                   ) -> None:
    """Keep cause, correction and what remains, in the technician's own words."""
    _open(workshop.opened(job_id)[1])
    body = {name: _text(words.get(name, ""), name) for name in ("cause", "correction", "remains")}
    workshop.store.add_event(job_id, NewEvent("findings", body, sender.key, sender.by))


def hand_over(workshop: Workshop, job_id: int, given: tuple[str, str], sender: Sender) -> None:
    """Note that the vehicle was given back: to whom, and what was explained.

    Raises ConflictError where the job is not finished.
    """
    history = workshop.opened(job_id)[1]
    if history.finish is None:
        raise ConflictError("This job is not finished.", next_step="Finish it first, on its page.")
    body = {"who": _needed(given[0], "name of who took it"),
            "explained": _text(given[1], "explanation")}
    workshop.store.add_event(job_id, NewEvent("hand over", body, sender.key, sender.by))


def take_back(workshop: Workshop, job_id: int, number: int, sender: Sender) -> None:
    """Take back a part, minutes or a photo; it stays in the history."""
    history = workshop.opened(job_id)[1]
    _open(history)
    known = {one.number for one in workshop.store.events(job_id)
             if one.kind in ("part", "minutes", "photo")}
    if number not in known:
        raise UsageError(f"Job {job_id} has nothing numbered {number} to take back.",
                         next_step="Load the page again.")
    body = {"number": str(number)}
    workshop.store.add_event(job_id, NewEvent("withdraw", body, sender.key, sender.by))


def _open(history: History) -> None:
    if history.office.hand_over is not None:
        raise ConflictError("The vehicle of this job was handed over; nothing can be added.",
                            next_step="Open the job again first, from its page.")


def _text(text: str, name: str) -> str:
    if len(text) > MAX_TEXT:
        raise UsageError(f"The {name} has {len(text)} characters; {MAX_TEXT} is the most.",
                         next_step="Shorten it.")
    return text.strip()


def _needed(text: str, name: str) -> str:
    found = _text(text, name)
    if not found:
        raise UsageError(f"The {name} is missing.", next_step="Fill it in.")
    return found
