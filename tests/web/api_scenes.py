"""What a program does with a job over /api/v1: opens it, reads, looks, repairs, finishes."""

from __future__ import annotations

from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.api_caller import DRIVER, Caller, refused

__all__ = ["looked_at", "opened_job", "read_and_undone", "repaired_and_finished"]


def opened_job(api: Caller) -> str:
    before = api("GET", "/jobs").json()
    assert TRUCK_7 in {one["id"] for one in before}
    assert len(api("GET", "/jobs?most=1").json()) == 1
    refused(api("GET", "/jobs?most=0"), 400, "usage")
    circuit = api("GET", f"/jobs/{TRUCK_7}/circuit").json()
    refused(api("GET", "/jobs/99/circuit"), 404, "not-found")
    form = {"vehicle": "Van 3", "complaint": "Lock stays open", "circuit": circuit["text"],
            "key": "program-new-van", "plate": "SP 03"}
    made = api("POST", "/jobs", json=form)
    assert made.status_code == 201
    assert api("POST", "/jobs", json=form).json()["id"] == made.json()["id"]  # the same key
    assert api("GET", f"/jobs/{made.json()['id']}").json()["plate"] == "SP 03"
    refused(api("GET", "/jobs/99"), 404, "not-found")
    refused(api("POST", "/jobs", json={**form, "key": "program-k2", "vehicle": ""}), 400, "usage")
    broken = refused(api("POST", "/jobs", json={
        **form, "key": "program-k3", "circuit": circuit["text"].replace("S4.1", "S99.1")}),
        400, "file-problems")
    assert broken["problems"][0]["line"] > 0
    wrong = refused(api("POST", "/jobs", json={**form, "key": "program-k4", "colour": "red"}),
                    400, "usage")
    assert "body.colour" in wrong["message"]
    return str(circuit["text"])


def read_and_undone(api: Caller) -> None:
    address = f"/jobs/{TRUCK_7}/readings"
    first = api("POST", address, json={**DRIVER, "key": "program-a"})
    again = api("POST", address, json={**DRIVER, "key": "program-a"})
    assert first.status_code == 201
    assert again.json() == first.json()
    refused(api("POST", address, json={**DRIVER, "key": "program-a", "value": "3 V"}),
            409, "conflict")
    refused(api("POST", address, json={**DRIVER, "key": "program-b", "value": "3 A"}),
            400, "quantity")
    refused(api("POST", address, json={**DRIVER, "key": "program-c", "at": "S44.1"}),
            400, "unknown-name")
    refused(api("POST", address, json=DRIVER), 400, "usage")
    refused(api("POST", address, content=b"{not json", headers={
        "content-type": "application/json"}), 400, "usage")
    refused(api("POST", f"/jobs/{TRUCK_4}/readings", json={**DRIVER, "key": "program-d"}),
            409, "conflict")
    number = first.json()["number"]
    assert number in {one["number"] for one in api("GET", address).json()}
    refused(api("GET", "/jobs/99/readings"), 404, "not-found")
    for _ in range(2):
        assert api("DELETE", f"{address}/{number}").json() == {"job": TRUCK_7, "number": number}
    assert number not in {one["number"] for one in api("GET", address).json()}
    refused(api("DELETE", f"{address}/999"), 400, "usage")


def looked_at(api: Caller, text: str) -> None:
    found = api("GET", f"/jobs/{TRUCK_7}/suspects").json()
    total = sum(one["probability"] for one in found["suspects"])
    # The unlikeliest suspects are not listed; 1e-9 for the order of a sum of floats.
    assert 0.9 < total + found["no_fault"] + found["unmodelled"] <= 1 + 1e-9
    assert found["next_checks"][0]["predicts"]
    refused(api("GET", "/jobs/99/suspects"), 404, "not-found")
    healthy = api("GET", f"/jobs/{TRUCK_7}/expected?state=locking").json()
    faulty = api("GET", f"/jobs/{TRUCK_7}/expected?state=locking&fault=open:W9").json()
    assert healthy["points"] != faulty["points"]
    assert "S4.1" in healthy["points"]
    assert "S4.1" in text
    refused(api("GET", f"/jobs/{TRUCK_7}/expected?state=lockin"), 400, "unknown-name")
    refused(api("GET", f"/jobs/{TRUCK_7}/expected?state=locking&fault=open:W99"), 400,
            "unknown-name")
    refused(api("GET", f"/jobs/{TRUCK_7}/expected"), 400, "usage")


def repaired_and_finished(api: Caller) -> None:
    address = f"/jobs/{TRUCK_7}"
    refused(api("GET", f"{address}/proof"), 409, "conflict")
    refused(api("GET", "/jobs/99/repairs"), 404, "not-found")
    repair = {"repair": "mend W20", "key": "program-r1", "stage": "begun"}
    assert repair["repair"] in {one["repair"] for one in api(
        "GET", f"{address}/repairs").json()["choices"]}
    assert api("POST", f"{address}/repairs", json=repair).json()["begun"] == "mend W20"
    unknown = {**repair, "key": "program-r2", "repair": "mend W99"}
    refused(api("POST", f"{address}/repairs", json=unknown), 400, "unknown-name")
    done = {"repair": "mend W20", "key": "program-r3", "found": "Chafed through"}
    refused(api("POST", f"{address}/repairs", json={**done, "seen": 1}), 409, "conflict")
    assert api("POST", f"{address}/repairs", json=done).json()["state"] == "proving"
    assert api("GET", f"{address}/repairs").json()["done"][0]["found"] == "Chafed through"
    proof = api("GET", f"{address}/proof").json()
    assert not proof["holds"]
    assert {one["status"] for one in proof["checks"]} == {"still to read"}
    assert api("GET", f"{address}/record.pdf").content.startswith(b"%PDF-")
    refused(api("GET", "/jobs/99/record.pdf"), 404, "not-found")
    refused(api("POST", f"{address}/finish", json={"key": "program-f1"}), 400, "usage")
    end = api("POST", f"{address}/finish", json={
        "key": "program-f2", "reason": "Customer fetched it"})
    assert end.json()["finished_at"]
