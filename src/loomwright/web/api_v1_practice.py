"""/api/v1: the practice bench. Tokens look only: practising and signing are done by people."""

from __future__ import annotations

import dataclasses
from typing import Annotated

from fastapi import Path, Query, Request

from loomwright.service.practice import Asked
from loomwright.service.practice_view import PracticeView
from loomwright.web import api_v1_more_models as shapes
from loomwright.web.api_v1_shared import new_router
from loomwright.web.forms import who_is
from loomwright.web.permits import actor_of
from loomwright.web.practice_pages import practice_of

__all__ = ["router"]

router = new_router("/practice")
ExerciseId = Annotated[str, Path(description="An exercise by its name, such as `horn-1-7`.",
                                 max_length=100)]
Who = Annotated[str, Query(description="A person's name; the asking one where empty.",
                           max_length=60)]


def _who(request: Request, given: str) -> str:
    """Return who practises: who is signed in, or at a machine's own screen who is named."""
    return given or who_is(request) if actor_of(request).kind == "host" else who_is(request)


def _exercise(view: PracticeView) -> shapes.Exercise:
    result = view.result
    return shapes.Exercise(
        id=view.id, title=view.title, level=view.level, who=view.who, attempt=view.attempt,
        complaint=list(view.complaint), states=[name for name, _ in view.states],
        names=list(view.names), repairs=[name for name, _ in view.repairs],
        readings=[shapes.PracticeReading.model_validate(one) for one in view.readings],
        minutes=view.minutes, over=view.over,
        result=None if result is None else shapes.PracticeResult.model_validate(result))


@router.get("", tags=["Practice"], summary="What can be practised")
def practice_choices(request: Request) -> shapes.PracticeChoices:
    """Return circuits and levels, and who has practised."""
    bench = practice_of(request)
    return shapes.PracticeChoices(
        circuits=[shapes.PracticeCircuit.model_validate(one) for one in bench.circuits()],
        levels=[shapes.PracticeLevel.model_validate(one) for one in bench.levels()],
        people=list(bench.people()))


@router.post("", status_code=201, tags=["Practice"], summary="Start an exercise")
def start_exercise(request: Request, sent: shapes.ExerciseStart) -> shapes.Exercise:
    """Hide a fault; the same circuit, level and seed hide the same one."""
    bench, who = practice_of(request), _who(request, sent.who)
    drawn: tuple[str, int, int | None]
    if sent.exercise:
        drawn = bench.drawn(sent.exercise)
    else:
        circuit = bench.add_circuit(sent.text) if sent.text.strip() else sent.circuit
        drawn = (circuit, sent.level, sent.seed)
    return _exercise(bench.view(bench.start(who, drawn, sent.key), who))


@router.get("/progress", tags=["Practice"], summary="What a person has practised")
def practice_progress(request: Request, who: Who = "") -> shapes.PracticeProgress:
    """Return the exercises that a person has ended, newest last."""
    found = practice_of(request).progress(who or who_is(request))
    return shapes.PracticeProgress(
        who=found.who, done=[shapes.PracticeDone.model_validate(one) for one in found.done])


@router.get("/sheet", tags=["Practice"], summary="A person's sign-off sheet")
def practice_sheet(request: Request, who: Who = "") -> shapes.PracticeSheet:
    """Return the tasks, the exercises that showed them, and who signed."""
    return _sheet(request, who or who_is(request))


def _sheet(request: Request, who: str) -> shapes.PracticeSheet:
    found = practice_of(request).sheet(who)
    return shapes.PracticeSheet(who=found.who, tasks=[
        shapes.PracticeTask(
            id=one.task.id, group=one.task.group, text=one.task.text, left=one.task.left,
            exercises=list(one.exercises), best_level=one.best_level,
            signed_by=one.signed.by if one.signed and one.signed.signed else "",
            signed_at=one.signed.at if one.signed and one.signed.signed else "")
        for one in found.lines])


@router.post("/sheet", tags=["Practice"], summary="Sign a task")
def sign_task(request: Request, sent: shapes.NewSignature) -> shapes.PracticeSheet:
    """Sign a task of somebody's sheet, or take a signature back with a reason."""
    practice_of(request).sign_off(sent.apprentice, sent.task, _who(request, sent.by),
                                  (sent.signed, sent.note), sent.key)
    return _sheet(request, sent.apprentice)


@router.get("/{exercise}", tags=["Practice"], summary="An exercise")
def read_exercise(request: Request, exercise: ExerciseId, who: Who = "") -> shapes.Exercise:
    """Return an exercise as it stands for a person."""
    return _exercise(practice_of(request).view(exercise, _who(request, who)))


@router.post("/{exercise}/readings", status_code=201, tags=["Practice"],
             summary="Read the hidden vehicle")
def practice_reading(request: Request, exercise: ExerciseId, sent: shapes.NewPrediction
                     ) -> shapes.Exercise:
    """Take a reading, after saying what it will show."""
    bench, who = practice_of(request), _who(request, sent.who)
    asked = Asked(**dataclasses.asdict(sent.form()) | {"predict": sent.predict})
    bench.measure(exercise, who, asked, sent.key)
    return _exercise(bench.view(exercise, who))


@router.post("/{exercise}/repair", status_code=201, tags=["Practice"], summary="Name the repair")
def practice_repair(request: Request, exercise: ExerciseId, sent: shapes.NamedRepair
                    ) -> shapes.Exercise:
    """End an exercise by naming the repair, or by giving up."""
    bench, who = practice_of(request), _who(request, sent.who)
    bench.name_repair(exercise, who, sent.repair, sent.key)
    return _exercise(bench.view(exercise, who))
