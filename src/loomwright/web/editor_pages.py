"""The circuit editor: its page, and what it asks while somebody types."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel
from starlette.responses import Response

from loomwright.errors import UsageError
from loomwright.service.circuit_editor import (
    Checked,
    Draft,
    check_draft,
    colour_names,
    kind_names,
    pasted_wires,
    sheet_from,
)
from loomwright.service.circuit_editor_sheet import COLUMNS
from loomwright.service.circuit_versions import change_circuit
from loomwright.service.templates import fill_template, list_templates, one_template
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import Sent, number_in, sent_form
from loomwright.web.rendering import new_key
from loomwright.web.shared import page, see, workshop_of

__all__ = ["VALUE", "grouped_templates", "router", "template_values"]

router = APIRouter()
FormSent = Annotated[Sent, Depends(sent_form)]
VALUE = "value:"  # in front of the name of a template's parameter
HEADINGS: Mapping[str, tuple[str, ...]] = {
    "wires": ("Wire", "From", "To", "mm²", "m", "Colour"),
    "parts": ("Part", "Kind", "Values", "Place", "Label"),
    "states": ("State", "Set", "Should be", "Minutes"),
    "places": ("Place", "Minutes to reach"),
    "sequences": ("Sequence", "Steps"),
}
LISTS = {("wires", "from"): "points", ("wires", "to"): "points", ("wires", "colour"): "colours",
         ("parts", "kind"): "kinds", ("parts", "place"): "known-places"}


class Asked(BaseModel):
    """A draft as the editor sends it."""

    base: str
    head: dict[str, str] = {}
    tables: dict[str, list[list[str]]] | None = None
    state: str = ""
    typing: int = -1


class Pasted(BaseModel):
    """Text from the clipboard."""

    text: str


def grouped_templates() -> dict[str, list[Any]]:
    """Return the templates by group."""
    groups: dict[str, list[Any]] = {}
    for one in list_templates():
        groups.setdefault(one.group, []).append(one)
    return groups


def template_values(fields: Mapping[str, str]) -> dict[str, str]:
    """Return the values of a template that a form sent; empty ones keep their default."""
    return {name.removeprefix(VALUE): value for name, value in fields.items()
            if name.startswith(VALUE) and value.strip()}


@router.get("/editor", include_in_schema=False)
def editor(request: Request, template: str = "", job: int | None = None) -> Response:
    """Show the editor: empty, with a template's circuit, or with that of a job."""
    query = dict(request.query_params)
    if job is not None:
        return _show(request, workshop_of(request).circuit_text(job), job=job)
    if not template:
        return _show(request, "")
    try:
        text = fill_template(template, template_values(query)).text
    except UsageError as error:
        return _show(request, "", fields=query, refusal=refusal_of(error))
    return _show(request, text, fields=query, fresh=True)


@router.post("/editor", include_in_schema=False)
def check_page(request: Request, sent: FormSent) -> Response:
    """Show the editor with what was typed or uploaded, its problems and its drawing."""
    return _show(request, sent.get("circuit_file") or sent.get("circuit_text"),
                 job=number_in(sent.get("job")), fields=sent.fields, fresh=True)


def _show(request: Request, text: str, *, job: int | None = None,
          fields: Mapping[str, str] | None = None, refusal: Refusal | None = None,
          fresh: bool = False) -> Response:
    fields = fields or {}
    name = fields.get("template", "")
    chosen = None
    try:
        checked: Checked | None = check_draft(Draft(text)) if text.strip() else None
        chosen = one_template(name) if name else None
    except UsageError as error:
        checked, refusal = None, refusal or refusal_of(error)
    return page(
        request, "editor.html", refusal.status if refusal else 200, text=text, job=job,
        checked=checked, fields=fields, refusal=refusal, fresh=fresh, chosen=chosen,
        groups=grouped_templates(), headings=HEADINGS, columns=COLUMNS, lists=LISTS,
        kinds=kind_names(), colours=colour_names(), key=new_key())


@router.post("/jobs/{job_id}/circuit", include_in_schema=False)
def save_version(request: Request, job_id: int, sent: FormSent) -> Response:
    """Keep what was typed as the latest version of a job's circuit; problems come back with it."""
    text = sent.get("circuit_text")
    try:
        change_circuit(workshop_of(request), job_id, (text, sent.get("why")), sent.key, sent.who)
    except UsageError as error:
        return _show(request, text, job=job_id, fields=sent.fields, refusal=refusal_of(error),
                     fresh=True)
    return see(f"/jobs/{job_id}")


@router.post("/editor/file", include_in_schema=False)
def download(sent: FormSent) -> Response:
    """Return the circuit as a file, as it stands; it need not be finished."""
    text = sent.get("circuit_text")
    title = re.search(r"^title:\s*(.+)$", text, re.MULTILINE)
    name = re.sub(r"[^a-z0-9]+", "_", title[1].lower()).strip("_")[:40] if title else ""
    return Response(text, media_type="application/yaml", headers={
        "content-disposition": f'attachment; filename="{name or "circuit"}.yaml"'})


@router.post("/api/editor/check")
def check(asked: Asked) -> dict[str, Any]:
    """Return what the program makes of a draft: its text, problems, drawing, what is missing."""
    sheet = None if asked.tables is None else sheet_from(asked.head, asked.tables)
    found = check_draft(Draft(asked.base, sheet, asked.state, asked.typing))
    return dataclasses.asdict(found)


@router.post("/api/editor/paste")
def paste(pasted: Pasted) -> dict[str, Any]:
    """Return the rows of a pasted wire list; `rows` is null where it has no header."""
    return {"rows": pasted_wires(pasted.text)}
