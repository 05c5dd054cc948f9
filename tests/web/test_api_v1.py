"""/api/v1: its description is valid, and every documented route answers as it says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from markupsafe import escape
from openapi_spec_validator import OpenAPIV31SpecValidator

from loomwright.service import quote
from loomwright.service.roles import SCOPES
from loomwright.web.permits import PERMITS
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in
from tests.web import api_more_scenes as more
from tests.web import api_office_scenes as office
from tests.web.api_caller import DRIVER, Caller, refused
from tests.web.api_scenes import looked_at, opened_job, read_and_undone, repaired_and_finished
from tests.web.depot_client import client_in
from tests.web.shared_shop import Shop, routes_of

SHEET = "https://spec.openapis.org/oas/3.1/dialect/base"
# Nothing can be wrong with these but the token, which tests/web/test_access_routes.py tries.
NEVER_WRONG = {("GET", "/api/v1/settings"), ("GET", "/api/v1/templates"),
               ("GET", "/api/v1/practice")}
PEOPLE_ONLY = {"start_exercise", "practice_reading", "practice_repair", "sign_task"}


@pytest.fixture
def api(tmp_path: Path) -> Iterator[Caller]:
    with client_in(tmp_path) as client:
        yield Caller(client)


# --- the description -----------------------------------------------------------------------------


def test_the_description_is_openapi_3_1(api: Caller) -> None:
    found = api.described
    OpenAPIV31SpecValidator(found).validate()  # the official meta-schema, and every reference
    assert found["openapi"] == "3.1.0"
    assert found.get("jsonSchemaDialect", SHEET) == SHEET
    assert {"title", "version", "description"} <= set(found["info"])
    for name, schema in found["components"]["schemas"].items():
        Draft202012Validator.check_schema(schema)
        assert schema["description"], name


def test_every_reference_of_the_description_leads_somewhere(api: Caller) -> None:
    schemas = api.described["components"]["schemas"]
    wanted = set(re.findall(r"'\$ref': '#/components/schemas/(\w+)'", str(api.described)))
    assert wanted == set(schemas) & wanted
    assert {"ErrorAnswer", "Job", "Suspects"} <= wanted
    assert "HTTPValidationError" not in schemas  # our refusals have one shape


def test_every_operation_is_described_and_named_once(api: Caller) -> None:
    names = []
    for path, methods in api.described["paths"].items():
        for method, one in methods.items():
            names.append(one["operationId"])
            assert one["summary"], path
            assert one["description"], path
            assert one["security"] == [{"token": []}]
            held = SCOPES.get(one["x-scope"], frozenset())
            assert PERMITS[method.upper(), path] in held or one["operationId"] in PEOPLE_ONLY
            given = {part["name"] for part in one.get("parameters", ()) if part["in"] == "path"}
            assert given == set(re.findall(r"\{(\w+)\}", path))
            for status, answer in one["responses"].items():
                if not status.startswith("2"):
                    schema = answer["content"]["application/json"]["schema"]
                    assert schema == {"$ref": "#/components/schemas/ErrorAnswer"}
    assert len(names) == len(set(names)) == 68


def test_the_page_describes_every_operation_without_outside_scripts(api: Caller) -> None:
    page = api.client.get("/api")
    assert page.status_code == 200
    for path, methods in api.described["paths"].items():
        assert f'<code class="path">{path}</code>' in page.text
        assert all(str(escape(one["summary"])) in page.text for one in methods.values())
    assert re.findall(r'(?:src|href)="(?!/|#)[^"]*"', page.text) == []
    for status in ("400", "401", "403", "404", "409", "413", "422"):
        assert f"<code>{status}</code>" in page.text


# --- every route ---------------------------------------------------------------------------------


def test_every_documented_route_answers_and_refuses_as_documented(
    api: Caller, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(quote, "SECONDS", 1.0)  # fewer episodes; the figures are tried elsewhere
    text = opened_job(api)
    read_and_undone(api)
    looked_at(api, text)
    for scene in (office.customer_changed, office.costed, office.offered, office.photographed,
                  more.helped, more.circuit_corrected, more.templates_filled):
        scene(api)
    repaired_and_finished(api)
    for scene in (office.handed_over, office.documents, office.set_up, more.practised):
        scene(api)
    routes = {(method, path) for method, path in routes_of(api.client.app)  # type: ignore[arg-type]
              if path.startswith("/api/v1/")}
    assert {one[:2] for one in api.called if one[2] < 300} == routes
    assert {one[:2] for one in api.called if one[2] >= 400} == routes - NEVER_WRONG
    documented = {(method.upper(), path) for path, methods in api.described["paths"].items()
                  for method in methods}
    assert documented == routes


def test_a_proof_that_holds_is_told(api: Caller) -> None:
    found = api("GET", f"/jobs/{TRUCK_4}/proof").json()
    assert found["holds"]
    assert {one["status"] for one in found["checks"]} == {"good"}


# --- tokens --------------------------------------------------------------------------------------


@pytest.mark.usefixtures("quick_pins")
def test_in_a_shared_workshop_a_program_needs_its_token(tmp_path: Path) -> None:
    shop = Shop(depot_in(tmp_path))
    address = f"/api/v1/jobs/{TRUCK_7}/readings"
    reader, writer = shop.program("read"), shop.program("write")
    stranger = shop.browser().get("/api/v1/jobs")
    assert stranger.headers["www-authenticate"] == "Bearer"
    refused(stranger, 401, "sign-in")
    assert reader.get("/api/v1/jobs").status_code == 200
    assert reader.get("/api/openapi.json").status_code == 200
    refused(reader.post(address, json={**DRIVER, "key": "program-x"}), 403, "not-allowed")
    made = writer.post(address, json={**DRIVER, "key": "program-x"})
    assert made.status_code == 201
    assert writer.get(address).json()[-1]["by"] == "stock (program)"
    refused(shop.signed_in("Rory").post("/api/v1/jobs", json={}), 403, "not-allowed")
    big = writer.post(address, content=b" " * 2_100_000, headers={
        "content-type": "application/json"})
    refused(big, 413, "too-large")
    shop.close()


@pytest.mark.usefixtures("quick_pins")
def test_offers_and_prices_need_the_scope_office_and_practice_a_person(tmp_path: Path) -> None:
    shop = Shop(depot_in(tmp_path))
    offers = f"/api/v1/jobs/{TRUCK_7}/offers"
    offer = {"form": "quote", "money": "180", "key": "program-quote"}
    refused(shop.program("write").post(offers, json=offer), 403, "not-allowed")
    clerk = shop.program("office")
    assert clerk.post(offers, json=offer).status_code == 201
    assert clerk.get(offers).json()["offers"][0]["by"] == "stock (program)"
    begin = {"circuit": "horn", "seed": 7, "who": "Morag", "key": "program-horn"}
    refused(clerk.post("/api/v1/practice", json=begin), 403, "not-allowed")
    made = shop.signed_in("Rory").post("/api/v1/practice", json=begin)
    assert made.json()["who"] == "Rory"  # nobody practises under another name
    foreman = shop.signed_in("Morag")
    assert foreman.post(offers, json={**offer, "key": "foreman-quote"}).status_code == 201
    shop.close()


def test_a_page_elsewhere_cannot_use_the_api_of_a_browser(api: Caller) -> None:
    address = f"/api/v1/jobs/{TRUCK_7}/readings"
    for headers in ({"origin": "http://evil.example"}, {"sec-fetch-site": "cross-site"}):
        assert api.client.post(address, json={**DRIVER, "key": "program-e"},
                               headers=headers).status_code == 403
    plain = api.client.post(address, content=b'{"key": "program-e"}', headers={
        "content-type": "text/plain"})  # what a form can send without asking first
    assert plain.status_code == 400
    answer = api.client.options(address, headers={"origin": "http://evil.example"})
    assert "access-control-allow-origin" not in answer.headers
