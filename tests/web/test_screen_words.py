"""What screens say and how they fit: tables on a phone, plain words, the code to scan."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from loomwright.service.words import minutes_words
from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import TestClient, client_in


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


@pytest.mark.parametrize("address", [f"/jobs/{TRUCK_4}/record", f"/jobs/{TRUCK_7}/history",
                                     "/practice/sheet?who=Mhairi"])
def test_a_cell_is_named_as_its_column(client: TestClient, address: str) -> None:
    tables = re.findall(r'<table class="[^"]*stacked">.*?</table>', client.get(address).text, re.S)
    assert tables
    for table in tables:
        heads = set(re.findall(r'<th scope="col">([^<]+)</th>', table))
        named = set(re.findall(r'data-label="([^"]+)"', table))
        assert named
        assert named <= heads


def test_what_is_only_there_or_not_is_said_without_its_yes(client: TestClient) -> None:
    page = client.get(f"/jobs/{TRUCK_7}?state=locking").text
    assert "ignition on, tailgate shut, lock button on" in page
    assert "shut yes" not in page


@pytest.mark.parametrize(("minutes", "words"), [
    (0.0, "0 min"), (0.3, "under 1 min"), (1.0, "1 min"), (1.5, "1.5 min"), (12.4, "12 min")])
def test_minutes_are_said_as_a_person_would(minutes: float, words: str) -> None:
    assert minutes_words(minutes) == words


def test_the_code_to_scan_fills_the_room_it_is_given() -> None:
    from loomwright.web.people_pages import qr_picture

    start = qr_picture("http://192.0.2.7:8000/pair?code=ABCD-EFGH").split(">", 1)[0]
    assert "viewBox=" in start  # so that the style may size it
    assert "height=" not in start


def test_the_history_tells_a_reading_as_one_would(client: TestClient) -> None:
    page = client.get(f"/jobs/{TRUCK_7}/history").text
    assert re.search(r"current at W2 in &#39;\w+&#39;: 1.20 A \(clamp\)", page)
    assert "quantity:" not in page
