"""What a fault blew, and whose counts the priors follow, as a program and as a person read it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from markupsafe import escape

from tests.service.depot_folder import TRUCK_7
from tests.web.api_caller import Caller
from tests.web.depot_client import client_in

COUNTS = """{"format": "loomwright counts", "version": 1, "counts": [{"part_kind": "switch",
"fault_kind": "stuck-open", "place": "tailgate", "vehicle_class": "24 V", "count": 30}]}"""
PUMP = """
loomwright: 1
title: Pump
system: 12 V
parts:
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 10 A}
  S1: {kind: switch, closed when: pump}
  M1: {kind: motor, current: 6 A}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, F1.1, 6 mm2, 0.5 m, RD]
  - [W2, F1.2, S1.1, 2.5 mm2, 1 m, RD]
  - [W3, S1.2, M1.1, 2.5 mm2, 1 m, BK]
  - [W4, M1.2, E1, 2.5 mm2, 0.5 m, BN]
states:
  at rest: {}
  pumping: {pump: on}
should:
  pumping: {M1: on}
"""
# The fuse has blown for good, and the wire behind the switch is down to earth.
READINGS = (("at rest", "voltage", "F1.1", "", "12.6 V"), ("at rest", "voltage", "F1.2", "", "0 V"),
            ("at rest", "resistance", "M1.1", "E1", "0.01 ohm"))


@pytest.fixture
def api(tmp_path: Path) -> Iterator[Caller]:
    with client_in(tmp_path) as client:
        yield Caller(client)


def test_a_program_reads_cause_and_consequence_as_the_page_says_them(api: Caller) -> None:
    job = api("POST", "/jobs", json={"vehicle": "Van 3", "complaint": "Pump is dead",
                                     "circuit": PUMP, "key": "pump-van-3"}).json()["id"]
    assert api("GET", f"/jobs/{job}/suspects").json()["led_to"] == []  # nothing leads yet
    for number, (state, quantity, at, to, value) in enumerate(READINGS):
        api("POST", f"/jobs/{job}/readings", json={
            "state": state, "quantity": quantity, "at": at, "to": to, "value": value,
            "key": f"pump-reading-{number}"})
    found = api("GET", f"/jobs/{job}/suspects").json()
    first = found["suspects"][0]
    assert first["id"] == "short-to-earth:W3"
    led = {one["suspect"]: one for one in found["led_to"]}[first["id"]]
    (blown,) = led["consequences"]
    assert (blown["element"], blown["act"], blown["size"]) == ("F1", "blew", "10 A")
    assert blown["state"] == "pumping"
    assert blown["least_s"] < blown["most_s"] < 1  # far beyond ten times the rating
    assert str(escape(led["text"])) in api.client.get(f"/jobs/{job}").text


def test_page_and_program_say_whose_counts_the_priors_follow(tmp_path: Path) -> None:
    with client_in(tmp_path) as client:
        assert Caller(client)("GET", f"/jobs/{TRUCK_7}/suspects").json()["learned"] == ""
        assert "Priors follow" not in client.get(f"/jobs/{TRUCK_7}").text
    (tmp_path / "learned.json").write_text(COUNTS, encoding="utf-8")
    with client_in(tmp_path) as client:
        words = Caller(client)("GET", f"/jobs/{TRUCK_7}/suspects").json()["learned"]
        page = client.get(f"/jobs/{TRUCK_7}").text
    assert words.startswith("Priors follow 30 closed jobs")
    suspects = page[page.index('id="suspects-title"'):page.index('id="drawing-title"')]
    assert str(escape(words)) in suspects
