"""Pages of a job's paper side: card, costs, photos, hand-over; settings; search."""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.routing import APIRoute
from PIL import Image

from loomwright.service.roles import ROLES, Permission
from loomwright.web.app import create_app
from loomwright.web.permits import PERMITS
from loomwright.web.settings import Settings
from tests.service.depot_folder import TRUCK_4, TRUCK_7
from tests.web.depot_client import TestClient, client_in

JOB = f"/jobs/{TRUCK_7}"
NASTY = "<script>alert('x')</script>\"&'"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


def send(client: TestClient, address: str, **fields: str) -> None:
    """Send a form that has to be taken."""
    key = hashlib.sha256(repr((address, sorted(fields.items()))).encode()).hexdigest()[:20]
    answer = client.post(address, data={"key": key, **fields})
    assert answer.status_code == 303, answer.text


@pytest.mark.parametrize("name", ["card", "costs", "photos", "hand-over", "history"])
def test_each_page_opens_is_linked_and_asks_nothing_of_the_outside(
    client: TestClient, name: str
) -> None:
    assert f'href="{JOB}/{name}"' in client.get(JOB).text
    answer = client.get(f"{JOB}/{name}")
    assert answer.status_code == 200
    assert "http://" not in answer.text
    assert "style=" not in answer.text
    assert f'href="{JOB}/{name}" aria-current="page"' in answer.text
    assert client.get(f"/jobs/99/{name}").status_code == 404


def test_the_card_is_changed_and_what_it_said_stays(client: TestClient) -> None:
    before = client.get(f"{JOB}/card").text
    old = re.search(r'name="plate" value="([^"]*)"', before)
    assert old is not None
    send(client, f"{JOB}/card", plate="SP 99 NEW", phone="01234 5", system_v="24")
    page = client.get(f"{JOB}/card").text
    assert 'value="SP 99 NEW"' in page
    assert 'value="24 V"' in page
    assert "SP 99 NEW" in client.get(JOB).text
    changes = client.get(f"{JOB}/history").text
    assert "Plate: SP 99 NEW" in changes
    refused = client.post(f"{JOB}/card", data={"key": "no-vehicle", "vehicle": "", "hot": "cold"})
    assert refused.status_code == 400
    assert 'value="cold"' in refused.text  # nothing typed is lost
    assert "The vehicle is missing." in refused.text


def test_minutes_and_parts_add_up_and_are_taken_back(client: TestClient) -> None:
    send(client, "/settings", labour_rate_per_h="60", tax_name="VAT", tax_percent="20",
         currency="EUR")
    send(client, f"{JOB}/minutes", minutes="90", work="hinge loom")
    send(client, f"{JOB}/parts", what="plug", quantity="2", price="12,50")
    page = client.get(f"{JOB}/costs").text
    for words in ("90.00 EUR", "25.00 EUR", "115.00 EUR", "23.00 EUR", "138.00 EUR", "VAT 20 %"):
        assert words in page  # 90 min at 60 an hour, two plugs at 12.50, 20 % on 115.00
    number = re.search(r"take-back/(\d+)", page)
    assert number is not None
    send(client, f"{JOB}/take-back/{number[1]}")
    assert "138.00 EUR" not in client.get(f"{JOB}/costs").text
    assert "Taken back" in client.get(f"{JOB}/history").text
    assert client.post(f"{JOB}/take-back/1", data={"key": "take-reading"}).status_code == 400


def test_the_table_for_accounts_has_what_was_entered(client: TestClient) -> None:
    send(client, f"{JOB}/minutes", minutes="30", work="=1+1")
    send(client, f"{JOB}/parts", what="fuse", price="")
    text = client.get(f"{JOB}/job.csv").text
    assert "'=1+1" in text
    assert "clocked" in text
    assert "expected by the circuit file" not in text.replace("clocked", "", 1).split("fuse")[0]


def test_past_the_limit_is_said_on_every_page_of_the_job(client: TestClient) -> None:
    send(client, f"{JOB}/limit", limit_minutes="1", limit_money="")
    send(client, f"{JOB}/minutes", minutes="5", work="")
    for page in (JOB, f"{JOB}/card", f"{JOB}/costs"):
        assert "Past the limit: 5 of 1 minutes" in client.get(page).text
    send(client, f"{JOB}/answer", agreed="yes", who="Mr Ross", how="by telephone", minutes="60")
    assert "Past the limit" not in client.get(JOB).text


def test_the_workshops_usual_limit_holds_where_a_job_has_none(client: TestClient) -> None:
    send(client, "/settings", limit_minutes="2")
    send(client, f"{JOB}/minutes", minutes="5", work="")
    assert "Past the limit: 5 of 2 minutes" in client.get(JOB).text
    send(client, f"{JOB}/limit", limit_minutes="", limit_money="")
    assert "Past the limit" not in client.get(JOB).text


def test_an_offer_waits_for_its_answer(client: TestClient) -> None:
    send(client, "/settings", tax_percent="10", currency="EUR")
    send(client, f"{JOB}/offer", form="estimate", money="200", most="300", note="as told")
    page = client.get(f"{JOB}/costs").text
    assert "The customer was asked and has not answered yet." in page
    assert "Estimate: 200.00 EUR, at most 300.00 EUR without tax (220.00 EUR with tax 10 %)" in page
    assert "asked, no answer yet" in client.get("/").text
    send(client, f"{JOB}/answer", agreed="no", who="Mr Ross", how="in person")
    page = client.get(f"{JOB}/costs").text
    assert "Mr Ross did not agree" in page
    wrong = client.post(f"{JOB}/offer", data={"key": "x", "form": "quote", "money": "ten"})
    assert wrong.status_code == 400
    assert 'value="ten"' in wrong.text


def test_what_it_will_take_is_worked_out(client: TestClient) -> None:
    first = client.get(f"{JOB}/foresight")
    assert first.status_code == 200
    assert "What job" in first.text
    assert client.get(f"/jobs/{TRUCK_4}/foresight").status_code == 409  # mended already


def picture(**exif: str) -> bytes:
    """Return a JPEG with camera, place and comment in it."""
    made = Image.new("RGB", (640, 480), (10, 120, 60))
    data = Image.Exif()
    data[0x010F] = "Camera of Mr Ross"  # Make
    data[0x8825] = {1: "N", 2: (57.0, 1.0, 2.0)}  # GPS
    out = io.BytesIO()
    made.save(out, "JPEG", exif=data, comment=b"secret comment")
    return out.getvalue()


def upload(client: TestClient, data: bytes, key: str = "photo-key") -> int:
    return client.post(f"{JOB}/photos", data={"key": key, "caption": NASTY, "about": ""},
                       files={"photo": ("a.jpg", data, "image/jpeg")}).status_code


def test_a_photo_is_kept_without_place_and_camera(client: TestClient) -> None:
    sent = picture()
    assert b"Camera of Mr Ross" in sent
    assert upload(client, sent) == 303
    page = client.get(f"{JOB}/photos").text
    assert "<script>alert" not in page
    found = re.search(rf'src="({JOB}/photos/[0-9a-f]+\.jpg)"', page)
    assert found is not None
    given = client.get(found[1])
    assert given.headers["content-type"] == "image/jpeg"
    assert given.headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert given.headers["x-content-type-options"] == "nosniff"
    for secret in (b"Camera of Mr Ross", b"secret comment", b"Exif"):
        assert secret not in given.content
    assert Image.open(io.BytesIO(given.content)).size == (640, 480)
    assert client.get(found[1].replace(JOB, f"/jobs/{TRUCK_4}")).status_code == 404


def bomb() -> bytes:
    """Return a small file that says it is a picture of 20 000 x 20 000 pixels."""
    out = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize("data", [b"", b"not a picture", b"<svg xmlns='x'/>", picture()[:900]],
                         ids=["empty", "text", "svg", "cut"])
def test_what_is_no_photo_is_refused(client: TestClient, data: bytes) -> None:
    assert upload(client, data) == 400


def test_a_picture_bomb_is_refused_before_it_is_unpacked(client: TestClient) -> None:
    assert upload(client, bomb()) == 400


def test_only_photos_may_be_large(client: TestClient) -> None:
    large = b"x" * 2_100_000
    assert upload(client, large) == 400  # read, and no picture
    assert upload(client, b"x" * 21_100_000, "too-big") == 413
    other = client.post(f"{JOB}/card", data={"key": "k", "hot": "x" * 2_100_000})
    assert other.status_code == 413


def test_a_job_is_handed_over_once_it_is_finished(client: TestClient) -> None:
    early = client.post(f"{JOB}/hand-over", data={"key": "early", "given_to": "Mr Ross"})
    assert early.status_code == 409
    job = f"/jobs/{TRUCK_4}"
    if "finish the job" in client.get(job).text.lower():
        send(client, f"{job}/finish", note="")
    send(client, f"{job}/findings", cause="salt", correction="cleaned", remains="watch E3")
    send(client, f"{job}/hand-over", given_to="Mr Ross", explained="the earth point")
    assert "Given to Mr Ross. the earth point" in client.get(f"{job}/hand-over").text
    assert ">handed over</span>" in client.get("/").text
    assert client.post(f"{job}/parts", data={"key": "late", "what": "fuse"}).status_code == 409


def test_a_letter_without_its_sender_says_on_screen_where_to_enter_it(client: TestClient) -> None:
    pages = (f"/jobs/{TRUCK_7}", f"/jobs/{TRUCK_7}/hand-over", f"/jobs/{TRUCK_7}/record")
    lacks = "record lack the workshop&#39;s own name and telephone."
    assert not any("record lack" in client.get(page).text for page in pages)  # the depot's own
    send(client, "/settings", name="", phone=" ", date_order="year first")
    for page in pages:
        text = client.get(page).text
        assert lacks in text, page
        assert 'href="/settings">Enter it' in text, page
    settings = client.get("/settings").text
    assert lacks in settings
    assert '<option value="year first" selected>2026 November 25</option>' in settings


def test_settings_are_kept_and_wrong_ones_come_back(client: TestClient) -> None:
    assert "assumed" in client.get("/settings").text
    send(client, "/settings", name=NASTY, labour_rate_per_h="88,5")
    page = client.get("/settings").text
    assert 'value="88.5"' in page
    assert "<script>alert" not in page
    assert "assumed" not in page
    wrong = client.post("/settings", data={"key": "k", "tax_percent": "120"})
    assert wrong.status_code == 400
    assert 'value="120"' in wrong.text


def test_jobs_are_found_by_their_words(client: TestClient) -> None:
    send(client, f"{JOB}/card", plate="QQ 77 ZZ")
    page = client.get("/", params={"words": "qq77zz"}).text
    assert f'href="{JOB}"' in page
    assert f'href="/jobs/{TRUCK_4}"' not in page
    assert "1 job has" in page
    none = client.get("/", params={"words": NASTY}).text
    assert "No job has" in none
    assert "<script>alert" not in none


def test_every_route_of_the_application_has_its_decision(tmp_path: Path) -> None:
    app = create_app(Settings(data=tmp_path))
    routes = {(method, one.path) for one in app.routes if isinstance(one, APIRoute)
              for method in one.methods}
    assert routes - set(PERMITS) == set()


@pytest.mark.parametrize(("route", "roles"), [
    (("POST", "/jobs/{job_id}/photos"), {"apprentice", "technician", "foreman"}),
    (("POST", "/jobs/{job_id}/card"), {"technician", "foreman"}),
    (("POST", "/jobs/{job_id}/offer"), {"foreman"}),
    (("POST", "/settings"), {"foreman"}),
])
def test_who_may(route: tuple[str, str], roles: set[str]) -> None:
    needed = PERMITS[route]
    assert isinstance(needed, Permission)
    assert {name for name, may in ROLES.items() if needed in may} == roles


def test_the_letter_is_a_pdf_and_linked(client: TestClient) -> None:
    for page in (JOB, f"{JOB}/hand-over", f"{JOB}/record"):
        assert f'href="{JOB}/letter.pdf"' in client.get(page).text
    upload(client, picture())
    answer = client.get(f"{JOB}/letter.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert client.get("/jobs/99/letter.pdf").status_code == 404


def test_the_record_shows_photos_parts_and_hand_over(client: TestClient) -> None:
    job = f"/jobs/{TRUCK_4}"
    client.post(f"{job}/photos", data={"key": "record-photo", "caption": "the terminal"},
                files={"photo": ("a.jpg", picture(), "image/jpeg")})
    send(client, f"{job}/parts", what="ring terminal", price="5")
    send(client, f"{job}/hand-over", given_to="Mr Ross", explained="all")
    text = client.get(f"{job}/record").text
    for words in ("the terminal", "ring terminal", "Given to Mr Ross. all", f'src="{job}/photos/'):
        assert words in text
    assert client.get(f"{job}/record.pdf").content.startswith(b"%PDF")


@pytest.mark.parametrize(("name", "seen", "hidden"), [
    ("apprentice", "/minutes", "/offer"), ("technician", "/parts", "/limit"),
    ("foreman", "/answer", "nothing hidden")])
def test_a_page_offers_only_what_the_role_may(
    tmp_path: Path, name: str, seen: str, hidden: str
) -> None:
    from loomwright.service.jobs import Workshop
    from loomwright.service.office_view import office_view
    from loomwright.service.roles import Actor
    from loomwright.web.rendering import render
    from tests.service.depot_folder import depot_in

    view = office_view(Workshop(depot_in(tmp_path)), TRUCK_7)
    actor = Actor("Isla", name, "person", ROLES[name])
    text = render("office_costs.html", view=view, tab="costs", refusal=None, fields={},
                  actor=actor)
    assert f'action="{JOB}{seen}"' in text
    assert f'action="{JOB}{hidden}"' not in text
