"""/api/v1: versions of a job's circuit, drawings, why an output is off, templates."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request, Response

from loomwright.service.circuit_editor import Draft, check_draft
from loomwright.service.circuit_versions import (
    VersionView,
    change_circuit,
    one_version,
    return_to,
    versions_of,
)
from loomwright.service.job_view import shown_faults
from loomwright.service.records import Look
from loomwright.service.templates import fill_template, list_templates, one_template
from loomwright.web import api_v1_models as models
from loomwright.web import api_v1_more_models as shapes
from loomwright.web.api_v1_shared import JobId, Number, new_router
from loomwright.web.forms import who_is
from loomwright.web.shared import workshop_of

__all__ = ["router"]

router = new_router()
SVG = {"content": {"image/svg+xml": {}}, "description": "The drawing."}


@router.post("/jobs/{job_id}/circuit", status_code=201, tags=["Circuit"],
             summary="Correct the circuit of a job")
def correct_circuit(request: Request, job_id: JobId, sent: shapes.NewCircuit) -> models.Done:
    """Keep a later version of a job's circuit; what was read has to fit it."""
    number = change_circuit(workshop_of(request), job_id, (sent.text, sent.why), sent.key,
                            who_is(request))
    return models.Done(job=job_id, number=number)


@router.get("/jobs/{job_id}/circuit/versions", tags=["Circuit"],
            summary="Versions of a job's circuit")
def list_versions(request: Request, job_id: JobId) -> list[shapes.CircuitVersion]:
    """Return every version, oldest first: who, when, why, and how many lines differ."""
    return [shapes.CircuitVersion.model_validate(one)
            for one in versions_of(workshop_of(request), job_id)]


@router.get("/jobs/{job_id}/circuit/versions/{number}", tags=["Circuit"],
            summary="One version of a job's circuit")
def read_version(request: Request, job_id: JobId, number: Number) -> shapes.Version:
    """Return one version with its text and what changed by it, line by line."""
    found: VersionView = one_version(workshop_of(request), job_id, number)
    return shapes.Version(
        version=shapes.CircuitVersion.model_validate(found.version), text=found.text,
        changes=[shapes.DiffLine.model_validate(one) for one in found.lines],
        states=list(found.states))


@router.get("/jobs/{job_id}/circuit/versions/{number}/drawing.svg", tags=["Circuit"],
            summary="A version of the circuit as a drawing", response_class=Response,
            responses={200: SVG})
def draw_version(
    request: Request, job_id: JobId, number: Number,
    state: Annotated[str, Query(description="A state of it; its first where empty.")] = "",
) -> Response:
    """Return one version drawn as SVG, with the values of a state when healthy."""
    found = one_version(workshop_of(request), job_id, number, state, standalone=True)
    return _svg(found.drawing)


@router.post("/jobs/{job_id}/circuit/versions/{number}/return", status_code=201, tags=["Circuit"],
             summary="Return to an old version")
def return_version(request: Request, job_id: JobId, number: Number, sent: shapes.Returned
                   ) -> models.Done:
    """Make an old version the newest again, as one more version; nothing is overwritten."""
    made = return_to(workshop_of(request), job_id, number, sent.why, sent.key, who_is(request))
    return models.Done(job=job_id, number=made)


@router.get("/jobs/{job_id}/drawing.svg", tags=["Circuit"], summary="The circuit as a drawing",
            response_class=Response, responses={200: SVG})
def draw(
    request: Request, job_id: JobId,
    state: Annotated[str, Query(description="A state; where empty, the one being read in.")] = "",
    show: Annotated[str, Query(description="Whose values: `healthy`, or a suspect's id.")] = "",
) -> Response:
    """Return the circuit drawn as SVG, with the values of a state."""
    workshop = workshop_of(request)
    view = workshop.view(job_id, Look(state=state, show=show))
    chosen = next(one.id for one in view.states if one.chosen)
    faults = shown_faults(next(one.id for one in view.shows if one.chosen))
    return _svg(workshop.opened(job_id)[2].drawing(chosen, faults, standalone=True))


def _svg(text: str) -> Response:
    # What is in a circuit file is text only, but a browser that opens this runs nothing in it.
    return Response(text, media_type="image/svg+xml", headers={
        "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox"})


@router.get("/jobs/{job_id}/why", tags=["Circuit"], summary="Why an output is off")
def why(
    request: Request, job_id: JobId,
    state: Annotated[str, Query(description="A state of the circuit.")],
    output: Annotated[str, Query(description="A controller's output, `ECU.lock`.")],
    show: Annotated[str, Query(description="Whose values: `healthy`, or a suspect's id.")] = "",
) -> shapes.Why:
    """Return why a controller's output is off or on, and the way to follow."""
    view = workshop_of(request).why(job_id, state, output, show)
    return shapes.Why.model_validate(view, from_attributes=True)


@router.post("/circuits/check", tags=["Circuit"], summary="Check a circuit file")
def check_circuit(sent: shapes.CircuitText) -> shapes.CheckedCircuit:
    """Return every problem of a circuit file by line and column; nothing is kept."""
    found = check_draft(Draft(sent.text))
    return shapes.CheckedCircuit(
        good=bool(found.drawing) and not found.findings,
        problems=[models.ProblemInFile(line=one.line, column=one.column, what=one.what,
                                       fix=one.fix) for one in found.findings],
        states=list(found.states), points=list(found.points), note=found.drawing_note,
        notes=list(found.notes))


@router.get("/templates", tags=["Circuit"], summary="Circuits to begin with")
def templates() -> list[shapes.Template]:
    """Return the templates with the values that can be filled in."""
    return [shapes.Template(
        name=one.name, title=one.title, group=one.group, about=one.about, caution=one.caution,
        systems=list(one.systems),
        parameters=[shapes.TemplateParameter.model_validate(part)
                    for part in one.parameters.values()]) for one in list_templates()]


@router.post("/templates/{name}", tags=["Circuit"], summary="Fill in a template")
def fill(name: str, sent: shapes.TemplateValues) -> shapes.FilledTemplate:
    """Return a circuit file made from a template; nothing is kept."""
    one_template(name)
    found = fill_template(name, sent.values)
    return shapes.FilledTemplate(text=found.text, notes=list(found.notes))
