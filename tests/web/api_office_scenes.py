"""What a program does with a job's paper side over /api/v1, each with one good and one bad call."""

from __future__ import annotations

import io
import json

from PIL import Image

from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.api_caller import Caller, refused

__all__ = ["costed", "customer_changed", "documents", "handed_over", "offered", "photographed",
           "set_up"]

JOB = f"/jobs/{TRUCK_7}"


def customer_changed(api: Caller) -> None:
    card = api("GET", f"{JOB}/card").json()
    refused(api("GET", "/jobs/99/card"), 404, "not-found")
    sent = {"phone": "01234 56789", "odometer": "81 200 km", "key": "program-card"}
    for _ in range(2):  # the same key counts once
        changed = api("PATCH", f"{JOB}/card", json=sent).json()
        assert changed == {**card, "phone": "01234 56789", "odometer": "81 200 km"}
    refused(api("PATCH", f"{JOB}/card", json={"vehicle": "", "key": "program-card-2"}), 400,
            "usage")
    refused(api("PATCH", f"{JOB}/card", json={"colour": "red", "key": "program-card-3"}), 400,
            "usage")
    told = api("GET", f"{JOB}/history").json()
    assert [one["what"] for one in told].count("Card") == 1
    assert api("GET", f"{JOB}/history?after={told[-1]['number']}").json() == []
    refused(api("GET", "/jobs/99/history"), 404, "not-found")
    assert "check digit" in api("GET", "/vin?vin=1M8GDM9AXKP042789").json()["remark"]
    assert api("GET", "/vin?vin=1m8gdm9axkp042788").json() == {
        "vin": "1M8GDM9AXKP042788", "remark": ""}
    refused(api("GET", "/vin"), 400, "usage")


def costed(api: Caller) -> None:
    refused(api("GET", "/jobs/99/costs"), 404, "not-found")
    part = {"what": "Relay", "price": "18,50", "quantity": "2", "key": "program-part"}
    first = api("POST", f"{JOB}/parts", json=part).json()
    assert api("POST", f"{JOB}/parts", json=part).json() == first
    refused(api("POST", f"{JOB}/parts", json={**part, "what": " ", "key": "program-part-2"}), 400,
            "usage")
    minutes = {"minutes": "45", "what": "looking", "key": "program-minutes"}
    clocked = api("POST", f"{JOB}/minutes", json=minutes).json()
    refused(api("POST", f"{JOB}/minutes", json={**minutes, "minutes": "soon",
                                                "key": "program-minutes-2"}), 400, "usage")
    found = api("GET", f"{JOB}/costs").json()
    rate = float(found["labour_rate_per_h"])
    assert (found["parts"], found["minutes"]) == ("37.00", "45.00")
    assert float(found["net"]) == 37.0 + 45 / 60 * rate
    assert api("PUT", f"{JOB}/limit", json={"money": "40", "key": "program-limit"}).json() == {
        "minutes": "", "money": "40"}
    assert any("Past the limit" in one for one in api("GET", f"{JOB}/costs").json()["warnings"])
    refused(api("PUT", f"{JOB}/limit", json={"money": "-4", "key": "program-limit-2"}), 400,
            "usage")
    for _ in range(2):
        assert api("DELETE", f"{JOB}/entries/{clocked['number']}").json() == clocked
    assert api("GET", f"{JOB}/costs").json()["minutes_worked"] == []
    refused(api("DELETE", f"{JOB}/entries/999"), 400, "usage")


def offered(api: Caller) -> None:
    foreseen = api("GET", f"{JOB}/foresight").json()
    while not foreseen["ready"]:  # worked out in the background; the last try decides
        foreseen = api("GET", f"{JOB}/foresight?wait_s=20").json()
    assert [one["name"] for one in foreseen["ways"]] == ["Test first", "Swap parts"]
    assert foreseen["swaps"]
    refused(api("GET", f"/jobs/{TRUCK_4}/foresight"), 409, "conflict")
    offer = {"form": "estimate", "money": "180", "most": "260", "key": "program-offer"}
    number = api("POST", f"{JOB}/offers", json=offer).json()["number"]
    refused(api("POST", f"{JOB}/offers", json={**offer, "most": "90", "key": "program-offer-2"}),
            400, "usage")
    refused(api("POST", f"{JOB}/offers", json={**offer, "form": "guess", "key": "program-o-3"}),
            400, "usage")
    assert api("GET", f"{JOB}/offers").json()["awaited"]
    said = {"agreed": True, "who": "Mr Ross", "how": "by telephone", "money": "260",
            "key": "program-answer"}
    talk = api("POST", f"{JOB}/answers", json=said).json()
    assert not talk["awaited"]
    assert talk["answers"][0]["offer"] == str(number) == str(talk["offers"][0]["number"])
    assert api("GET", f"{JOB}/costs").json()["limit"]["money"] == "260"
    refused(api("POST", f"{JOB}/answers", json={**said, "who": "", "key": "program-answer-2"}),
            400, "usage")
    refused(api("GET", "/jobs/99/offers"), 404, "not-found")


def photographed(api: Caller) -> None:
    out = io.BytesIO()
    place = Image.Exif()
    place[0x8825] = {1: "N", 2: (57.0, 1.0, 2.0)}  # GPS, as a telephone writes it
    Image.effect_noise((90, 60), 80).convert("RGB").save(out, "JPEG", exif=place)
    form = {"key": "program-photo", "caption": "Chafed at the hinge"}
    sent = api("POST", f"{JOB}/photos", data=form, files={"photo": ("a.jpg", out.getvalue())})
    assert sent.status_code == 201
    again = api("POST", f"{JOB}/photos", data=form, files={"photo": ("a.jpg", out.getvalue())})
    assert again.json() == sent.json()
    broken = {"photo": ("a.jpg", b"no picture")}
    refused(api("POST", f"{JOB}/photos", data={"key": "program-photo-2"}, files=broken), 400,
            "usage")
    refused(api("POST", f"{JOB}/photos", data={"key": "program-photo-3"}), 400, "usage")
    large = {"photo": ("a.jpg", b"\xff\xd8" + bytes(21_500_000))}
    refused(api("POST", f"{JOB}/photos", data={"key": "program-photo-4"}, files=large), 413,
            "too-large")
    listed = api("GET", f"{JOB}/photos").json()
    assert [one["caption"] for one in listed] == ["Chafed at the hinge"]
    kept = api("GET", f"{JOB}/photos/{listed[0]['sha256']}.jpg").content
    assert not Image.open(io.BytesIO(kept)).getexif()
    refused(api("GET", f"/jobs/{TRUCK_4}/photos/{listed[0]['sha256']}.jpg"), 404, "not-found")
    refused(api("GET", "/jobs/99/photos"), 404, "not-found")
    assert api("DELETE", f"{JOB}/entries/{listed[0]['number']}").status_code == 200
    assert api("GET", f"{JOB}/photos").json() == []


def handed_over(api: Caller) -> None:
    """Cause and correction, then the vehicle of a finished job; it is opened again at the end."""
    words = {"cause": "Wire chafed", "correction": "New wire", "key": "program-words"}
    assert api("PUT", f"{JOB}/findings", json=words).json()["cause"] == "Wire chafed"
    assert api("GET", f"{JOB}/findings").json()["correction"] == "New wire"
    refused(api("PUT", f"{JOB}/findings", json={"cause": "x" * 2001, "key": "program-words-2"}),
            400, "usage")
    refused(api("GET", "/jobs/99/findings"), 404, "not-found")
    assert api("GET", f"{JOB}/hand-over").json()["who"] == ""
    given = api("POST", f"{JOB}/hand-over", json={"who": "Mr Ross", "key": "program-given"})
    assert given.json()["who"] == "Mr Ross"
    assert api("GET", JOB).json()["state"] == "handed over"
    refused(api("POST", f"{JOB}/parts", json={"what": "Relay", "key": "program-late"}), 409,
            "conflict")
    refused(api("GET", "/jobs/99/hand-over"), 404, "not-found")
    again = api("POST", f"{JOB}/reopen", json={"key": "program-again"}).json()
    assert again["finished_at"] == ""
    refused(api("POST", f"{JOB}/hand-over", json={"who": "Mr Ross", "key": "program-given-2"}),
            409, "conflict")
    refused(api("POST", f"{JOB}/reopen", json={}), 400, "usage")


def documents(api: Caller) -> None:
    for name in ("record", "letter"):
        assert api("GET", f"{JOB}/{name}.pdf").content.startswith(b"%PDF-")
        refused(api("GET", f"/jobs/99/{name}.pdf"), 404, "not-found")
    assert api("GET", f"{JOB}/accounts.csv?separator=semicolon").text.startswith("job;customer")
    refused(api("GET", f"{JOB}/accounts.csv?separator=tab"), 400, "unknown-name")
    whole = api("GET", f"{JOB}/job-file")
    refused(api("GET", "/jobs/99/job-file"), 404, "not-found")
    headers = {"content-type": "application/json"}
    taken = api("POST", "/jobs/import", content=whole.content, headers=headers).json()
    assert taken == {"job": TRUCK_7, "new": False, "added": 0}
    changed = json.loads(whole.content)
    changed["job"]["customer"] = "Somebody else"
    refused(api("POST", "/jobs/import", content=json.dumps(changed), headers=headers), 400,
            "file-problems")
    refused(api("POST", "/jobs/import", content=whole.content), 400, "usage")


def set_up(api: Caller) -> None:
    before = api("GET", "/settings").json()
    sent = {"tax_name": "VAT", "tax_percent": "20", "currency": "GBP", "key": "program-settings"}
    now = api("PATCH", "/settings", json=sent).json()
    assert now == {**before, "tax_name": "VAT", "tax_percent": "20", "currency": "GBP"}
    own = {"labour_rate_per_h": "75", "key": "program-settings-2"}
    assert api("PATCH", "/settings", json=own).json() == {
        **now, "labour_rate_per_h": "75", "assumed": False}
    refused(api("PATCH", "/settings", json={"labour_rate_per_h": "0", "key": "program-set-2"}),
            400, "usage")
