"""The description of /api/v1: OpenAPI 3.1 for programs, and the same as a page for people."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.openapi.utils import get_openapi
from starlette.responses import JSONResponse, Response

from loomwright.service.roles import SCOPES
from loomwright.web import api_v1
from loomwright.web.api_v1_shared import REFUSALS
from loomwright.web.permits import PERMITS
from loomwright.web.shared import page

__all__ = ["described", "operations", "router"]

router = APIRouter(include_in_schema=False)
METHODS = ("get", "post", "put", "patch", "delete")
ABOUT = """The bench book of a workshop for programs: its jobs, circuits, readings, suspects,
repairs and records.

On a workshop's network each request carries a token, `Authorization: Bearer lwt_...`; a foreman
makes one on the page of people, or `loomwright token create` does. A token of scope `read` looks,
one of scope `write` does a technician's work, one of scope `office` also the paper side: limits,
offers, their answers and prices. None manages people, practises or signs off; those operations are
a person's, signed in on a paired device. A program that listens to its own machine only (without
`--share`) asks for no token.

Every refusal has one shape, `ErrorAnswer`. Whatever adds something carries a `key` of the program's
own choice: the same key again counts once."""


def described(request: Request) -> dict[str, Any]:
    """Return the OpenAPI description; made once per application."""
    kept: dict[str, Any] | None = getattr(request.app.state, "described", None)
    if kept is None:
        kept = request.app.state.described = _made()
    return kept


def _made() -> dict[str, Any]:
    found: dict[str, Any] = get_openapi(
        title="Loomwright", version="1", summary="Fault finding of vehicle circuits",
        description=ABOUT, routes=api_v1.router.routes, openapi_version="3.1.0")
    found["components"]["securitySchemes"] = {
        "token": {"type": "http", "scheme": "bearer", "description": "A token of the workshop."}}
    for schema in found["components"]["schemas"].values():
        schema.setdefault("description", "The fields of a form, multipart/form-data.")
    for path, methods in found["paths"].items():
        for method, operation in methods.items():
            operation["operationId"] = _short(operation["operationId"], path, method)
            operation["security"] = [{"token": []}]
            operation["x-scope"] = _scope(method, path)
    return found


def _short(long: str, path: str, method: str) -> str:
    """Return the name of the function alone: 'list_jobs', not 'list_jobs_api_v1_jobs_get'."""
    tail = "".join(one if one.isalnum() else "_" for one in f"{path}_{method}")
    return long.removesuffix(tail)


def _scope(method: str, path: str) -> str:
    """Return the least scope of a token that may do it; '' where no token may."""
    decision = PERMITS[method.upper(), path]
    return next((scope for scope, held in SCOPES.items() if decision in held), "")


@router.get("/api/openapi.json")
def openapi(request: Request) -> Response:
    """Return the OpenAPI description."""
    return JSONResponse(described(request))


@router.get("/api")
def documentation(request: Request) -> Response:
    """Show the description as a page."""
    found = described(request)
    groups: dict[str, list[dict[str, Any]]] = {}
    for one in operations(found):
        groups.setdefault(one["tag"], []).append(one)
    base = request.app.state.settings.address or str(request.base_url)
    return page(request, "api.html", groups=groups, about=found["info"]["description"],
                base=base.rstrip("/"), refusals=REFUSALS, shapes=_shapes(found),
                error=_fields(found, {"$ref": "#/components/schemas/ErrorBody"}))


def operations(found: dict[str, Any]) -> list[dict[str, Any]]:
    """Return every operation of a description with what a page shows of it."""
    return [_operation(found, path, method, methods[method])
            for path, methods in found["paths"].items() for method in METHODS if method in methods]


def _operation(found: dict[str, Any], path: str, method: str, one: dict[str, Any]
               ) -> dict[str, Any]:
    bodies = one.get("requestBody", {}).get("content", {})
    form, sent = next(((kind, body["schema"]) for kind, body in bodies.items()), ("", None))
    good = next(answer for code, answer in one["responses"].items() if code.startswith("2"))
    kind, answer = next(iter(good["content"].items()))
    given = answer.get("schema")
    return {
        "path": path, "method": method.upper(), "id": one["operationId"], "tag": one["tags"][0],
        "summary": one["summary"], "description": one["description"], "scope": one["x-scope"],
        "parameters": [_field(found, part["name"], part["schema"] | {
            "description": part.get("description", "")}, part.get("required", False))
            for part in one.get("parameters", ())],
        "sent": _fields(found, sent) if sent else [],
        "given": _fields(found, given) if given else [],
        "given_type": _type(found, given) if given else kind, "form": form,
    }


def _shapes(found: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the shapes that stand inside others, by name."""
    schemas = found["components"]["schemas"]
    inside = {name for name in schemas if name != "ErrorBody" and any(
        f"schemas/{name}'" in str(one) for one in schemas.values())}
    return [{"name": name, "text": schemas[name]["description"],
             "fields": _fields(found, schemas[name])} for name in sorted(inside)]


def _fields(found: dict[str, Any], schema: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the fields of an object, or of the objects in a list."""
    whole = _whole(found, schema.get("items", schema))
    needed = set(whole.get("required", ()))
    return [_field(found, name, one, name in needed)
            for name, one in whole.get("properties", {}).items()]


def _field(found: dict[str, Any], name: str, schema: dict[str, Any], needed: bool
           ) -> dict[str, Any]:
    return {"name": name, "type": _type(found, schema), "needed": needed,
            "text": schema.get("description", "")}


def _whole(found: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    name = schema.get("$ref", "").rsplit("/", 1)[-1]
    return found["components"]["schemas"][name] if name else schema


def _type(found: dict[str, Any], schema: dict[str, Any]) -> str:
    """Return a type in words: 'list of Suspect', 'number or null'."""
    if "$ref" in schema:
        return str(schema["$ref"].rsplit("/", 1)[-1])
    if "anyOf" in schema:
        return " or ".join(_type(found, one) for one in schema["anyOf"])
    if schema.get("type") == "array":
        return f"list of {_type(found, schema.get('items', {}))}"
    if schema.get("type") == "object" and "additionalProperties" in schema:
        return f"for each name: {_type(found, schema['additionalProperties'])}"
    plain = str(schema.get("type", "anything"))
    return {"string": "text", "integer": "whole number", "boolean": "true or false"}.get(
        plain, plain)
