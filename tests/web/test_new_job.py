"""The form of a new job: its circuit from a template, editor, file or earlier job; taking over."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from loomwright.jobs.vin import check_digit, vin_remark
from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import TestClient, client_in, field

CARD = {"vehicle": "Van 2", "complaint": "wipers stand still", "key": "new-job-key"}
US_VIN = "1M8GDM9AXKP042788"  # the example often given for 49 CFR 565.15; from memory


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


def test_a_template_shows_its_values_and_keeps_what_was_typed(client: TestClient) -> None:
    text = client.post("/jobs/form", data={**CARD, "template": "wipers"}).text
    assert field(text, "vehicle") == "Van 2"
    assert 'name="value:fuse"' in text
    assert '<option value="wipers" selected>' in text


def test_a_job_gets_its_circuit_from_a_template(client: TestClient) -> None:
    sent = {**CARD, "template": "wipers", "value:system": "24 V", "value:fuse": "12 A"}
    address = client.post("/jobs", data=sent).headers["location"]
    circuit = client.get(f"{address}/circuit.yaml").text
    assert "rating: 12 A" in circuit
    assert "system: 24 V" in circuit


def test_a_wrong_value_of_a_template_comes_back(client: TestClient) -> None:
    answer = client.post("/jobs", data={**CARD, "template": "wipers", "value:fuse": "12"})
    assert answer.status_code == 400
    assert field(answer.text, "value:fuse") == "12"
    assert field(answer.text, "vehicle") == "Van 2"
    assert client.post("/jobs", data={**CARD, "template": "wiper"}).status_code == 400


def test_a_file_counts_before_the_rest(client: TestClient) -> None:
    circuit = client.get(f"/jobs/{TRUCK_7}/circuit.yaml").text
    address = client.post("/jobs", data={**CARD, "template": "wipers"}, files={
        "circuit_file": ("own.yaml", circuit.encode())}).headers["location"]
    assert client.get(f"{address}/circuit.yaml").text == circuit


def test_the_circuit_of_an_earlier_job_is_its_latest_version(client: TestClient) -> None:
    text = client.get(f"/jobs/{TRUCK_7}/circuit.yaml").text.replace("0.5 m, BN]", "3 m, BN]")
    client.post(f"/jobs/{TRUCK_7}/circuit", data={"circuit_text": text, "key": "version-1"})
    address = client.post("/jobs", data={**CARD, "copy_from": str(TRUCK_7)}).headers["location"]
    assert client.get(f"{address}/circuit.yaml").text == text


def test_a_job_is_taken_over_from_a_file(client: TestClient, tmp_path: Path) -> None:
    whole = client.get(f"/jobs/{TRUCK_4}/job.json").content
    (tmp_path / "other").mkdir()
    with client_in(tmp_path / "other") as other:
        assert 'type="file" name="job_file"' in other.get("/jobs/import").text
        address = other.post("/jobs/import", files={"job_file": ("j.json", whole)})
        assert address.status_code == 303
        moved = other.get(address.headers["location"])
        assert moved.status_code == 200
        assert "Finished" in moved.text
        broken = whole.replace(b"locking", b"looking")
        answer = other.post("/jobs/import", files={"job_file": ("j.json", broken)})
        assert answer.status_code == 400
        assert "not what was exported" in answer.text
        assert other.post("/jobs/import", files={"job_file": ("a", b"\xff")}).status_code == 400


def test_a_vin_is_looked_at_while_typed(client: TestClient) -> None:
    def says(vin: str) -> str:
        return str(client.get("/jobs/vin", params={"vin": vin}).json()["says"])

    assert check_digit(US_VIN) == "X"
    assert says(US_VIN) == says(US_VIN[:9]) == says("") == ""
    assert "check digit" in says(US_VIN.replace("X", "1"))
    assert says("W" + US_VIN[1:].replace("X", "1")) == ""  # not due outside North America
    assert "I, O, Q and signs" in says("WO")
    assert "18 characters" in vin_remark(US_VIN + "1")


def test_the_vin_note_is_on_both_forms(client: TestClient) -> None:
    for address in ("/jobs/new", f"/jobs/{TRUCK_7}/card"):
        text = client.get(address).text
        assert re.search(r'name="vin"[^>]*><span id="vin-note"', text)
        assert "/static/vin.js" in text
