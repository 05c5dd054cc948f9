"""Values that no page of ours sends are refused in words; none is a mistake of the program."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import TestClient, client_in

LONG = "9" * 5000  # more digits than int() takes
CIRCUIT = """loomwright: 1
title: {title}
system: 12 V
parts: {{BAT: {{kind: battery}}, H1: {{kind: lamp, power: 21 W}}}}
wires:
  - [W1, BAT.+, H1.1, 1 mm2, 1 m]
  - [W2, H1.2, BAT.-, 1 mm2, 1 m]
"""


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


@pytest.mark.parametrize("title", ["2026-13-40", "0x_", "2026-11-25 99:00:00", "No", "1e3"])
def test_a_title_is_text_whatever_it_looks_like(client: TestClient, title: str) -> None:
    made = client.post("/api/v1/jobs", json={
        "vehicle": "Tug", "complaint": "dark", "circuit": CIRCUIT.format(title=title),
        "key": "odd-title-1"})
    assert made.status_code == 201, made.text
    listed = {one["id"]: one["title"] for one in client.get("/api/v1/jobs").json()}
    assert listed[made.json()["id"]] == made.json()["title"] == title


@pytest.mark.parametrize("number", ["\u00b2", "\u0661", LONG])
def test_a_number_of_a_form_that_is_none_is_refused(client: TestClient, number: str) -> None:
    forms = {
        f"/jobs/{TRUCK_7}/repair": {"repair": "mend W7", "seen": number, "key": "odd-number"},
        "/jobs": {"vehicle": "Tug", "complaint": "dark", "copy_from": number, "key": "odd-number"},
        "/editor": {"job": number, "circuit_text": "x"},
        "/sign-in": {"person": number, "pin": "123456"},
        "/practice": {"who": "Rory", "circuit": "horn", "level": number, "key": "odd-number"}}
    got = {path: client.post(path, data=fields).status_code for path, fields in forms.items()}
    assert all(status in {200, 303, 400, 401, 404, 409} for status in got.values()), got
    assert got["/jobs"] == got["/practice"] == 400
    assert got["/sign-in"] == 401


@pytest.mark.parametrize(("path", "fields"), [
    ("jobs", '"vehicle": "\\ud800", "complaint": "dark", "copy_from": 1, "key": "half-of-one"'),
    (f"jobs/{TRUCK_7}/parts", '"what": "\\ud800", "key": "half-of-one"'),
    ("templates/horn", '"values": {"fuse": "\\ud800"}'),
    ("practice", '"circuit": "horn", "level": 1, "who": "\\ud800", "key": "half-of-one"')])
def test_half_a_character_is_refused(client: TestClient, path: str, fields: str) -> None:
    got = client.post(f"/api/v1/{path}", content="{" + fields + "}",
                      headers={"content-type": "application/json"})
    assert got.status_code == 400
    assert "half a character" in got.json()["error"]["message"]


def test_a_template_has_no_value_called_name(client: TestClient) -> None:
    got = client.post("/api/v1/templates/horn", json={"values": {"name": "1 A"}})
    assert (got.status_code, got.json()["error"]["code"]) == (400, "unknown-name")
