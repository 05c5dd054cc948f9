"""Every route has its decision, and each decision holds: at the door, by role, by scope."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import argon2
import pytest
from fastapi import Depends

from loomwright.service import pins
from loomwright.service.roles import ROLES, SCOPES, Permission
from loomwright.web.gate import ASSETS
from loomwright.web.permits import ANYBODY, DOOR, MEMBER, PERMITS, decide
from loomwright.web.rendering import FOLDER
from tests.web.shared_shop import ROLE_OF, Shop, filled, routes_of

pytestmark = pytest.mark.usefixtures("quick_pins")
# Nobody may pass these to a person: neither the page nor what it holds.
REFUSED = {303, 401, 403}
# What an apprentice must not do, whatever the table of permits becomes.
NOT_BY_APPRENTICES = (
    ("POST", "/jobs"), ("POST", "/jobs/{job_id}/repair"), ("POST", "/jobs/{job_id}/repair/begin"),
    ("POST", "/jobs/{job_id}/reopen"), ("POST", "/jobs/{job_id}/finish"), ("GET", "/people"),
    ("POST", "/people"), ("POST", "/people/{person_id}/role"),
    ("POST", "/people/{person_id}/pin"), ("POST", "/people/tokens"), ("POST", "/share"))


@pytest.fixture(scope="module")
def quick_module() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        quick = argon2.PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        patch.setattr(pins, "_hasher", lambda: quick)
        yield


@pytest.fixture(scope="module")
def shop(quick_module: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    found = Shop(tmp_path_factory.mktemp("shop"))
    yield found
    found.close()


def test_every_route_has_its_decision_and_every_decision_its_route(shop: Shop) -> None:
    routes = set(routes_of(shop.app))
    assert len(routes) > 60
    assert routes - set(PERMITS) == set(), "give these a decision in web/permits.py"
    assert set(PERMITS) - routes == set(), "these decisions are about no route"


def test_only_known_words_decide(shop: Shop) -> None:
    words = {one for one in PERMITS.values() if isinstance(one, str)}
    assert words == {ANYBODY, DOOR, MEMBER}
    assert {path for (_, path), one in PERMITS.items() if one == ANYBODY} == {"/pair"}


def test_without_pairing_nothing_but_the_door_and_its_looks_answers(shop: Shop) -> None:
    stranger = shop.browser()
    leaking = []
    for method, path in routes_of(shop.app):
        answer = stranger.request(method, filled(path), data={"key": "k"})
        if answer.status_code not in REFUSED and path != "/pair":
            leaking.append((method, path, answer.status_code))
        if answer.status_code == 303:
            leaking += [] if answer.headers["location"] == "/pair" else [(method, path, 303)]
    assert leaking == []
    assert stranger.get("/pair").status_code == 200


def test_a_paired_device_without_a_person_reaches_the_door_only(shop: Shop) -> None:
    device = shop.paired()
    open_to = {path for (_, path), one in PERMITS.items() if one in (ANYBODY, DOOR)}
    leaking = [(method, path) for method, path in routes_of(shop.app)
               if path not in open_to and device.request(
                   method, filled(path), data={"key": "k"}).status_code not in {401, 403}]
    assert leaking == []


def test_before_pairing_the_only_files_are_those_of_the_door(shop: Shop) -> None:
    stranger = shop.browser()
    given = {f"/static/{one.name}" for one in (FOLDER / "static").iterdir()
             if stranger.get(f"/static/{one.name}").status_code == 200}
    assert given == ASSETS
    assert stranger.get("/static/").status_code == 401


@pytest.mark.parametrize("name", ROLE_OF)
def test_no_role_does_more_than_its_permissions(shop: Shop, name: str) -> None:
    browser, role = shop.signed_in(name), ROLE_OF[name]
    passed = [(method, path) for method, path in routes_of(shop.app)
              if isinstance(PERMITS[method, path], Permission)
              and PERMITS[method, path] not in ROLES[role]
              and browser.request(method, filled(path), data={"key": "k"}).status_code != 403]
    assert passed == []


@pytest.mark.parametrize("name", ROLE_OF)
def test_every_role_looks_at_everything_that_all_may_see(shop: Shop, name: str) -> None:
    browser = shop.signed_in(name)
    shut = []
    for (method, path), decision in PERMITS.items():
        if method == "GET" and decision == Permission.LOOK and "/events" not in path:
            status = browser.get(filled(path)).status_code
            shut += [(path, status)] if status in {401, 403, 500} else []
    assert shut == []


@pytest.mark.parametrize(("method", "path"), NOT_BY_APPRENTICES)
def test_what_an_apprentice_never_does(shop: Shop, method: str, path: str) -> None:
    answer = shop.signed_in("Rory").request(method, filled(path), data={"key": "k"})
    assert answer.status_code == 403
    assert "An apprentice may not" in answer.text


def test_settings_are_a_foremans_to_type(shop: Shop) -> None:
    field = re.compile(r'<input name="(?:name|phone|tax_percent)"[^>]*>')
    for name, role in ROLE_OF.items():
        found = field.findall(shop.signed_in(name).get("/settings").text)
        assert len(found) == 3
        assert all(("readonly" in one) is (role != "foreman") for one in found), name


@pytest.mark.parametrize("scope", SCOPES)
def test_a_token_opens_what_its_scope_says_below_api_only(shop: Shop, scope: str) -> None:
    program = shop.program(scope)
    passed = []
    for (method, path), decision in PERMITS.items():
        below = path.startswith("/api/")
        if below and isinstance(decision, Permission) and decision in SCOPES[scope]:
            continue
        if program.request(method, filled(path), data={"key": "k"}).status_code != 403:
            passed.append((method, path))
    assert passed == []


def test_a_route_without_a_decision_is_refused_to_everybody_who_signs_in(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.app.get("/forgotten", dependencies=[Depends(decide)])(lambda: "secret")
    answer = shop.signed_in("Morag").get("/forgotten")
    assert answer.status_code == 403
    assert "secret" not in answer.text
    shop.close()
