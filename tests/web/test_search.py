"""Helps of the search as a browser without scripts sees them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import TestClient, client_in

READING = {"state": "locking", "quantity": "voltage", "at": "S4.1", "to": "",
           "instrument": "meter"}
BASE = f"/jobs/{TRUCK_7}"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


def test_what_cannot_be_reached_is_shown_and_taken_back(client: TestClient) -> None:
    assert "I can't reach that" in client.get(BASE).text.replace("&#39;", "'")
    answer = client.post(f"{BASE}/unreached", data={**READING, "key": "reach-key"})
    assert answer.status_code == 303
    text = client.get(BASE).text
    assert "Left out: cannot be reached" in text
    assert "Cannot be reached" in client.get(f"{BASE}/history").text
    number = text.split("/unreached/")[1].split("/")[0]
    client.post(f"{BASE}/unreached/{number}/withdraw", data={"key": "again-key"})
    assert "Left out" not in client.get(BASE).text


def test_what_if_shows_the_change_and_saves_nothing(client: TestClient) -> None:
    before = client.get(f"/api{BASE}").json()["last"]
    text = client.get(f"{BASE}/what-if", params={**READING, "value": "0"}).text
    for words in ("What if it showed 0.00 V?", "Nothing of this is saved", "Now", "Then"):
        assert words in text
    assert client.get(f"/api{BASE}").json()["last"] == before


def test_what_if_asks_for_a_value_it_can_read(client: TestClient) -> None:
    assert client.get(f"{BASE}/what-if", params=READING).status_code == 200
    answer = client.get(f"{BASE}/what-if", params={**READING, "value": "warm"})
    assert answer.status_code == 400
    assert 'value="warm"' in answer.text
    assert client.get(f"/jobs/{TRUCK_4}/what-if", params=READING).status_code == 409


def test_the_drawing_of_the_complaint_alone_is_smaller(client: TestClient) -> None:
    whole, cut = (client.get(BASE, params=one).text for one in ({}, {"only": "complaint"}))
    assert cut.count("data-wire") < whole.count("data-wire")
    assert 'value="complaint" checked' in cut
