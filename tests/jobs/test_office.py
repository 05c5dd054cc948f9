"""The paper side of a job: every change is an event, what it replaces stays, and words for it."""

from __future__ import annotations

import dataclasses

import pytest

from loomwright.jobs.history import job_now, replay
from loomwright.jobs.office import CARD_FIELDS, Limit
from loomwright.jobs.records import KINDS, Complaint, Contact, Event, Job, Vehicle

CARD = Job(1, "Skerry Point", Vehicle("Truck 7", "SP 07"), "lock", Complaint("stays open", "wet"),
           "00", "2026-01-01T08:00:00+00:00", "Isla")


def events(*kinds: tuple[str, dict[str, str]]) -> list[Event]:
    return [Event(number, kind, "2026-01-01T08:00:00+00:00", "Isla", f"key-{number}", body)
            for number, (kind, body) in enumerate(kinds, 1)]


def test_a_changed_card_keeps_what_was_not_changed() -> None:
    history = replay(events(("card", {"phone": "0123", "plate": "SP 08", "after": "new battery"}),
                            ("card", {"phone": "0456", "system_v": "24 V"})))
    job = job_now(CARD, history.office.card)
    assert job.contact == Contact("0456")
    assert job.vehicle == Vehicle("Truck 7", "SP 08", system_v="24 V")
    assert job.complaint == Complaint("stays open", "wet", after="new battery")
    assert job_now(CARD, {}) == CARD


@pytest.mark.parametrize("name", CARD_FIELDS)
def test_every_field_of_the_card_can_be_changed(name: str) -> None:
    assert job_now(CARD, {name: "other"}) != CARD
    assert "other" in str(dataclasses.asdict(job_now(CARD, {name: "other"})))


def test_parts_minutes_and_photos_are_taken_back_by_number() -> None:
    photo = {"sha256": "0" * 64, "width": "4", "height": "3"}
    history = replay(events(("part", {"what": "fuse"}), ("minutes", {"minutes": "12"}),
                            ("photo", photo), ("withdraw", {"number": "1"}),
                            ("withdraw", {"number": "3"})))
    office = history.office
    assert (office.parts, office.photos, office.numbers()) == ((), (), {2})
    assert history.last == 5


def test_what_was_agreed_becomes_the_limit() -> None:
    steps = [("limit", {"minutes": "60", "money": ""}), ("offer", {"money": "200"}),
             ("answer", {"agreed": "no", "who": "Mr Ross", "money": "900"}),
             ("answer", {"agreed": "yes", "who": "Mr Ross", "money": "250"})]
    found = [replay(events(*steps[:count])).office for count in range(1, 5)]
    assert [(one.limit.minutes, one.limit.money) for one in found] == [
        ("60", ""), ("60", ""), ("60", ""), ("", "250")]
    assert [one.asks for one in found] == [False, True, False, False]
    assert found[3].limit == Limit("", "250", "2026-01-01T08:00:00+00:00", "Isla")


def test_a_job_is_handed_over_after_it_is_finished_and_reopening_takes_it_back() -> None:
    given = [("finish", {}), ("hand over", {"who": "Mr Ross"}), ("reopen", {})]
    states = [replay(events(*given[:count])).state for count in range(4)]
    assert states == ["waiting", "finished", "handed over", "waiting"]


def test_every_kind_of_event_can_be_replayed() -> None:
    bodies = {"reading": {"state": "a", "quantity": "lit", "at": "H1", "value": "on"},
              "withdraw": {"number": "1"}, "begin": {"repair": "mend W1"},
              "repair": {"repair": "mend W1"}, "part": {"what": "fuse"},
              "minutes": {"minutes": "5"}, "answer": {"agreed": "yes", "who": "x"},
              "photo": {"sha256": "0" * 64, "width": "1", "height": "1"},
              "hand over": {"who": "x"}, "told": {"sort": "agree", "text": ""},
              "unreached": {"state": "a", "quantity": "lit", "at": "H1", "instrument": "eye"},
              "circuit": {"sha256": "0" * 64, "why": "a slip"}}
    assert replay(events(*((kind, bodies.get(kind, {})) for kind in KINDS))).last == len(KINDS)
