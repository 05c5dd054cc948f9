"""A caller of /api/v1 that checks every answer against the description."""

from __future__ import annotations

import re
from typing import Any

import httpx
from jsonschema import Draft202012Validator

from tests.web.depot_client import TestClient

__all__ = ["DRIVER", "Caller", "refused"]

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
        found = [(one.count("{"), one) for one in self.described["paths"]
                 if re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", one), path)]
        template = min(found)[1]
        return template, self.described["paths"][template][method.lower()]["responses"]

    def fits(self, schema: dict[str, Any], value: Any) -> None:
        """Check a value against a schema of the description."""
        whole = {**schema, "components": self.described["components"]}
        Draft202012Validator(whole).validate(value)


def refused(answer: httpx.Response, status: int, code: str) -> dict[str, Any]:
    assert (answer.status_code, answer.json()["error"]["code"]) == (status, code)
    return dict(answer.json()["error"])
