"""The page of a circuit's versions: listed, compared by lines, opened, drawn, returned to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from loomwright.service.circuit_versions import change_circuit, compared, versions_of
from loomwright.service.jobs import Workshop
from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import TestClient, client_in, field

WIRE = "[W24, SP3,     E2,      2.5 mm2,  0.5 m, BN]"
LONGER = WIRE.replace("0.5 m", "3 m")
JOB = f"/jobs/{TRUCK_7}"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


def changed(client: TestClient) -> tuple[Workshop, int]:
    """Return the workshop after a wire was measured, and the number of that version."""
    workshop: Workshop = client.app.state.workshop  # type: ignore[attr-defined]
    text = workshop.circuit_text(TRUCK_7)
    return workshop, change_circuit(
        workshop, TRUCK_7, (text.replace(WIRE, LONGER), "<b>measured</b>"), "version-key", "Mairi")


def test_who_when_and_what_changed_by_lines_are_shown(client: TestClient) -> None:
    changed(client)
    page = client.get(f"{JOB}/circuit").text
    for words in ("Version 1", "Version 2", "Mairi", "1 line added, 1 removed", "in use",
                  "&lt;b&gt;measured&lt;/b&gt;", "+ added", "− removed", "lines are the same"):
        assert words in page, words
    assert re.search(rf'class="added">.*?{re.escape(LONGER)}', page, re.DOTALL)
    assert re.search(rf'class="removed">.*?{re.escape(WIRE)}', page, re.DOTALL)
    assert "<b>measured" not in page
    assert "Return to version" not in page  # the newest is open
    assert f'href="{JOB}/circuit"' in client.get(JOB).text
    assert f'href="{JOB}/circuit"' in client.get(f"{JOB}/history").text


def test_an_old_version_is_opened_drawn_and_returned_to_as_a_new_one(client: TestClient) -> None:
    workshop, number = changed(client)
    first = workshop.circuit_text(TRUCK_7, until=number - 1)
    old = client.get(f"{JOB}/circuit?number=0&state=locking").text
    assert "<svg" in old
    assert "Return to version 1" in old
    assert client.get(f"{JOB}/circuit/0.yaml").text == first
    sent = {"key": field(old, "key"), "why": ""}
    for _ in range(2):  # sent twice it counts once
        answer = client.post(f"{JOB}/circuit/0/return", data=sent)
        assert (answer.status_code, answer.headers["location"]) == (303, f"{JOB}/circuit")
    assert workshop.circuit_text(TRUCK_7) == first
    found = versions_of(workshop, TRUCK_7)
    assert [one.why for one in found] == ["", "<b>measured</b>", "Back to version 1"]
    assert found[0].sha256 == found[2].sha256 != found[1].sha256
    assert [one.current for one in found] == [False, False, True]


def test_what_cannot_be_is_refused_with_what_was_typed(client: TestClient) -> None:
    workshop, number = changed(client)
    same = client.post(f"{JOB}/circuit/{number}/return",
                       data={"key": "return-same", "why": "to be sure"})
    assert same.status_code == 400
    assert "The circuit is the same as before." in same.text
    assert client.get(f"{JOB}/circuit?number=77").status_code == 404
    assert client.get(f"{JOB}/circuit?state=nowhere").status_code == 400
    assert client.get(f"{JOB}/circuit/77.yaml").status_code == 404
    assert len(versions_of(workshop, TRUCK_7)) == 2
    only = client.get(f"/jobs/{TRUCK_4}/circuit").text
    assert "as the job began" in only
    assert "Correct the circuit" not in only  # that job is finished


def test_a_comparison_shows_each_change_with_its_lines() -> None:
    before = "\n".join(f"line {number}" for number in range(1, 21))
    after = before.replace("line 10\n", "").replace("line 18", "line eighteen")
    found = list(compared(before, after))
    assert [one.text for one in found if one.mark == "removed"] == ["line 10", "line 18"]
    assert [(one.text, one.new) for one in found if one.mark == "added"] == [("line eighteen", 17)]
    gaps = [one.text for one in found if one.mark == "gap"]
    assert gaps == ["7 lines are the same", "3 lines are the same"]
    assert list(compared(before, before)) == []
    early = compared(before, before.replace("line 4\n", ""))
    assert next(early).text == "1 line is the same"
