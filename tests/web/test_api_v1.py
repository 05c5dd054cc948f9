"""/api/v1: its description is valid, and every documented route answers as it says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from jsonschema import Draft202012Validator

from loomwright.service.roles import SCOPES
from loomwright.web.permits import PERMITS
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in
from tests.web.depot_client import TestClient, client_in
from tests.web.shared_shop import Shop, routes_of

SHEET = "https://spec.openapis.org/oas/3.1/dialect/base"
DRIVER = {"state": "locking", "quantity": "voltage", "at": "S4.1", "value": "25.1 V"}


class Caller:
    """A client that checks each answer against the description, and notes what it called."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.described: dict[str, Any] = client.get("/api/openapi.json").json()
        self.called: set[tuple[str, str, int]] = set()

    def __call__(self, method: str, path: str, **words: Any) -> httpx.Response:
        answer = self.client.request(method, f"/api/v1{path}", **words)
        template, answers = self._answers(method, f"/api/v1{path.split('?')[0]}")
        self.called.add((method, template, answer.status_code))
        assert str(answer.status_code) in answers, f"{answer.status_code} is not documented"
        content = answers[str(answer.status_code)]["content"]
        kind = answer.headers["content-type"].split(";")[0]
        assert kind in content
        if kind == "application/json":
            self.fits(content[kind]["schema"], answer.json())
        return answer

    def _answers(self, method: str, path: str) -> tuple[str, dict[str, Any]]:
        found = [(len(one), one) for one in self.described["paths"]
                 if re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", one), path)]
        template = max(found)[1]
        return template, self.described["paths"][template][method.lower()]["responses"]

    def fits(self, schema: dict[str, Any], value: Any) -> None:
        """Check a value against a schema of the description."""
        whole = {**schema, "components": self.described["components"]}
        Draft202012Validator(whole).validate(value)


@pytest.fixture
def api(tmp_path: Path) -> Iterator[Caller]:
    with client_in(tmp_path) as client:
        yield Caller(client)


def refused(answer: httpx.Response, status: int, code: str) -> dict[str, Any]:
    assert (answer.status_code, answer.json()["error"]["code"]) == (status, code)
    return dict(answer.json()["error"])


# --- the description -----------------------------------------------------------------------------


def test_the_description_is_openapi_3_1(api: Caller) -> None:
    found = api.described
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
            assert PERMITS[method.upper(), path] in SCOPES[one["x-scope"]]
            given = {part["name"] for part in one.get("parameters", ()) if part["in"] == "path"}
            assert given == set(re.findall(r"\{(\w+)\}", path))
            for status, answer in one["responses"].items():
                if not status.startswith("2"):
                    schema = answer["content"]["application/json"]["schema"]
                    assert schema == {"$ref": "#/components/schemas/ErrorAnswer"}
    assert len(names) == len(set(names)) == 14


def test_the_page_describes_every_operation_without_outside_scripts(api: Caller) -> None:
    page = api.client.get("/api")
    assert page.status_code == 200
    for path, methods in api.described["paths"].items():
        assert f'<code class="path">{path}</code>' in page.text
        assert all(one["summary"] in page.text for one in methods.values())
    assert re.findall(r'(?:src|href)="(?!/|#)[^"]*"', page.text) == []
    for status in ("400", "401", "403", "404", "409", "413", "422"):
        assert f"<code>{status}</code>" in page.text


# --- every route ---------------------------------------------------------------------------------


def test_every_documented_route_answers_and_refuses_as_documented(api: Caller) -> None:
    text = opened_job(api)
    read_and_undone(api)
    looked_at(api, text)
    repaired_and_finished(api)
    routes = {(method, path) for method, path in routes_of(api.client.app)  # type: ignore[arg-type]
              if path.startswith("/api/v1/")}
    assert {one[:2] for one in api.called if one[2] < 300} == routes
    assert {one[:2] for one in api.called if one[2] >= 400} == routes
    documented = {(method.upper(), path) for path, methods in api.described["paths"].items()
                  for method in methods}
    assert documented == routes


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
