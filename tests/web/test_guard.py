"""What is refused at the gate, with which status, and in which shape."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import HERE, TestClient, client_in
from tests.web.test_pages import VOLTS

READINGS = f"/jobs/{TRUCK_7}/readings"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


@pytest.mark.parametrize("headers", [
    {"origin": "http://evil.example"}, {"origin": "null"}, {"origin": "http://127.0.0.1:9999"},
    {"origin": f"{HERE}.evil.example"}, {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
])
@pytest.mark.parametrize("address", [READINGS, f"/api{READINGS}", "/jobs", "/who"])
def test_a_form_from_elsewhere_is_refused(
    client: TestClient, address: str, headers: dict[str, str]
) -> None:
    answer = client.post(address, data=VOLTS, headers=headers)
    assert answer.status_code == 403
    assert "content-security-policy" in answer.headers


def test_our_own_form_is_taken(client: TestClient) -> None:
    assert client.post(READINGS, data=VOLTS, headers={"origin": HERE}).status_code == 303


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "10.0.0.7", "[::1"])
def test_a_foreign_host_name_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["localhost:8000", "127.0.0.1", "[::1]:8000"])
def test_loopback_names_are_known(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


def test_on_a_workshop_network_addresses_are_known_but_foreign_names_are_not(
    tmp_path: Path,
) -> None:
    with client_in(tmp_path, any_address=True) as shared:
        assert shared.get("/", headers={"host": "10.0.0.7:8000"}).status_code == 200
        assert shared.get("/", headers={"host": "evil.example"}).status_code == 400


def test_a_body_over_the_limit_is_refused(client: TestClient) -> None:
    big = {**VOLTS, "value": "x" * 2_100_000}
    assert client.post(READINGS, data=big).status_code == 413

    def drops() -> Iterator[bytes]:  # no length is announced
        for _ in range(300):
            yield b"value=" + b"x" * 10_000

    streamed = client.post(f"/api{READINGS}", content=drops(),
                           headers={"content-type": "application/x-www-form-urlencoded"})
    assert streamed.status_code == 413
    assert streamed.json()["error"]["code"] == "too-large"


@pytest.mark.parametrize(("address", "status", "code"), [
    ("/api/jobs/99", 404, "not-found"),
    ("/api/nothing", 404, "http"),
    ("/api/jobs/none", 400, "usage"),
    (f"/api/jobs/{TRUCK_7}?state=lockin", 400, "unknown-name"),
    (f"/api/jobs/{TRUCK_7}/demo?state=locking&quantity=voltage&at=Q1", 400, "unknown-name"),
])
def test_errors_have_one_shape_for_programs(
    client: TestClient, address: str, status: int, code: str
) -> None:
    answer = client.get(address)
    assert answer.status_code == status
    error = answer.json()["error"]
    assert set(error) == {"code", "message", "next_step", "problems"}
    assert error["code"] == code
    assert error["message"]


def test_a_finished_job_refuses_with_conflict(client: TestClient) -> None:
    answer = client.post(f"/api/jobs/{TRUCK_4}/readings", data=VOLTS)
    assert answer.status_code == 409
    assert answer.json()["error"]["code"] == "conflict"
    page = client.post(f"/jobs/{TRUCK_4}/readings", data=VOLTS)
    assert page.status_code == 409
    assert "finished" in page.text


def test_an_error_page_for_people_has_words_and_no_trace(client: TestClient) -> None:
    page = client.get("/jobs/99")
    assert page.status_code == 404
    assert "There is no job 99." in page.text
    assert client.get("/nothing").status_code == 404
    assert client.put("/").status_code == 405


def test_our_own_mistake_is_told_without_its_insides(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_self: object) -> None:
        raise RuntimeError("secret inside")

    monkeypatch.setattr("loomwright.service.jobs.Workshop.job_lines", broken)
    page = client.get("/")
    assert page.status_code == 500
    assert "secret" not in page.text
    assert client.get("/api/jobs").json()["error"]["code"] == "bug"


def test_a_reading_by_program_counts_once_per_key(client: TestClient) -> None:
    first = client.post(f"/api{READINGS}", data=VOLTS)
    again = client.post(f"/api{READINGS}", data=VOLTS)
    assert first.status_code == 201
    assert again.json() == first.json()
    other = client.post(f"/api{READINGS}", data={**VOLTS, "value": "3 V"})
    assert other.status_code == 409
    keyless = client.post(f"/api{READINGS}", data={**VOLTS, "key": ""})
    assert keyless.status_code == 400


def test_a_form_from_an_old_page_is_a_conflict(client: TestClient) -> None:
    client.post(READINGS, data=VOLTS)
    old = {"key": "repair-key", "repair": "mend W20", "found": "", "seen": "2"}
    answer = client.post(f"/jobs/{TRUCK_7}/repair", data=old)
    assert answer.status_code == 409
    assert "Somebody added to this job" in answer.text


@pytest.mark.parametrize("address", ["/jobs/", "/api/jobs/"])
def test_a_job_number_no_store_can_hold_is_not_there(client: TestClient, address: str) -> None:
    assert client.get(f"{address}{10**25}").status_code == 404


@pytest.mark.parametrize("number", [str(10**25), "\u00b2"])  # the second is a digit, no number
def test_a_job_to_copy_that_is_no_job_is_refused(client: TestClient, number: str) -> None:
    form = {"vehicle": "van", "complaint": "dead", "copy_from": number, "key": "copy-nothing"}
    assert 400 <= client.post("/jobs", data=form).status_code < 500


@pytest.mark.parametrize("mode", ["no-cors", "cors", "same-origin", "websocket"])
@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_site_s_page_has_this_machine_do_no_work(
    client: TestClient, site: str, mode: str
) -> None:
    marks = {"sec-fetch-site": site, "sec-fetch-mode": mode, "sec-fetch-dest": "image"}
    for address in (f"/jobs/{TRUCK_7}/record.pdf", f"/jobs/{TRUCK_7}/events", "/api/v1/jobs"):
        assert client.get(address, headers=marks).status_code == 403, address


def test_a_link_on_another_site_s_page_opens_ours(client: TestClient) -> None:
    marks = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert client.get("/", headers=marks).status_code == 200
