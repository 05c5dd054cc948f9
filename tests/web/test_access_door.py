"""The door of a shared workshop under attack: forms from elsewhere, guessing, fixation, leaks."""

from __future__ import annotations

import contextlib
import http.client
import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from loomwright.jobs.access_records import MAX_TRIES
from loomwright.service import pairing
from loomwright.service.access import Access
from loomwright.service.pairing import TRIES_EACH
from loomwright.service.safekeeping import backup, restore
from loomwright.web import gate
from loomwright.web.access_pages import safe_next
from loomwright.web.gate import DEVICE_COOKIE, SESSION_COOKIE
from tests.browser.running_bench import Bench
from tests.service.depot_folder import TRUCK_7, depot_in
from tests.web.depot_client import HERE
from tests.web.shared_shop import PIN, Shop
from tests.web.test_pages import VOLTS

pytestmark = pytest.mark.usefixtures("quick_pins")
READINGS = f"/jobs/{TRUCK_7}/readings"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    found = Shop(tmp_path)
    yield found
    found.close()


def person(shop: Shop, name: str, pin: str = PIN, **more: str) -> dict[str, str]:
    return {"person": str(shop.access.named(name).id), "pin": pin, **more}


# --- where a form comes from ---------------------------------------------------------------------


@pytest.mark.parametrize("origin", [
    "http://evil.example", "null", "http://127.0.0.1:9999", "https://127.0.0.1:8000", None])
def test_a_signed_in_persons_browser_sends_nothing_for_another_site(
    shop: Shop, origin: str | None
) -> None:
    browser = shop.signed_in("Morag")
    before = shop.app.state.workshop.opened(TRUCK_7)[1].last
    if origin is None:  # plain HTTP in a network: no Sec-Fetch-Site vouches for a bare form
        del browser.headers["origin"]
    else:
        browser.headers["origin"] = origin
    for address in (READINGS, "/people", "/sign-out", "/share", f"/api{READINGS}"):
        assert browser.post(address, data=VOLTS).status_code == 403, address
    assert shop.app.state.workshop.opened(TRUCK_7)[1].last == before
    assert browser.get("/who").status_code == 200  # still signed in


@pytest.mark.parametrize("host", ["evil.example", "10.0.0.7.evil.example", "127.0.0.1.nip.example",
                                  "10.0.0.8", "", "evil.example:8000", "10.0.0.7@evil.example"])
def test_a_name_that_was_bound_to_our_address_gets_nothing(shop: Shop, host: str) -> None:
    browser = shop.signed_in("Morag")
    assert browser.get("/", headers={"host": host}).status_code == 400
    assert browser.get("/pair", headers={"host": host}).status_code == 400


def test_what_a_forwarding_header_says_is_not_believed(shop: Shop) -> None:
    browser = shop.browser()
    for name in ("x-forwarded-host", "forwarded", "x-original-url", "x-rewrite-url"):
        assert browser.get("/", headers={name: "/pair"}).status_code in {303, 401}
    assert browser.get("/people", headers={"x-forwarded-for": "127.0.0.1"}).status_code == 401


# --- cookies and sessions ------------------------------------------------------------------------


@pytest.mark.parametrize("base", [HERE, "https://127.0.0.1:8000"])
def test_cookies_are_out_of_reach_of_scripts_and_of_other_sites(shop: Shop, base: str) -> None:
    browser = shop.browser(base)
    paired = browser.post("/pair", data={"code": shop.app.state.pairing.issue(), "device": "tab"})
    signed = browser.post("/sign-in", data=person(shop, "Morag"))
    for answer, name in ((paired, DEVICE_COOKIE), (signed, SESSION_COOKIE)):
        assert answer.status_code == 303
        words = {one.strip().lower() for one in answer.headers["set-cookie"].split(";")}
        assert {"httponly", "samesite=strict", "path=/"} <= words
        assert ("secure" in words) == base.startswith("https")
        assert not any(one.startswith("domain") for one in words)
        assert name in answer.headers["set-cookie"]


def test_a_session_that_an_attacker_chose_is_never_taken_on(shop: Shop) -> None:
    browser = shop.paired()
    chosen = "A" * 43
    browser.cookies.set(SESSION_COOKIE, chosen)
    browser.post("/sign-in", data=person(shop, "Ailsa"))
    assert not shop.access.signed_in(chosen).known
    given = [one.value for one in browser.cookies.jar if one.name == SESSION_COOKIE]
    assert any(shop.access.signed_in(one or "").known for one in given if one != chosen)


def test_of_two_cookies_with_one_name_neither_counts(shop: Shop) -> None:
    browser = shop.signed_in("Morag")
    mine = {one.name: one.value for one in browser.cookies.jar}
    twice = (f"{DEVICE_COOKIE}={mine[DEVICE_COOKIE]}; {SESSION_COOKIE}=planted; "
             f"{SESSION_COOKIE}={mine[SESSION_COOKIE]}")
    stranger = shop.browser()
    assert stranger.get("/people", headers={"cookie": twice}).status_code == 401


def test_signing_in_anew_ends_the_session_before(shop: Shop) -> None:
    browser = shop.signed_in("Rory")
    old = browser.cookies[SESSION_COOKIE]
    assert browser.post("/sign-in", data=person(shop, "Morag")).status_code == 303
    assert not shop.access.signed_in(old).known


def test_a_session_does_not_follow_its_cookie_to_another_device(shop: Shop) -> None:
    stolen = shop.signed_in("Morag").cookies[SESSION_COOKIE]
    thief = shop.paired()
    thief.cookies.set(SESSION_COOKIE, stolen)
    assert thief.get("/people").status_code == 401


def test_signing_out_works_at_once_and_an_unpaired_device_is_out(shop: Shop) -> None:
    browser = shop.signed_in("Morag")
    session, device = browser.cookies[SESSION_COOKIE], browser.cookies[DEVICE_COOKIE]
    assert browser.post("/sign-out").status_code == 303
    browser.cookies.set(SESSION_COOKIE, session)
    assert browser.get("/people").status_code == 401
    shop.access.end_device(shop.access.device(device), "Morag")
    assert browser.get("/sign-in").status_code == 401


# --- guessing ------------------------------------------------------------------------------------


def test_guessing_a_pin_is_slowed_and_locked_and_a_restart_does_not_help(
    tmp_path: Path, shop: Shop
) -> None:
    browser = shop.paired()
    statuses = [browser.post("/sign-in", data=person(shop, "Morag", f"guess {one}")).status_code
                for one in range(MAX_TRIES)]
    assert statuses == [401, 401, 401] + [429] * (MAX_TRIES - 3)  # then the wait refuses them
    for hour in range(1, MAX_TRIES - 2):  # as after all the waits
        shop.access.store.clock = lambda later=hour: datetime.now(UTC) + timedelta(hours=later)
        assert browser.post("/sign-in", data=person(shop, "Morag", "guess")).status_code == 401
    again = Shop(tmp_path, people=False)
    again.access.store.clock = lambda: datetime.now(UTC) + timedelta(days=1)
    here = again.browser()
    here.cookies.set(DEVICE_COOKIE, browser.cookies[DEVICE_COOKIE])
    answer = here.post("/sign-in", data=person(again, "Morag"))
    assert answer.status_code == 429
    assert "locked on this device" in answer.text
    assert SESSION_COOKIE not in answer.headers.get("set-cookie", "")
    elsewhere = again.signed_in("Morag")  # a guesser keeps nobody from working elsewhere
    assert "locked on tablet" in elsewhere.get("/people").text
    number = again.access.named("Morag").id
    assert elsewhere.post(f"/people/{number}/unlock").status_code == 303
    assert here.post("/sign-in", data=person(again, "Morag")).status_code == 303
    again.close()


def test_a_wrong_pin_and_an_unknown_person_read_the_same(shop: Shop) -> None:
    wrong = shop.paired().post("/sign-in", data=person(shop, "Morag", "guess 1"))
    nobody = shop.paired().post("/sign-in", data={"person": "999", "pin": "guess 1"})
    assert wrong.status_code == nobody.status_code == 401
    assert "Name and PIN do not fit." in wrong.text
    assert "Name and PIN do not fit." in nobody.text


def test_a_pairing_code_is_good_once(shop: Shop) -> None:
    code = shop.app.state.pairing.issue()
    assert shop.browser().post("/pair", data={"code": code}).status_code == 303
    second = shop.browser().post("/pair", data={"code": code})
    assert second.status_code == 401
    assert "set-cookie" not in second.headers


def test_guessing_pairing_codes_is_slowed_for_one_and_for_all(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = shop.browser(peer="10.0.0.20")
    tries = [first.post("/pair", data={"code": f"WRON-G{one:03d}"}).status_code
             for one in range(TRIES_EACH + 2)]
    assert tries == [401] * TRIES_EACH + [429, 429]
    good = shop.app.state.pairing.issue()
    assert first.post("/pair", data={"code": good}).status_code == 429  # the right one as well
    monkeypatch.setattr(pairing, "TRIES_ALL", 40)
    for one in range(TRIES_EACH, 40):
        shop.browser(peer=f"10.0.1.{one}").post("/pair", data={"code": "WRONG"})
    late = shop.browser(peer="10.0.2.1").post("/pair", data={"code": good})
    assert late.status_code == 429


def test_the_first_foreman_is_made_at_the_workshop_computer_only(tmp_path: Path) -> None:
    fresh = Shop(tmp_path, people=False)
    form = {"name": "Evil", "pin": PIN, "again": PIN}
    assert fresh.paired(peer="10.0.0.9").post("/set-up", data=form).status_code == 403
    passed_on = fresh.paired(peer="127.0.0.1")
    passed_on.headers["x-forwarded-for"] = "10.0.0.9"
    assert passed_on.post("/set-up", data=form).status_code == 403
    assert fresh.access.people() == ()
    here = fresh.paired(peer="127.0.0.1")
    assert here.post("/set-up", data={**form, "name": "Morag"}).status_code == 303
    second = fresh.paired(peer="127.0.0.1").post("/set-up", data={**form, "name": "Second"})
    assert second.status_code == 409
    assert [one.name for one in fresh.access.people()] == ["Morag"]
    fresh.close()


# --- addresses and bodies ------------------------------------------------------------------------


@pytest.mark.parametrize("wanted", [
    "//evil.example", "/\\evil.example", "https://evil.example", "javascript:alert(1)", "\\\\evil",
    "/\t/evil.example", "//evil.example/%2e%2e", "evil", "", "/ok\r\nset-cookie: a=b"])
def test_after_signing_in_nobody_is_sent_elsewhere(shop: Shop, wanted: str) -> None:
    answer = shop.paired().post("/sign-in", data=person(shop, "Rory", next=wanted))
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"
    page = shop.paired().get("/sign-in", params={"next": wanted})
    assert "evil" not in page.text


def test_our_own_pages_are_gone_back_to(shop: Shop) -> None:
    assert safe_next("/jobs/3?state=locking") == "/jobs/3?state=locking"
    asked = shop.browser().get("/jobs/3?state=a%26b", headers={"accept": "text/html"})
    assert asked.headers["location"] == "/sign-in?next=%2Fjobs%2F3%3Fstate%3Da%2526b"


@pytest.mark.parametrize("path", [
    "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/%2e%2e%2fapp.py",
    "/static//etc/passwd", "/static/..%5capp.py", "/static/.%00/app.css",
    "/static/%252e%252e/app.py"])
@pytest.mark.parametrize("who", ["nobody", "Morag"])
def test_no_path_leads_out_of_the_static_files(shop: Shop, path: str, who: str) -> None:
    browser = shop.browser() if who == "nobody" else shop.signed_in(who)
    answer = browser.get(path)
    assert answer.status_code in {303, 401, 404}
    assert "create_app" not in answer.text
    assert "root:" not in answer.text


@pytest.mark.parametrize("path", ["/pair/../people", "/pair/%2e%2e/people", "//people", "/PEOPLE",
                                  "/people/", "/pair/people", "/static/app.css/../../people"])
def test_no_other_spelling_of_an_address_passes_the_gate(shop: Shop, path: str) -> None:
    answer = shop.browser().get(path)
    assert answer.status_code in {303, 401}
    assert "Morag" not in answer.text


@pytest.mark.parametrize(("address", "size"), [
    ("/pair", 21_000), ("/sign-in", 21_000), (READINGS, 2_100_000), ("/editor/file", 2_100_000),
    (f"/api/v1{READINGS}", 2_100_000), ("/api/v1/jobs/import", 21_100_000)])
@pytest.mark.parametrize("chunked", [False, True])
def test_a_body_over_the_limit_is_refused(
    shop: Shop, address: str, size: int, chunked: bool, caplog: pytest.LogCaptureFixture
) -> None:
    def drops() -> Iterator[bytes]:
        for _ in range(size // 1000 + 1):
            yield b" " * 1000

    body: Any = drops() if chunked else b" " * size
    sort = "application/json" if "v1" in address else "application/x-www-form-urlencoded"
    answer = shop.signed_in("Morag").post(address, content=body, headers={"content-type": sort})
    assert answer.status_code == 413
    assert "MB was sent" in answer.text
    assert not caplog.records  # no mistake of the program: nobody fills its log


# --- tokens --------------------------------------------------------------------------------------


def test_a_read_token_writes_nothing_and_a_revoked_one_does_nothing(shop: Shop) -> None:
    reader, writer = shop.program("read"), shop.program("write")
    assert reader.get("/api/jobs").status_code == 200
    refused = reader.post(f"/api{READINGS}", data=VOLTS)
    assert refused.status_code == 403
    assert refused.json()["error"]["code"] == "not-allowed"
    assert writer.post(f"/api{READINGS}", data=VOLTS).status_code == 201
    by = shop.app.state.workshop.store.events(TRUCK_7)[-1].by
    assert by == "stock (program)"
    for one in shop.access.tokens():
        shop.access.end_token(one.id, "Morag")
    gone = writer.get("/api/jobs")
    assert gone.status_code == 401
    assert gone.headers["www-authenticate"] == "Bearer"
    assert gone.json()["error"]["code"] == "sign-in"


@pytest.mark.parametrize("header", ["Bearer ", "Bearer nonsense", "Bearer lwt_" + "A" * 43,
                                    "Basic TW9yYWc6NDggd2lkZQ==", "bearer\tx", "Bearer \u00e9"])
def test_a_made_up_token_opens_nothing(shop: Shop, header: str) -> None:
    answer = shop.browser().get("/api/jobs", headers={"authorization": header.encode("latin-1")})
    assert answer.status_code == 401


def test_a_token_on_a_signed_in_browser_does_not_add_to_its_rights(shop: Shop) -> None:
    browser = shop.signed_in("Morag")
    browser.headers["authorization"] = shop.program("read").headers["authorization"]
    assert browser.get("/people").status_code == 403
    assert browser.post(f"/api{READINGS}", data=VOLTS).status_code == 403


# --- streams and backups -------------------------------------------------------------------------


def test_live_updates_need_a_person_and_end_with_the_session(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gate, "CHECK_AGAIN_S", 0.1)
    bench = Bench(depot_in(tmp_path), shared=True)
    access: Access = bench.app.state.access
    who = access.add("Rory", "apprentice", PIN, "")
    device, secret = access.add_device("tablet")
    session = access.sign_in(who.id, PIN, device.id)
    cookie = f"{DEVICE_COOKIE}={secret}; {SESSION_COOKIE}="
    try:
        for wrong in ("", cookie + "made-up"):
            with stream(bench, wrong) as refused:
                assert refused.status == 401
        with stream(bench, cookie + session) as told:
            assert told.status == 200
            assert told.readline().startswith(b"retry")
            access.sign_out(session)
            start = time.monotonic()
            told.read()  # returns when the server has ended it
            assert time.monotonic() - start < 5  # a beat is 15 s; the check is each 0.1 s
    finally:
        bench.stop()


@contextlib.contextmanager
def stream(bench: Bench, cookie: str) -> Iterator[http.client.HTTPResponse]:
    connection = http.client.HTTPConnection("127.0.0.1", bench.port, timeout=20)
    connection.request("GET", f"/jobs/{TRUCK_7}/events", headers={"cookie": cookie})
    with contextlib.closing(connection), connection.getresponse() as answer:
        yield answer


def test_a_restored_backup_brings_no_session_device_or_token_to_life(
    shop: Shop, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("elsewhere")
    browser, program = shop.signed_in("Morag"), shop.program("write")
    assert backup(folder / "all.zip", shop.folder).jobs
    restore(folder / "all.zip", folder / "data")
    again = Access(folder / "data")
    assert not again.signed_in(browser.cookies[SESSION_COOKIE]).known
    assert again.device(browser.cookies[DEVICE_COOKIE]) == 0
    assert again.tokens() == ()
    assert "backup" in again.changes()[0].what
    assert again.sign_in(again.named("Morag").id, PIN)  # the people and their PINs are there
    again.close()
    assert shop.access.signed_in(browser.cookies[SESSION_COOKIE]).known
    assert program.get("/api/jobs").status_code == 200


def test_no_page_of_the_door_tells_who_has_which_role_before_pairing(shop: Shop) -> None:
    for address in ("/pair", "/sign-in", "/set-up", "/who", "/nothing"):
        page = shop.browser().get(address)
        assert not re.search("Morag|Ailsa|Rory|Skerry", page.text), address
