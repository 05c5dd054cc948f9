"""The VIN on a new job and on its page: form refused, check digit only a warning."""

from __future__ import annotations

from pathlib import Path

from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import HERE, client_in, field


def test_the_vin_is_shown_with_its_warning_and_another_form_comes_back(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    form = {"vehicle": "Van 2", "complaint": "dark", "copy_from": str(TRUCK_7),
            "key": field(client.get("/jobs/new").text, "key"), "vin": "1M8GDM9A"}
    again = client.post("/jobs", data=form, headers={"origin": HERE})
    assert again.status_code == 400
    assert "8 characters; it must have 17" in again.text
    assert field(again.text, "vin") == "1M8GDM9A"
    form["vin"] = "1m8gdm9axkp042789"
    made = client.post("/jobs", data=form, headers={"origin": HERE})
    assert made.status_code == 303, made.text
    page = client.get(made.headers["location"]).text
    assert "VIN 1M8GDM9AXKP042789" in page
    assert "check digit of this VIN" in page
