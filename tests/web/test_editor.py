"""The circuit editor's pages: without scripts, its questions, the file, and on to a new job."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest

from loomwright.service.roles import Permission
from loomwright.web.editor_pages import router
from loomwright.web.permits import PERMITS
from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import HERE, TestClient, client_in

DEMO = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
OWN = {"origin": HERE}


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_in(tmp_path)


def test_a_template_is_opened_with_its_values(client: TestClient) -> None:
    page = client.get("/editor", params={"template": "wipers", "value:system": "24 V",
                                         "value:fuse": "12 A"}).text
    assert "rating: 12 A" in page
    assert "system: 24 V" in page
    assert 'name="value:fuse" value="12 A"' in page
    wrong = client.get("/editor", params={"template": "wipers", "value:fuse": "12"})
    assert wrong.status_code == 400
    assert "has no unit" in wrong.text
    assert client.get("/editor", params={"template": "wiper"}).status_code == 400


def test_without_scripts_text_is_checked_drawn_and_given_back(client: TestClient) -> None:
    assert client.get("/editor").status_code == 200
    sent = client.post("/editor", headers=OWN,
                       data={"circuit_text": DEMO.replace("K3.86", "K3.96")})
    assert "<svg" in sent.text
    assert re.search(r"Line \d+: K3 has no pin &#39;96&#39;", sent.text)
    assert "K3.96" in sent.text
    uploaded = client.post("/editor", headers=OWN,
                           files={"circuit_file": ("a.yaml", DEMO.encode())})
    assert "Tailgate lock, rear-loader" in uploaded.text


def test_the_file_is_downloaded_as_it_stands(client: TestClient) -> None:
    found = client.post("/editor/file", headers=OWN, data={"circuit_text": "title: A/b <c>\nx: ["})
    assert found.text == "title: A/b <c>\nx: ["
    assert found.headers["content-disposition"] == 'attachment; filename="a_b_c.yaml"'


def test_questions_while_typing_are_answered(client: TestClient) -> None:
    asked = {"base": DEMO, "tables": None}
    found = client.post("/api/editor/check", headers=OWN, json=asked).json()
    assert found["sheet"]["tables"]["wires"][0] == [
        "W1", "BAT.+", "F1.1", "16 mm2", "0.6 m", "RD"]
    again = client.post("/api/editor/check", headers=OWN, json={
        "base": DEMO, **found["sheet"], "state": "open"}).json()
    assert again["text"] == DEMO
    assert again["state"] == "open"
    assert again["findings"] == []
    pasted = client.post("/api/editor/paste", headers=OWN, json={"text": "id;from;to\nW1;A.1;B\n"})
    assert pasted.json() == {"rows": [["W1", "A.1", "B", "", "", ""]]}


def test_what_is_no_draft_is_refused(client: TestClient) -> None:
    for body in ({}, {"base": "", "tables": {"users": []}}, {"base": 1}):
        assert client.post("/api/editor/check", headers=OWN, json=body).status_code == 400
    foreign = client.post("/api/editor/check", headers={"origin": "http://other.invalid"},
                          json={"base": ""})
    assert foreign.status_code == 403


def test_every_route_of_the_editor_has_its_decision() -> None:
    decided = {(method, path): PERMITS.get((method, path)) for one in router.routes
               for path in [one.path] for method in one.methods}
    assert decided.pop(("POST", "/jobs/{job_id}/circuit")) == Permission.OPEN
    assert set(decided.values()) == {Permission.LOOK}  # the others store nothing
    assert PERMITS["POST", "/jobs/form"] == Permission.OPEN


def test_a_circuit_goes_on_to_a_new_job(client: TestClient) -> None:
    form = client.post("/jobs/form", headers=OWN, data={"circuit_text": "title: <b>\n"})
    assert "title: &lt;b&gt;" in form.text
    copied = client.get("/editor", params={"job": 1})
    assert "Tailgate lock, rear-loader" in copied.text
    assert client.get("/editor", params={"job": 99}).status_code == 404


def test_a_corrected_circuit_is_kept_for_its_job(client: TestClient) -> None:
    job = f"/jobs/{TRUCK_7}"
    text = DEMO.replace("2.5 mm2,  0.5 m, BN]", "2.5 mm2,  3 m, BN]")
    sent = {"circuit_text": text, "why": "measured again", "key": "version-1"}
    assert "Save for this job" in client.get("/editor", params={"job": TRUCK_7}).text
    assert client.post(f"{job}/circuit", headers=OWN, data=sent).headers["location"] == job
    assert client.get(f"{job}/circuit.yaml").text == text
    assert "measured again" in client.get(f"{job}/history").text
    again = client.post(f"{job}/circuit", headers=OWN, data={**sent, "key": "version-2"})
    assert again.status_code == 400
    assert 'value="measured again"' in again.text
