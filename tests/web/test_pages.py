"""Pages as a browser without scripts sees them: forms, redirects, escaping, the whole job."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import TestClient, client_in, field

VOLTS = {"state": "locking", "quantity": "voltage", "at": "S4.1", "to": "", "value": "25.1",
         "unit": "V", "instrument": "meter", "key": "volts-key"}
NASTY = "<script>alert('x')</script>\"&'"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


@pytest.mark.parametrize("address", [
    "/", "/jobs/new", "/who", f"/jobs/{TRUCK_7}", f"/jobs/{TRUCK_4}", f"/jobs/{TRUCK_4}/record",
    f"/jobs/{TRUCK_7}/why?state=shut&output=ECU.lock",
    f"/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=X1.2b", "/static/drawing.css",
    "/static/app.css", "/static/bench.js", f"/jobs/{TRUCK_7}/circuit.yaml",
])
def test_every_page_opens_and_asks_nothing_of_the_outside(
    client: TestClient, address: str
) -> None:
    answer = client.get(address)
    assert answer.status_code == 200
    assert "https://" not in answer.text
    assert "http://" not in answer.text.replace("http://www.w3.org/2000/svg", "")
    assert "style=" not in answer.text.replace("font-style=", "")
    assert "script-src 'self'" in answer.headers["content-security-policy"]
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_job_page_shows_what_to_do_and_what_is_suspected(client: TestClient) -> None:
    text = client.get(f"/jobs/{TRUCK_7}").text
    for words in ("Tailgate lock stays open", "Next check", "Suspects", "What it would show",
                  "Raised tailgate", "finding the fault"):
        assert words in text
    assert text.count('data-point="') > 40  # the drawing has the circuit's points


def test_suspects_after_a_proof_are_those_before_the_repair(client: TestClient) -> None:
    assert ">Suspects before the repair</h2>" in client.get(f"/jobs/{TRUCK_4}").text
    assert ">Suspects</h2>" in client.get(f"/jobs/{TRUCK_7}").text


def test_the_state_is_told_once_with_a_check(client: TestClient) -> None:
    how = re.search(r'<p class="how">(.*?)</p>', client.get(
        f"/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=Y1.1").text)
    assert how is not None
    assert how[1].count("locking") == 1, how[1]
    assert how[1].endswith("Meter across Y1.1 (Lock valve) and BAT.-.")


def test_a_reading_is_posted_and_redirected(client: TestClient) -> None:
    answer = client.post(f"/jobs/{TRUCK_7}/readings", data=VOLTS)
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/jobs/{TRUCK_7}"
    client.post(f"/jobs/{TRUCK_7}/readings", data=VOLTS)  # the button pressed twice
    text = client.get(f"/jobs/{TRUCK_7}").text
    assert text.count("Volts at S4.1 (Tailgate shut) <small>(locking)</small>") == 1


def test_a_wrong_value_comes_back_with_what_was_typed(client: TestClient) -> None:
    answer = client.post(f"/jobs/{TRUCK_7}/readings", data={**VOLTS, "value": "twelve"})
    assert answer.status_code == 400
    assert 'value="twelve"' in answer.text
    assert "role=\"alert\"" in answer.text


def test_a_reading_is_taken_back(client: TestClient) -> None:
    client.post(f"/jobs/{TRUCK_7}/readings", data=VOLTS)
    client.post(f"/jobs/{TRUCK_7}/readings/3/withdraw", data={"key": "withdraw-key"})
    assert "1 taken back; kept in the history." in client.get(f"/jobs/{TRUCK_7}").text
    missing = client.post(f"/jobs/{TRUCK_7}/readings/99/withdraw", data={"key": "withdraw-no"})
    assert missing.status_code == 400


def test_a_reading_carries_the_name_of_who_took_it(client: TestClient) -> None:
    client.post("/who", data={"name": "Eilidh Ó"})
    client.post(f"/jobs/{TRUCK_7}/readings", data=VOLTS)
    assert "Eilidh Ó" in client.get(f"/jobs/{TRUCK_7}").text


def test_the_demo_vehicle_fills_the_form(client: TestClient) -> None:
    answer = client.get(f"/jobs/{TRUCK_7}/demo", params=VOLTS)
    assert answer.status_code == 303
    filled = client.get(answer.headers["location"]).text
    assert field(filled, "value").endswith(" V")


def test_everything_typed_is_escaped(client: TestClient) -> None:
    job = {"key": "new-job-key", "vehicle": NASTY, "plate": NASTY, "customer": NASTY,
           "system": NASTY, "complaint": NASTY, "when": NASTY, "copy_from": str(TRUCK_7)}
    made = client.post("/jobs", data=job)
    assert made.status_code == 303
    address = made.headers["location"]
    client.post("/who", data={"name": NASTY})
    repair = {"key": "repair-key", "repair": "mend W20", "found": NASTY}
    assert client.post(f"{address}/repair", data=repair).status_code == 303
    for page in ("/", address, f"{address}/record", "/who"):
        text = client.get(page).text
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert" in text


def test_a_circuit_with_a_title_of_markup_is_escaped(client: TestClient) -> None:
    circuit = client.get(f"/jobs/{TRUCK_7}/circuit.yaml").text
    text = circuit.replace("title: Tailgate lock, rear-loader refuse truck",
                           "title: \"<img src=x onerror=alert(1)>\"")
    text = text.replace("label: Hinge plug", "label: <b>plug</b>")
    made = client.post("/jobs", data={"key": "new-job-key", "vehicle": "v", "complaint": "c",
                                      "circuit_text": text})
    page = client.get(made.headers["location"]).text
    assert "<img src=x" not in page
    assert "<b>plug</b>" not in page


def test_problems_of_a_circuit_come_with_line_and_column(client: TestClient) -> None:
    bad = client.get(f"/jobs/{TRUCK_7}/circuit.yaml").text.replace("kind: fuse", "kind: fuze", 1)
    answer = client.post("/jobs", data={"key": "new-job-key", "vehicle": "Van", "complaint": "c",
                                        "circuit_text": bad})
    assert answer.status_code == 400
    assert "Line 1" in answer.text
    assert "fuze" in answer.text
    assert 'value="Van"' in answer.text


def test_a_file_counts_before_what_was_pasted(client: TestClient) -> None:
    circuit = client.get(f"/jobs/{TRUCK_7}/circuit.yaml").content
    data = {"key": "new-job-key", "vehicle": "v", "complaint": "c", "circuit_text": "nonsense"}
    made = client.post("/jobs", data=data, files={"circuit_file": ("c.yaml", circuit)})
    assert made.status_code == 303
    binary = client.post("/jobs", data={**data, "key": "new-job-key-2"},
                         files={"circuit_file": ("c.yaml", b"\xff\xfe\x00\x01")})
    assert binary.status_code == 400


def test_the_record_prints_and_is_a_pdf(client: TestClient) -> None:
    text = client.get(f"/jobs/{TRUCK_4}/record").text
    for words in ("Complaint", "Cause", "Earth point E2", "Correction", "Clean and refit earth E2",
                  "Proof", "Before", "After", "Caution"):
        assert words in text
    assert "How sure before the repair: over 99 %." in text
    assert "Reading before the repair</th>" in text
    answer = client.get(f"/jobs/{TRUCK_4}/record.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
