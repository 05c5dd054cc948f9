"""The practice pages: plain forms, what was typed comes back, nothing tells the fault."""

import re

import pytest

from loomwright.service.roles import Permission
from loomwright.web.app import create_app
from loomwright.web.permits import PERMITS
from loomwright.web.settings import Settings
from tests.practice.benches import exercise
from tests.web.depot_client import HERE, TestClient, field


@pytest.fixture
def client(tmp_path):
    """Return a client of an empty workshop."""
    app = create_app(Settings(data=tmp_path))
    with TestClient(app, base_url=HERE, raise_server_exceptions=False,
                    follow_redirects=False) as found:
        yield found


def post(client, path, **fields):
    return client.post(path, data=fields, headers={"origin": HERE})


def started(client, seed=0, level=1, who="Mhairi"):
    """Start an exercise and return its address."""
    page = client.get("/practice").text
    answer = post(client, "/practice", name=who, circuit="horn", level=level, seed=seed,
                  key=field(page, "key"))
    assert answer.status_code == 303
    return answer.headers["location"]


READING = {"state": "sounding", "quantity": "voltage", "at": "F1.1", "predict": "12"}


def test_the_bench_offers_circuits_and_levels(client):
    page = client.get("/practice").text
    assert page.count("<optgroup") > 5
    assert page.count('type="radio"') == 3
    assert 'href="/practice"' in client.get("/").text


def test_an_exercise_goes_through_plain_forms(client):
    where = started(client)
    page = client.get(where).text
    assert "it should be on" in page
    answer = post(client, f"{where}/readings", key=field(page, "key"), **READING)
    assert answer.status_code == 303
    page = client.get(answer.headers["location"]).text
    assert "Well predicted" in page
    assert 'value="F1.1"' in page  # the next reading starts where this one was
    answer = post(client, f"{where}/repair", repair=exercise(1, 0).fault.repair, key="end")
    assert answer.headers["location"] == f"{where}#result"
    page = client.get(where).text
    assert "points of 100" in page
    assert "Step by step" in page
    assert 'name="predict"' not in page
    assert "horn-1-0" in client.get("/practice/progress").text
    assert "horn-1-0" in client.get("/practice/sheet").text
    assert "Mhairi" in client.get("/practice").text


def test_what_was_typed_comes_back_with_the_reason(client):
    where = started(client)
    answer = post(client, f"{where}/readings", key="k", **{**READING, "at": "F9.1"})
    assert answer.status_code == 400
    assert "F9.1" in field(answer.text, "at")
    assert field(answer.text, "predict") == "12"
    assert 'role="alert"' in answer.text
    answer = post(client, f"{where}/readings", key="k", **{**READING, "predict": ""})
    assert "no prediction" in answer.text
    assert "No repair is chosen" in post(client, f"{where}/repair", key="k2", repair="").text


def test_pages_of_two_faults_with_one_complaint_differ_only_in_the_name(client):
    groups = {}
    for seed in range(12):
        one = exercise(1, seed)
        groups.setdefault(str(one.complaint), {})[one.fault.id] = seed
    seeds = list(max(groups.values(), key=len).values())[:2]
    assert len(seeds) == 2
    pages = []
    for seed in seeds:
        where = started(client, seed)
        page = client.get(where).text.replace(where.rpartition("/")[2], "NAME")
        pages.append(re.sub(r'name="key" value="[^"]*"', "", page))
    assert pages[0] == pages[1]


def test_somebody_without_a_name_is_asked_first(client):
    page = client.get("/practice/horn-1-0").text
    assert field(page, "exercise") == "horn-1-0"
    answer = post(client, "/practice", name="Ewan", exercise="horn-1-0", key="k")
    assert answer.headers["location"] == "/practice/horn-1-0"
    assert post(client, "/practice", name=" ", exercise="horn-1-0", key="k3").status_code == 400


def test_giving_up_ends_it_and_again_starts_it_anew(client):
    where = started(client)
    assert post(client, f"{where}/repair", give_up="yes", key="e").status_code == 303
    assert "Given up: no repair named" in client.get(where).text
    assert post(client, f"{where}/readings", key="r", **READING).status_code == 409
    post(client, f"{where}/again", key="a")
    page = client.get(where).text
    assert "try 2" in page
    assert 'name="predict"' in page


def test_the_same_form_sent_twice_is_one_reading(client):
    where = started(client)
    for _ in range(2):
        assert post(client, f"{where}/readings", key="same", **READING).status_code == 303
    assert client.get(where).text.count("Well predicted") == 1


@pytest.mark.parametrize("path", ["horn-9-1", "nothing-1-1", "..%2fx-1-1", "horn"])
def test_what_is_no_exercise_is_refused(client, path):
    started(client)
    assert client.get(f"/practice/{path}").status_code in (400, 404)


def test_names_are_shown_as_text(client):
    started(client, who="<b>Mhairi</b>")
    page = client.get("/practice/horn-1-0").text
    assert "<b>Mhairi" not in page
    assert "&lt;b&gt;Mhairi" in page


def test_pages_ask_nothing_of_the_outside_and_hold_no_style_or_script(client):
    where = started(client)
    post(client, f"{where}/repair", give_up="yes", key="e")
    for address in ("/practice", where, "/practice/progress", "/practice/sheet"):
        text = client.get(address).text
        assert "https://" not in text
        assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
        assert "style=" not in text.replace("font-style=", "")
        assert not re.search(r"<script(?![^>]*src=)", text)


def test_a_task_is_signed_on_the_sheet(client):
    started(client)
    sheet = "/practice/sheet?who=Mhairi"
    client.cookies.set("who", "Isla", domain="127.0.0.1")
    sent = {"apprentice": "Mhairi", "task": "drop", "note": "seen on truck 7"}
    answer = post(client, "/practice/sheet", key=field(client.get(sheet).text, "key"), **sent)
    assert (answer.status_code, answer.headers["location"]) == (303, sheet)
    assert "Isla<br><small>seen on truck 7" in client.get(sheet).text
    answer = post(client, "/practice/sheet", key="key-two", take_back="yes",
                  **{**sent, "note": ""})
    assert answer.status_code == 400
    assert "without a reason" in answer.text
    assert PERMITS["POST", "/practice/sheet"] == Permission.SIGN_OFF
