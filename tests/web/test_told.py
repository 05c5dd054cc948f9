"""The form for what is told beside readings: codes, swapped parts, history, the word to go on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from loomwright.service.roles import Permission
from loomwright.web.permits import PERMITS
from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import TestClient, client_in

JOB = f"/jobs/{TRUCK_7}"
CODE = {"key": "told-key-1", "sort": "code", "text": "U1234 lock", "about": "F13",
        "result": "stored"}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


def suspects(client: TestClient) -> list[str]:
    return re.findall(r'class="share">([^<]*)<', client.get(JOB).text)


def test_a_code_is_kept_weighed_and_taken_back(client: TestClient) -> None:
    before = suspects(client)
    assert client.post(f"{JOB}/told", data=CODE).status_code == 303
    client.post(f"{JOB}/told", data=CODE)  # the button pressed twice
    page = client.get(JOB).text
    assert page.count("<b>The code &#39;U1234 lock&#39; is stored.</b>") == 1
    assert suspects(client) != before
    number = re.search(r"/told/(\d+)/withdraw", page)
    assert number is not None
    taken = client.post(f"{JOB}/told/{number[1]}/withdraw", data={"key": "told-back"})
    assert taken.status_code == 303
    assert suspects(client) == before
    assert "U1234 lock" in client.get(f"{JOB}/history").text  # nothing is lost


@pytest.mark.parametrize(("fields", "said"), [
    ({"sort": "swap", "about": "F12", "result": "no change", "text": ""}, 303),
    ({"sort": "history", "text": "new tow bar", "about": "", "result": "added"}, 303),
    ({"sort": "swap", "about": "F99", "result": "no change", "text": ""}, 400),
    ({"sort": "agree"}, 400), ({"sort": ""}, 400),
    ({"sort": "code", "text": "", "about": "ECU.lock"}, 400),
])
def test_what_can_be_told(client: TestClient, fields: dict[str, str], said: int) -> None:
    answer = client.post(f"{JOB}/told", data={"key": "told-key-2", **fields})
    assert answer.status_code == said


def test_what_cannot_be_kept_comes_back_as_typed_and_escaped(client: TestClient) -> None:
    nasty = "<script>alert('x')</script>"
    answer = client.post(f"{JOB}/told", data={**CODE, "text": nasty, "about": "Q99"})
    assert answer.status_code == 400
    assert 'value="Q99"' in answer.text
    assert "<script>alert" not in answer.text
    assert 'role="alert"' in answer.text
    client.post(f"{JOB}/told", data={**CODE, "text": nasty})
    assert "<script>alert" not in client.get(JOB).text


def test_the_word_to_go_on_is_asked_for_after_a_repair_in_vain(client: TestClient) -> None:
    assert f"{JOB}/go-on" not in client.get(JOB).text
    client.post(f"{JOB}/repair", data={"key": "repair-key", "repair": "mend W20", "found": ""})
    client.post(f"{JOB}/reopen", data={"key": "reopen-key"})
    assert f'action="{JOB}/go-on"' in client.get(JOB).text
    assert client.post(f"{JOB}/go-on", data={"key": "go-on-key"}).status_code == 303
    assert "Told" in client.get(f"{JOB}/history").text


def test_a_finished_job_is_told_nothing(client: TestClient) -> None:
    answer = client.post(f"/jobs/{TRUCK_4}/told", data=CODE)
    assert answer.status_code == 409


def test_an_apprentice_may_tell_but_not_let_go_on() -> None:
    assert PERMITS["POST", "/jobs/{job_id}/told"] == Permission.MEASURE
    assert PERMITS["POST", "/jobs/{job_id}/go-on"] == Permission.REPAIR
