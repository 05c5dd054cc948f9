"""Nobody does by a way round what their role may not do: files, keys, taking back, two at once."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import field
from tests.web.shared_shop import PIN, Shop

pytestmark = pytest.mark.usefixtures("quick_pins")
API = f"/api/v1/jobs/{TRUCK_7}"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    found = Shop(tmp_path)
    yield found
    found.close()


def longer(text: str, kind: str, body: dict[str, str], by: str = "Morag") -> str:
    """Return a job's file with one more event, as if somebody else had made it."""
    job = json.loads(text)
    last = job["events"][-1]["number"] if job["events"] else 0
    job["events"].append({"number": last + 1, "kind": kind, "at": "2026-11-25T09:14:00.000+00:00",
                          "by": by, "key": f"forged-{last}-{kind}", "body": body})
    rest = {name: value for name, value in job.items() if name != "sha256"}
    words = json.dumps(rest, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return json.dumps({**rest, "sha256": hashlib.sha256(words.encode()).hexdigest()})


YES = {"agreed": "yes", "who": "the customer", "how": "", "said_at": "", "minutes": "",
       "money": "900.00", "note": "", "offer": ""}


@pytest.mark.parametrize("who", ["Ailsa", "write"])
def test_nobody_approves_by_a_file_who_may_not_approve(shop: Shop, who: str) -> None:
    sender = shop.program(who) if who == "write" else shop.signed_in(who)
    forged = longer(sender.get(f"{API}/job-file").text, "answer", YES)
    answer = sender.post("/api/v1/jobs/import", content=forged,
                         headers={"content-type": "application/json"})
    assert answer.status_code == 403
    assert "answer" in answer.json()["error"]["message"]
    if who == "Ailsa":
        page = sender.post("/jobs/import", data={"job_file": forged})
        assert page.status_code == 403
    assert not shop.app.state.workshop.opened(TRUCK_7)[1].office.answers
    taken = shop.signed_in("Morag").post("/jobs/import", data={"job_file": forged})
    assert taken.status_code == 303
    assert shop.app.state.workshop.opened(TRUCK_7)[1].office.answers[0].by == "Morag"


def test_who_took_a_file_in_is_kept_whatever_names_stand_in_it(shop: Shop) -> None:
    sender = shop.signed_in("Ailsa")
    minutes = {"minutes": "600", "what": "washing"}
    forged = longer(sender.get(f"{API}/job-file").text, "minutes", minutes, by="Rory")
    assert sender.post("/jobs/import", data={"job_file": forged}).status_code == 303
    change = shop.access.changes()[0]
    assert (change.by, change.what) == ("Ailsa", f"job {TRUCK_7} taken in from a file, 1 new")
    assert "taken in from a file" in shop.signed_in("Morag").get("/people").text


def test_a_key_that_the_program_makes_is_nobody_else_s(shop: Shop) -> None:
    store = shop.app.state.workshop.store
    rory = shop.signed_in("Rory")
    reading = {"state": "locking", "quantity": "voltage", "at": "S4.1", "value": "25.1 V"}
    number = rory.post(f"{API}/readings", json={**reading, "key": "own-key-1"}).json()["number"]
    for body in ({**reading, "value": "3 V", "key": f"api-undo-{number}"},):
        assert rory.post(f"{API}/readings", json=body).status_code == 400
    undone = rory.post(f"/jobs/{TRUCK_7}/readings/{number - 1}/withdraw",
                       data={"key": f"api-undo-{number}"})
    assert undone.status_code == 400
    assert rory.delete(f"{API}/readings/{number}").status_code == 200
    assert store.events(TRUCK_7)[-1].body["number"] == str(number)
    vehicle = {"vehicle": "Van", "complaint": "dark", "circuit": {"from_job": TRUCK_7}}
    new = shop.signed_in("Ailsa").post("/api/v1/jobs", json={
        **vehicle, "key": "import-" + "0" * 64})
    assert new.status_code == 400, new.text


def test_another_s_key_sent_again_is_no_other_s_doing(shop: Shop) -> None:
    mine, other = shop.signed_in("Ailsa"), shop.signed_in("Rory")
    body: dict[str, Any] = {"state": "locking", "quantity": "voltage", "at": "S4.1",
                            "value": "25.1 V", "key": "shared-key-1"}
    first = mine.post(f"{API}/readings", json=body).json()["number"]
    assert other.post(f"{API}/readings", json=body).json()["number"] == first
    assert other.post(f"{API}/readings", json={**body, "value": "0 V"}).status_code == 409
    kept = shop.app.state.workshop.store.events(TRUCK_7)[-1]
    assert (kept.number, kept.by, kept.body["value"]) == (first, "Ailsa", "25.1 V")


def test_an_apprentice_takes_back_no_part_and_no_word_to_go_on(shop: Shop) -> None:
    boss, rory = shop.signed_in("Ailsa"), shop.signed_in("Rory")
    part = boss.post(f"{API}/parts", json={"what": "fuse", "key": "part-key-1"}).json()["number"]
    for answer in (rory.delete(f"{API}/entries/{part}"),
                   rory.post(f"/jobs/{TRUCK_7}/take-back/{part}", data={"key": "take-back-1"})):
        assert answer.status_code == 403
    assert len(shop.app.state.workshop.opened(TRUCK_7)[1].office.parts) == 1
    word = boss.post(f"{API}/go-on", json={"key": "go-on-key-1"}).json()["number"]
    for answer in (rory.delete(f"{API}/told/{word}"),
                   rory.post(f"/jobs/{TRUCK_7}/told/{word}/withdraw", data={"key": "take-it-1"})):
        assert answer.status_code == 403
    assert rory.post(f"{API}/told", json={"sort": "agree", "key": "told-key-1"}).status_code == 400
    assert boss.delete(f"{API}/told/{word}").status_code == 200
    assert boss.delete(f"{API}/entries/{part}").status_code == 200


def test_of_two_answers_at_once_the_second_is_told_of_the_first(shop: Shop) -> None:
    shop.access.add("Iain", "foreman", PIN, "")
    both = [shop.signed_in("Morag"), shop.signed_in("Iain")]
    pages = [one.get(f"/jobs/{TRUCK_7}/costs").text for one in both]
    sent = [{"agreed": word, "who": "customer", "seen": field(page, "seen"), "key": f"key-{word}-1"}
            for word, page in zip(("yes", "no"), pages, strict=True)]
    answers = [one.post(f"/jobs/{TRUCK_7}/answer", data=form) for one, form in
               zip(both, sent, strict=True)]
    assert [one.status_code for one in answers] == [303, 409]
    assert "meanwhile" in answers[1].text
    assert both[0].post(f"/jobs/{TRUCK_7}/answer", data=sent[0]).status_code == 303  # sent again
    office = shop.app.state.workshop.opened(TRUCK_7)[1].office
    assert [(one.by, one.agreed) for one in office.answers] == [("Morag", True)]


def test_of_two_answers_in_the_same_moment_one_is_kept(shop: Shop) -> None:
    boss = shop.signed_in("Morag")
    seen = field(boss.get(f"/jobs/{TRUCK_7}/costs").text, "seen")
    with ThreadPoolExecutor(4) as pool:
        statuses = list(pool.map(lambda number: boss.post(f"/jobs/{TRUCK_7}/answer", data={
            "agreed": "yes", "who": "customer", "seen": seen, "key": f"moment-{number}"}
        ).status_code, range(4)))
    assert sorted(statuses) == [303, 409, 409, 409]
