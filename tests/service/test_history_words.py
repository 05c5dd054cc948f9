"""The history of a job in words: each kind of event as one would tell it, and nothing left out."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from loomwright.jobs.records import KINDS, Event
from loomwright.service.history_words import WHAT, event_words
from loomwright.service.jobs import Workshop
from loomwright.service.office_view import change_lines
from tests.service.depot_folder import depot_in
from tests.service.whole_job import whole_job


def words(kind: str, **body: str) -> str:
    return event_words(Event(1, kind, "2026-11-25T10:00:00+00:00", "Isla", "key", body))


@pytest.mark.parametrize(("kind", "body", "told"), [
    ("reading", {"state": "open", "quantity": "lit", "at": "H7", "to": "", "value": "dim",
                 "instrument": "eye"}, "lamp H7 in 'open': dim (eye)"),
    ("reading", {"state": "open", "quantity": "voltage", "at": "Y1.1", "to": "BAT.-",
                 "value": "12.4 V", "instrument": "meter"},
     "voltage at Y1.1 to BAT.- in 'open': 12.4 V (meter)"),
    ("withdraw", {"number": "2"}, "no. 2"),
    ("told", {"sort": "code", "text": "Lock open", "about": "ECU.lock", "result": "stored"},
     "code: Lock open (ECU.lock), stored"),
    ("told", {"sort": "swap", "text": "new relay", "about": "K3", "result": "no change"},
     "swapped K3: new relay, no change"),
    ("told", {"sort": "swap", "text": "", "about": "K3", "result": "gone"}, "swapped K3, gone"),
    ("offer", {"form": "estimate", "money": "180", "most": "260", "tax_name": "VAT",
               "tax_percent": "20", "currency": "EUR"},
     "Estimate: 180.00 EUR, at most 260.00 EUR without tax (216.00 EUR with VAT 20 %)."),
    ("offer", {"form": "quote", "money": "180", "tax_percent": "0"}, "Quote: 180.00."),
    ("answer", {"agreed": "yes", "who": "Mr Ross", "how": "by telephone", "money": "260",
                "offer": "16"}, "Mr Ross agreed to no. 16, by telephone, up to 260"),
    ("limit", {"minutes": "60", "money": "150"}, "above 60 minutes or above 150 without tax"),
    ("limit", {"minutes": "", "money": ""}, "none"),
    ("minutes", {"minutes": "45", "what": "looking"}, "45 min, looking"),
    ("part", {"what": "Wire", "quantity": "1.5", "price": "2.20"}, "1.5 × Wire, 2.20 each"),
    ("repair", {"repair": "clean E2", "found": "green"}, "clean E2: green"),
    ("card", {"plate": ""}, "Plate: emptied"),
    ("card", {"hot": "no"}, "Hot or cold? no"),
    ("finish", {"note": "", "reason": "fetched early"}, "without a proof: fetched early"),
    ("reading", {"at": "H7", "colour_of_it": "red"}, " at H7 in '':  (), colour of it: red"),
])
def test_an_event_is_told_as_one_says_it(kind: str, body: dict[str, str], told: str) -> None:
    assert words(kind, **body) == told


def test_every_kind_has_its_words_and_says_all_that_was_entered(tmp_path: Path) -> None:
    assert set(WHAT) == set(KINDS)
    workshop = Workshop(depot_in(tmp_path))
    job = whole_job(workshop)
    lines = {one.number: one.text for one in change_lines(workshop, job)}
    for event in workshop.store.events(job):
        told = lines[event.number]
        assert not re.search(r"\b(sort|form|number|quantity|instrument): ", told), told
        for name, text in event.body.items():
            if name in {"sha256", "width", "height", "quantity", "agreed", "sort", "form",
                        "tax_name", "tax_percent"}:
                continue  # said in other words
            assert str(text).rstrip("0") in told, (name, told)
