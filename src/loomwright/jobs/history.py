"""A job's events folded into what stands now; a pure function of the events."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping

from loomwright.jobs.office_steps import OFFICE_STEPS, without
from loomwright.jobs.records import (
    Complaint,
    Contact,
    Event,
    Finish,
    History,
    Job,
    Reading,
    RepairDone,
    Told,
    Unreached,
)

__all__ = ["job_now", "replay"]


def replay(events: Iterable[Event]) -> History:
    """Return what stands after the events, taken in order of their number."""
    history = History()
    for event in sorted(events, key=lambda one: one.number):
        if event.kind in OFFICE_STEPS:
            office = OFFICE_STEPS[event.kind](history.office, event)
            history = dataclasses.replace(history, office=office, last=event.number)
            continue
        history = dataclasses.replace(_STEPS[event.kind](history, event), last=event.number)
    return history


def job_now(job: Job, card: Mapping[str, str]) -> Job:
    """Return a job with its card as it stands after the changes in `card` (field to text)."""
    if not card:
        return job
    old, said = job.vehicle, job.complaint
    vehicle = dataclasses.replace(
        old, name=card.get("vehicle", old.name),
        **{name: card.get(name, getattr(old, name)) for name in (
            "plate", "vin", "make", "vehicle_class", "system_v", "odometer", "hours")})
    complaint = Complaint(card.get("complaint", said.text), card.get("when", said.when),
                          *(card.get(name, "") for name in ("hot", "wet", "after")))
    contact = Contact(*(card.get(name, "") for name in ("phone", "email", "address")))
    return dataclasses.replace(
        job, customer=card.get("customer", job.customer), vehicle=vehicle, complaint=complaint,
        system=card.get("system", job.system), contact=contact)


def _reading(history: History, event: Event) -> History:
    body = event.body
    taken = Reading(
        number=event.number, state=body["state"], quantity=body["quantity"], point=body["at"],
        to=body.get("to", ""), value=body["value"], instrument=body.get("instrument", "meter"),
        at=event.at, by=event.by, round=len(history.repairs), proving=history.proving)
    return dataclasses.replace(history, readings=(*history.readings, taken))


def _withdraw(history: History, event: Event) -> History:
    number = int(event.body["number"])
    return dataclasses.replace(
        history,
        readings=tuple(one for one in history.readings if one.number != number),
        withdrawn=(*history.withdrawn, *(r for r in history.readings if r.number == number)),
        told=tuple(one for one in history.told if one.number != number),
        unreached=tuple(one for one in history.unreached if one.number != number),
        office=without(history.office, number))


def _told(history: History, event: Event) -> History:
    body = event.body
    about = tuple(name for name in body.get("about", "").split(", ") if name)
    told = Told(event.number, body["sort"], body.get("text", ""), about, body.get("result", ""),
                event.at, event.by, len(history.repairs))
    return dataclasses.replace(history, told=(*history.told, told))


def _unreached(history: History, event: Event) -> History:
    body = event.body
    found = Unreached(event.number, body["at"], body.get("to", ""),
                      body.get("instrument", "meter"), event.at, event.by)
    return dataclasses.replace(history, unreached=(*history.unreached, found))


def _circuit(history: History, event: Event) -> History:
    return dataclasses.replace(history, circuit=event.body["sha256"])


def _begin(history: History, event: Event) -> History:
    return dataclasses.replace(history, begun=event.body["repair"], proving=False)


def _repair(history: History, event: Event) -> History:
    done = RepairDone(event.number, event.body["repair"], event.body.get("found", ""),
                      event.at, event.by)
    return dataclasses.replace(history, repairs=(*history.repairs, done), begun="", proving=True)


def _reopen(history: History, event: Event) -> History:
    repairs = history.repairs
    if repairs and history.proving:
        repairs = (*repairs[:-1], dataclasses.replace(repairs[-1], failed=True))
    return dataclasses.replace(history, repairs=repairs, begun="", proving=False, finish=None,
                               office=dataclasses.replace(history.office, hand_over=None))


def _finish(history: History, event: Event) -> History:
    end = Finish(event.at, event.by, event.body.get("note", ""), event.body.get("reason", ""))
    return dataclasses.replace(history, finish=end)


_STEPS: dict[str, Callable[[History, Event], History]] = {
    "reading": _reading, "withdraw": _withdraw, "begin": _begin, "repair": _repair,
    "reopen": _reopen, "finish": _finish, "told": _told,
    "unreached": _unreached, "circuit": _circuit,
}
