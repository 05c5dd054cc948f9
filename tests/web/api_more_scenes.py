"""What a program does over /api/v1 with circuits, with the search's helps and with practice."""

from __future__ import annotations

from tests.service.depot_folder import TRUCK_7
from tests.web.api_caller import DRIVER, Caller, refused

__all__ = ["circuit_corrected", "helped", "practised", "templates_filled"]

JOB = f"/jobs/{TRUCK_7}"
WIRE = "[W24, SP3,     E2,      2.5 mm2,  0.5 m, BN]"


def helped(api: Caller) -> None:
    spot = {name: DRIVER[name] for name in ("state", "quantity", "at")}
    number = api("POST", f"{JOB}/left-out", json={**spot, "key": "program-reach"}).json()["number"]
    assert [one["number"] for one in api("GET", f"{JOB}/left-out").json()] == [number]
    for _ in range(2):
        assert api("DELETE", f"{JOB}/left-out/{number}").json()["number"] == number
    assert api("GET", f"{JOB}/left-out").json() == []
    refused(api("DELETE", f"{JOB}/left-out/999"), 400, "usage")
    refused(api("POST", f"{JOB}/left-out", json={**spot, "at": "S44.1", "key": "program-reach-2"}),
            400, "unknown-name")
    refused(api("GET", "/jobs/99/left-out"), 404, "not-found")
    code = {"sort": "code", "text": "Lock output open", "about": "ECU.lock", "key": "program-code"}
    told = api("POST", f"{JOB}/told", json=code).json()["number"]
    assert api("GET", f"{JOB}/told").json()[0]["about"] == ["ECU.lock"]
    for _ in range(2):
        assert api("DELETE", f"{JOB}/told/{told}").json()["number"] == told
    assert api("GET", f"{JOB}/told").json() == []
    refused(api("DELETE", f"{JOB}/told/999"), 400, "usage")
    refused(api("POST", f"{JOB}/told", json={**code, "sort": "agree", "key": "program-code-2"}),
            400, "usage")
    refused(api("GET", "/jobs/99/told"), 404, "not-found")
    imagined(api)


def imagined(api: Caller) -> None:
    before = api("GET", f"{JOB}/readings").json()
    found = api("POST", f"{JOB}/what-if", json={**DRIVER, "value": "0 V"}).json()
    assert {one["mark"] for one in found["changes"]} & {"up", "down"}
    refused(api("POST", f"{JOB}/what-if", json={**DRIVER, "value": "0 A"}), 400, "quantity")
    spot = {name: DRIVER[name] for name in ("state", "quantity", "at")}
    assert api("POST", f"{JOB}/demo", json=spot).json()["value"].endswith("V")
    refused(api("POST", f"{JOB}/demo", json={**spot, "state": "lockin"}), 400, "unknown-name")
    assert api("GET", f"{JOB}/readings").json() == before  # neither of both was kept
    assert api("POST", f"{JOB}/go-on", json={"key": "program-go-on"}).json()["number"]
    refused(api("POST", f"{JOB}/go-on", json={"key": "short"}), 400, "usage")
    why = api("GET", f"{JOB}/why?state=locking&output=ECU.lock").json()
    assert why["summary"]
    refused(api("GET", f"{JOB}/why?state=locking&output=ECU.lok"), 400, "unknown-name")


def circuit_corrected(api: Caller) -> None:
    first = api("GET", f"{JOB}/circuit").json()["text"]
    assert WIRE in first
    longer = first.replace(WIRE, WIRE.replace("0.5 m", "3 m"))
    sent = {"text": longer, "why": "measured", "key": "program-version"}
    number = api("POST", f"{JOB}/circuit", json=sent).json()["number"]
    assert api("POST", f"{JOB}/circuit", json=sent).json()["number"] == number
    lost = {**sent, "text": longer.replace("S4:", "S5:"), "key": "program-version-2"}
    assert api("POST", f"{JOB}/circuit", json=lost).json()["error"]["problems"]
    back = api("POST", f"{JOB}/circuit/versions/0/return", json={"key": "program-back"}).json()
    refused(api("POST", f"{JOB}/circuit/versions/7777/return", json={"key": "program-back-2"}),
            404, "not-found")
    versions = api("GET", f"{JOB}/circuit/versions").json()
    assert [one["number"] for one in versions] == [0, number, back["number"]]
    assert [(one["added"], one["removed"]) for one in versions] == [(0, 0), (1, 1), (1, 1)]
    assert [one["current"] for one in versions] == [False, False, True]
    refused(api("GET", "/jobs/99/circuit/versions"), 404, "not-found")
    version = api("GET", f"{JOB}/circuit/versions/{number}").json()
    assert version["text"] == longer
    assert {one["mark"] for one in version["changes"]} == {"gap", "same", "added", "removed"}
    refused(api("GET", f"{JOB}/circuit/versions/7777"), 404, "not-found")
    assert api("GET", f"{JOB}/circuit").json()["text"] == first
    drawn(api, number)


def drawn(api: Caller, number: int) -> None:
    for address in (f"{JOB}/drawing.svg?state=locking",
                    f"{JOB}/circuit/versions/{number}/drawing.svg?state=locking"):
        answer = api("GET", address)
        assert answer.text.startswith("<svg")
        assert "<style" in answer.text  # it stands alone
        assert "default-src 'none'" in answer.headers["content-security-policy"]
    refused(api("GET", "/jobs/99/drawing.svg"), 404, "not-found")
    refused(api("GET", f"{JOB}/circuit/versions/0/drawing.svg?state=lockin"), 400, "unknown-name")


def templates_filled(api: Caller) -> None:
    listed = api("GET", "/templates").json()
    assert {"horn"} <= {one["name"] for one in listed}
    made = api("POST", "/templates/horn", json={"values": {}}).json()
    checked = api("POST", "/circuits/check", json={"text": made["text"]}).json()
    assert checked["good"]
    assert checked["problems"] == []
    broken = api("POST", "/circuits/check", json={"text": made["text"] + "\nbogus: 1\n"}).json()
    assert not broken["good"]
    assert broken["problems"][0]["line"] > 0
    refused(api("POST", "/circuits/check", json={}), 400, "usage")
    refused(api("POST", "/templates/hron", json={"values": {}}), 400, "unknown-name")


def practised(api: Caller) -> None:
    choices = api("GET", "/practice").json()
    assert {"horn"} <= {one["key"] for one in choices["circuits"]}
    begin = {"circuit": "horn", "level": 1, "seed": 7, "who": "Rory", "key": "program-practice"}
    begun = api("POST", "/practice", json=begin).json()
    name = begun["id"]
    assert begun["result"] is None
    refused(api("POST", "/practice", json={**begin, "level": 4}), 400, "usage")
    assert api("GET", f"/practice/{name}?who=Rory").json() == begun
    refused(api("GET", "/practice/nothing?who=Rory"), 400, "usage")
    asked = {"state": begun["states"][-1], "quantity": "voltage", "at": begun["names"][0],
             "predict": "?", "who": "Rory", "key": "program-measure"}
    address = f"/practice/{name}/readings"
    refused(api("POST", address, json={**asked, "at": "no point"}), 400, "unknown-name")
    point = next(one for one in begun["names"] if "." in one)
    assert len(api("POST", address, json={**asked, "at": point}).json()["readings"]) == 1
    refused(api("POST", f"/practice/{name}/repair", json={
        "repair": "mend W999", "who": "Rory", "key": "program-end-1"}), 400, "unknown-name")
    ended = api("POST", f"/practice/{name}/repair", json={"who": "Rory", "key": "program-end"})
    assert ended.json()["over"]
    assert not ended.json()["result"]["right"]
    assert api("GET", "/practice/progress?who=Rory").json()["done"][0]["exercise"] == name
    refused(api("GET", f"/practice/progress?who={'x' * 61}"), 400, "usage")
    again = api("POST", "/practice", json={
        "exercise": name, "who": "Rory", "key": "program-again"}).json()
    assert (again["id"], again["attempt"], again["over"]) == (name, 2, False)
    own = api("POST", "/templates/horn", json={"values": {}}).json()["text"]
    begun = api("POST", "/practice", json={"text": own, "who": "Rory", "key": "program-own"})
    assert begun.json()["id"].startswith("own-")
    signed_off(api)


def signed_off(api: Caller) -> None:
    task = api("GET", "/practice/sheet?who=Rory").json()["tasks"][0]["id"]
    refused(api("GET", "/practice/sheet"), 400, "usage")
    sent = {"apprentice": "Rory", "task": task, "by": "Morag", "key": "program-sign"}
    signed = api("POST", "/practice/sheet", json=sent).json()["tasks"]
    assert [one["id"] for one in signed if one["signed_by"] == "Morag"] == [task]
    refused(api("POST", "/practice/sheet", json={**sent, "by": "Rory", "key": "program-sign-2"}),
            400, "usage")


